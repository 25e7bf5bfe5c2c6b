"""A battery the wrong way round: the transistor that blocks it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from railwright.architectures.architecture import Refusal, Unserved
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guards.in_the_way import drawn
from railwright.architectures.guards.reversed_blocked import ReversedBlocked
from railwright.architectures.low_dropout_linear import LowDropoutLinear
from railwright.architectures.step_up_down import StepUpDown
from railwright.circuit.circuit import Part
from tests.architectures.needs import EXAMPLES, held_at_quick, parts_of, plain, task_of, value
from tests.circuits import Board

FIELD_SET = (EXAMPLES / "field-set-twelve-volts.toml").read_text("utf-8")
LIGHTS = (EXAMPLES / "boat-lights-twelve-volts.toml").read_text("utf-8")
ROOMY = plain(
    {
        '"17 V", nominal = "18 V", max = "19 V"': '"17 V", nominal = "18 V", max = "20 V"',
        '"10 %"': '"8 %"',
        '"dc"': '"battery"',
    }
)


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch for what has no volt to lose, by ref."""
    return parts_of(LowDropoutLinear(), FIELD_SET)


def transistor(parts: dict[str, Part]) -> Part:
    (found,) = (p for p in parts.values() if p.kind == "field-effect-transistor")
    return found


def test_its_drain_is_on_the_battery_and_its_gate_on_the_return(parts: dict[str, Part]) -> None:
    """So the body diode starts the supply (any textbook); the other way round it would feed it."""
    switch, fuse = transistor(parts), parts["F1"]
    assert switch.options["channel"] == "p"
    assert switch.pins["drain"] == fuse.pins["two"]
    assert switch.pins["source"] == parts["U1"].pins["input"]
    beside = [p for p in parts.values() if switch.pins["gate"] in p.pins.values()]
    (resistor,) = (p for p in beside if p.kind == "resistor")
    assert set(resistor.pins.values()) == {switch.pins["gate"], "GND"}
    # Of 20 V of a gate NASA MIL-STD-975M leaves 60 %, and a tenth is reserve.
    (zener,) = (p for p in parts.values() if p.kind == "zener")
    assert zener.pins == {"anode": switch.pins["gate"], "cathode": switch.pins["source"]}
    assert value(zener, "zener_voltage", "high") <= 0.6 * 0.9 * 20.0


def test_it_drops_what_a_diode_would_not(parts: dict[str, Part]) -> None:
    """I Ron with the warm factor of the type; a Schottky diode takes 0.3 V at least."""
    switch = transistor(parts)
    lost = drawn(task_of(FIELD_SET)) * value(switch, "on_resistance", "high")
    lost *= value(switch, "warm_factor", "high")
    assert lost < 0.05
    left = 13.2 - 0.1 * 0.5 - lost - 12.0 * 1.03
    assert left < value(parts["U1"], "dropout", "high") + 0.3
    assert not [p for p in parts.values() if p.kind == "diode" and p.pins["anode"] in ("IN", "RAW")]


@pytest.mark.parametrize("volts", [13.6, -15.0])
def test_a_circuit_of_its_parts_carries_one_way_alone(parts: dict[str, Part], volts: float) -> None:
    switch = transistor(parts)
    zener = next(p for p in parts.values() if p.kind == "zener")
    ends = ("IN", "0") if volts > 0 else ("0", "IN")
    board = Board().source("V", ends[0], abs(volts), ends[1])
    pins = {"source": "RAW", "drain": "IN", "gate": "G"}
    board = board.use("M", switch.use, pins).use("Z", zener.use, {"anode": "G", "cathode": "RAW"})
    at = board.resistor("RG", "G", "0", 100e3).resistor("RL", "RAW", "0", 24.0).solve()
    fed = float(at.potential("RAW")[0])
    if volts > 0:
        assert 13.6 - 0.03 < fed < 13.6
    else:
        assert abs(fed) < 0.01


def test_a_diode_that_can_be_afforded_is_enough() -> None:
    kinds = {p.kind for p in parts_of(FixedLinear(), ROOMY).values()}
    assert "diode" in kinds
    assert "field-effect-transistor" not in kinds


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('"13.2 V", nominal = "13.6 V"', '"3.4 V", nominal = "3.6 V"', "its gate wants 3.6 V of"),
        ('max = "15 V"', 'max = "90 V"', "carries 649 mA of 90 V"),
    ],
    ids=["low", "high"],
)
def test_where_none_can_that_is_told(old: str, new: str, reason: str) -> None:
    assert old in FIELD_SET
    with pytest.raises(Unserved, match=reason):
        ReversedBlocked().inside(task_of(FIELD_SET.replace(old, new)))


def test_beside_a_crowbar_it_is_not_sized() -> None:
    task = task_of(FIELD_SET)
    offer = LowDropoutLinear().offer(task)
    assert not isinstance(offer, Refusal), offer.reason
    shorts = {"ref": "TH1", "kind": "thyristor", "pins": {"anode": "OUT", "cathode": "GND"}}
    with pytest.raises(Unserved, match="crowbar"):
        ReversedBlocked().around(task, replace(offer[0], parts=(*offer[0].parts, shorts)))


def test_candidates_hold_at_depth_quick() -> None:
    assert held_at_quick(LowDropoutLinear(), FIELD_SET) == []
    assert held_at_quick(StepUpDown(), LIGHTS) == []
