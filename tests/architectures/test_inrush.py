"""Sources that give up after a time in their limit: what is put in the way, and why not else."""

from __future__ import annotations

import math

import pytest

from railwright.architectures.architecture import Refusal, Unserved
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guards.inrush import Inrush, charge, needed
from railwright.architectures.guards.inrush_limiter import InrushLimiter
from railwright.architectures.guards.inrush_resistor import InrushResistor
from railwright.architectures.guards.inrush_thermistor import InrushThermistor
from railwright.architectures.sizing.thermistors import cold, hottest, warmed
from railwright.catalogue.loader import load
from railwright.circuit.circuit import Part
from tests.architectures.needs import EXAMPLES, held_at_quick, parts_of, plain, task_of, value
from tests.circuits import Board

BUS = (EXAMPLES / "lamp-bus-twelve-volts.toml").read_text("utf-8")
"""A light load with much capacitance, on a brick that gives up after 15 ms at 2 A."""
AIR = 313.15
SHORT_OF_VOLTS = {
    '"0.1 A"': '"0.3 A"',
    '"24 V", nominal = "25 V", max = "26 V"': '"17.5 V", nominal = "18 V", max = "18.5 V"',
    '"15 ms"': '"8 ms"',
}


def need(carry: str = "", changes: dict[str, str] | None = None) -> str:
    """The same, with a limit of its own where what it carries is told."""
    text = BUS
    for old, new in (changes or {}).items():
        assert old in text
        text = text.replace(old, new)
    if carry:
        band = f'[need.output.overload]\nstyle = "constant-current"\n{carry}\n\n'
        text = text.replace("[need.surroundings]", f"{band}[need.surroundings]")
    return text


def in_the_way(parts: dict[str, Part]) -> list[Part]:
    """What stands behind the fuse."""
    (fuse,) = (p for p in parts.values() if p.kind == "fuse")
    return [p for p in parts.values() if p is not fuse and fuse.pins["two"] in p.pins.values()]


def test_little_wants_nothing() -> None:
    few = need(changes={'"1500 µF"': '"100 µF"'})
    kinds = {p.kind for p in parts_of(FixedLinear(), few).values()}
    assert not kinds & {"ntc-thermistor", "wirewound-resistor"}


def test_a_thermistor_is_chosen_for_being_hot() -> None:
    """V - I R across the capacitors where the source leaves its limit, C (V - I R) = (I - Iload) t.

    R of the hottest one at full load, 40 °C, by going on until it stays; B 5 %, R25 20 % off.
    """
    parts = parts_of(FixedLinear(), BUS)
    (found,) = in_the_way(parts)
    assert found.kind == "ntc-thermistor"
    farads = 1500e-6 + sum(
        value(p, "capacitance", "high") for p in parts.values() if p.kind == "capacitor"
    )
    least, beta = value(found, "resistance", "low"), value(found, "beta", "high")
    temperature = AIR
    for _ in range(200):
        ohms = least * math.exp(beta * (1.0 / temperature - 1.0 / 298.15))
        warmer = AIR + value(found, "junction_to_ambient", "high") * 0.125**2 * ohms
        temperature = 0.5 * (temperature + warmer)
    left = farads * (26.0 - 2.0 * (ohms + 0.1))
    assert left <= 0.9 * (2.0 - 0.125) * 15e-3
    assert farads * 26.0 > 2.0 * 15e-3
    # Cold, the supply still comes up: 7812 types want up to 2.5 V across them.
    most = value(found, "resistance", "high") * math.exp(
        value(found, "beta", "low") * (1.0 / 293.15 - 1.0 / 298.15)
    )
    assert 24.0 - 0.11 * most - 12.6 > 2.5


def test_on_a_weak_source_a_resistor_does() -> None:
    """It bears what the source gives at most, I² R, and nothing about it changes with warmth."""
    weak = {'"0.1 A"': '"50 mA"', 'current = "2 A"': 'current = "0.5 A"', '"15 ms"': '"90 ms"'}
    parts = parts_of(FixedLinear(), need(changes=weak))
    (found,) = in_the_way(parts)
    assert found.kind == "wirewound-resistor"
    ohms = value(found, "resistance", "low")
    farads = 1500e-6 + sum(
        value(p, "capacitance", "high") for p in parts.values() if p.kind == "capacitor"
    )
    assert farads * (26.0 - 0.5 * (ohms + 0.1)) <= 0.9 * (0.5 - 0.075) * 90e-3
    assert 0.5**2 * value(found, "resistance", "high") <= 0.6 * 0.9 * found.ratings["rated_power"]


def test_where_nothing_may_stay_in_the_way_the_current_is_limited() -> None:
    """Below what the source gives, so that the source is never in its limit."""
    parts = parts_of(FixedLinear(), need(changes=SHORT_OF_VOLTS))
    (switch,) = (p for p in parts.values() if p.kind == "field-effect-transistor")
    sense = next(p for p in parts.values() if p.pins.get("two") == switch.pins["source"])
    assert (0.715 + 0.06) / value(sense, "resistance", "low") <= 0.9 * 2.0
    assert parts["U1"].pins["input"] == switch.pins["drain"]


def test_a_rail_that_limits_its_current_wants_nothing() -> None:
    limited = need('carry = "0.1 A"\nact_by = "0.3 A"')
    kinds = {p.kind for p in parts_of(FixedLinear(), limited).values()}
    assert not kinds & {"ntc-thermistor", "wirewound-resistor"}


def test_what_binds_is_told_for_each_way() -> None:
    much = task_of(need(changes={'"1500 µF"': '"10 mF"'}))
    offer = FixedLinear().offer(much)
    assert not isinstance(offer, Refusal)
    with pytest.raises(Unserved, match="hang on the input; within the 15 ms"):
        Inrush().around(much, offer[0])
    with pytest.raises(Unserved, match="at the 2 A of an overload; no wirewound resistor"):
        InrushResistor().inside(much)
    with pytest.raises(Unserved, match="switched on again while it is hot, 11"):
        InrushThermistor().inside(much)
    trips = need('carry = "0.1 A"\nact_by = "0.3 A"').replace('"constant-current"', '"trip"')
    with pytest.raises(Unserved, match="guarded against overloads by other means"):
        InrushLimiter().inside(task_of(trips))


def test_a_charge_within_one_attempt_needs_no_resistance() -> None:
    task = task_of(BUS)
    assert charge(task) == pytest.approx(0.9 * (2.0 - 0.125) * 15e-3)
    assert needed(task, charge(task) / 26.0) == pytest.approx(-0.1)
    assert not Inrush().wanted(task_of(plain({})))


@pytest.mark.parametrize("current", [0.1, 0.5, 2.0])
def test_a_warm_thermistor_is_that_of_its_circuit(current: float) -> None:
    """The engine's own equations, solved with the part in the catalogue's typical values."""
    entry = load()["NTC inrush 10 Ω 3 A"]
    resistance, beta, to_air = (
        entry.values[name].spread.typical for name in ("resistance", "beta", "junction_to_ambient")
    )
    board = Board().source("V", "A", 60.0).load("I", "B", current)
    at = board.use("N", "NTC inrush 10 Ω 3 A", {"one": "A", "two": "B"}).solve()
    temperature, ohms = warmed(resistance, beta, to_air, current, 298.15)
    assert at.of("N", "junction")[0] == pytest.approx(temperature, rel=1e-3)
    assert at.of("N", "resistance")[0] == pytest.approx(ohms, rel=5e-3)
    assert hottest(entry, current, 298.15)[1] < ohms < cold(resistance, beta, 298.15)


@pytest.mark.parametrize("changes", [{}, SHORT_OF_VOLTS], ids=["thermistor", "limiter"])
def test_a_candidate_holds_at_depth_quick(changes: dict[str, str]) -> None:
    assert held_at_quick(FixedLinear(), need(changes=changes)) == []
