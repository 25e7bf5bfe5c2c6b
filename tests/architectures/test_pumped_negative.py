"""A rail of little current below the return of a direct source, made by a charge pump."""

from __future__ import annotations

import math

import pytest

from railwright.architectures.architecture import Architecture, Refusal
from railwright.architectures.pumped_negative import PumpedNegative
from railwright.architectures.pumped_negative_linear import PumpedNegativeLinear
from railwright.architectures.pumped_second_rail import PumpedSecondRail
from railwright.circuit.circuit import Part
from tests.architectures.needs import EXAMPLES, held_at_quick, parts_of, task_of, value

GAUGES = (EXAMPLES / "strain-gauge-minus-five.toml").read_text(encoding="utf-8")
LOGIC = """
title = "bias"

[need.input]
kind = "dc"
nets = { plus = "IN", minus = "GND" }
voltage = { min = "4.9 V", nominal = "5 V", max = "5.1 V" }
resistance = "100 mΩ"

[[need.output]]
name = "bias"
nets = { plus = "GND", minus = "BIAS" }
reference = "common with input"
voltage = { min = "5 V", max = "5 V" }
current = { min = "0 A", max = "3 mA" }
accuracy = "15 %"
ripple = "100 mV"

[[need.output.load]]
kind = "constant-current"

[need.surroundings]
ambient = { min = "10 °C", max = "40 °C" }
"""
REGULATED = (
    LOGIC.replace(
        '"4.9 V", nominal = "5 V", max = "5.1 V"', '"9 V", nominal = "9.2 V", max = "9.4 V"'
    )
    .replace('"15 %"', '"7 %"')
    .replace('ripple = "100 mV"', 'ripple = "5 mV"')
)
KINDS = {"alone": (PumpedNegative(), LOGIC), "with linear": (PumpedNegativeLinear(), REGULATED)}
every_kind = pytest.mark.parametrize(("kind", "need"), KINDS.values(), ids=KINDS)


def only(parts: dict[str, Part], kind: str) -> Part:
    (found,) = (part for part in parts.values() if part.kind == kind)
    return found


def on(parts: dict[str, Part], *nets: str) -> Part:
    """The electrolytic capacitor between two nets."""
    found = (
        part
        for part in parts.values()
        if part.options.get("dielectric") == "electrolytic" and set(part.pins.values()) == {*nets}
    )
    return next(found)


def resistance(parts: dict[str, Part]) -> tuple[float, float]:
    """Of the pump's output, at most, and how often its capacitor is moved at least [Ω, Hz].

    2 R + 1/(f C) + 4 ESR1 + ESR2 (datasheet of the 7660 type).
    """
    pump = only(parts, "charge-pump-inverter")
    flying = on(parts, pump.pins["cap_plus"], pump.pins["cap_minus"])
    held = on(parts, "GND", pump.pins["output"])
    pumps = 0.5 * value(pump, "frequency", "low")
    ohms = 2.0 * value(pump, "switch_resistance", "high") + value(held, "esr", "high")
    ohms += 1.0 / (pumps * value(flying, "capacitance", "low")) + 4.0 * value(flying, "esr", "high")
    return ohms, pumps


def test_the_pump_alone_stays_within_its_accuracy() -> None:
    """5.1 V without a load; 3 mA and the fuse, and half of its ripple, at 4.9 V."""
    parts = parts_of(PumpedNegative(), LOGIC)
    ohms, pumps = resistance(parts)
    held = on(parts, "GND", "BIAS")
    current = 3e-3 * 5.1 / 5.0
    ripple = current / (2.0 * pumps * value(held, "capacitance", "low"))
    ripple += 2.0 * current * value(held, "esr", "high")
    assert ripple <= 0.9 * 0.1
    fallen = 0.1 + current * (ohms + 0.1 + value(only(parts, "fuse"), "resistance", "high"))
    assert fallen + 0.5 * ripple <= 0.9 * 0.15 * 5.0
    assert only(parts, "charge-pump-inverter").pins["output"] == "BIAS"


def test_the_regulator_behind_the_pump_has_its_dropout() -> None:
    """1.7 V of the 79L type and its spread, a tenth of that on top, at the least input."""
    parts = parts_of(PumpedNegativeLinear(), REGULATED)
    regulator = only(parts, "negative-fixed-regulator")
    ohms, _ = resistance(parts)
    current = 3e-3 * 1.07 + value(regulator, "quiescent_current", "high")
    left = 9.0 - current * (ohms + 1.0) - 0.075 - value(regulator, "output_voltage", "high")
    assert left >= 1.1 * 1.7
    pump = only(parts, "charge-pump-inverter")
    assert current <= 0.8 * 0.9 * pump.ratings["rated_current"]
    assert 0.9 * pump.ratings["supply_maximum"] >= 9.4
    assert regulator.pins["input"] == pump.pins["output"]


def test_a_shorted_output_harms_neither_pump_nor_resistor() -> None:
    """V² / 4 R at most in the pump, where its resistance is R too (any textbook)."""
    parts = parts_of(PumpedSecondRail(), GAUGES)
    pump = only(parts, "charge-pump-inverter")
    (series,) = (part for part in parts.values() if part.pins.get("two") == pump.pins["input"])
    ohms = value(series, "resistance", "low")
    hot = 313.15 + 16.0**2 / (4.0 * ohms) * value(pump, "junction_to_ambient", "high")
    assert hot < pump.ratings["junction_limit"]
    behind = 2.0 * value(pump, "switch_resistance", "low")
    assert (16.0 / (ohms + behind)) ** 2 * ohms <= series.ratings["rated_power"]
    # 13.6 mA and what the pump takes itself; 79L05: 5.25 V, 1.7 V and its spread.
    left = 14.5 - 13.6e-3 * (resistance(parts)[0] + value(series, "resistance", "high")) - 0.1
    assert left - 5.25 >= 1.1 * 1.7


def test_where_no_voltage_is_spare_it_has_no_resistor() -> None:
    assert all(
        part.kind != "resistor" for part in parts_of(PumpedNegativeLinear(), REGULATED).values()
    )


@every_kind
def test_capacitors_bear_what_goes_to_and_fro(kind: Architecture, need: str) -> None:
    """Twice the load in the mean, and all of the input; the policy has no row, a fifth is spare."""
    parts = parts_of(kind, need)
    pump = only(parts, "charge-pump-inverter")
    flying = on(parts, pump.pins["cap_plus"], pump.pins["cap_minus"])
    assert 0.9 * value(flying, "rated_ripple") >= 2.0 * 3e-3
    assert 0.8 * flying.ratings["rated_voltage"] >= (5.1 if need is LOGIC else 9.4)


@every_kind
@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('max = "3 mA"', 'max = "30 mA"', "20 mA 14.4 mA may be used"),
        ('plus = "GND", minus = "BIAS"', 'plus = "BIAS", minus = "GND"', "does not lie below"),
        ('"common with input"', '"floating"', "has to be floating"),
        ('kind = "dc"', 'kind = "ac"\nfrequency = { min = "50 Hz", max = "50 Hz" }', "alternates"),
    ],
    ids=["current", "above", "floating", "mains"],
)
def test_what_binds_is_told(kind: Architecture, need: str, old: str, new: str, reason: str) -> None:
    assert old in need
    found = kind.offer(task_of(need.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('"15 %"', '"9 %"', "less than wanted"),
        ('max = "5.1 V"', 'max = "6 V"', "without a load it gives 6 V"),
        ('ripple = "100 mV"', 'line_regulation = "50 mV"', "of a change of the input"),
        ('ripple = "100 mV"', 'load_regulation = "50 mV"', "of a change of the load"),
        ('voltage = { min = "5 V"', 'voltage = { min = "2 V"', "is to be set"),
        ('ripple = "100 mV"', 'noise = "1 mV"', "out of that"),
    ],
    ids=["load", "input", "line", "regulation", "knob", "noise"],
)
def test_the_pump_alone_holds_nothing(old: str, new: str, reason: str) -> None:
    assert old in LOGIC
    found = PumpedNegative().offer(task_of(LOGIC.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_an_input_beyond_every_pump() -> None:
    wide = REGULATED.replace('max = "9.4 V"', 'max = "24 V"')
    found = PumpedNegativeLinear().offer(task_of(wide))
    assert isinstance(found, Refusal)
    assert "would see 24 V" in found.reason


def test_beside_a_rail_above_nothing_else_switches() -> None:
    parts = parts_of(PumpedSecondRail(), GAUGES)
    clocked = [part.kind for part in parts.values() if "tick" in part.device.holds]
    assert clocked == ["charge-pump-inverter"]
    assert only(parts, "negative-fixed-regulator").pins["output"] == "N5"
    assert math.isclose(value(only(parts, "negative-fixed-regulator"), "output_voltage"), 5.0)


@every_kind
def test_a_candidate_holds_at_depth_quick(kind: Architecture, need: str) -> None:
    assert held_at_quick(kind, need) == []


def test_two_rails_hold_at_depth_quick() -> None:
    assert held_at_quick(PumpedSecondRail(), GAUGES) == []
