"""A transistor beside a regulator: how both share, by formulas of application notes."""

from __future__ import annotations

import math

import pytest

from railwright.architectures.architecture import Refusal
from railwright.architectures.outboard_linear import OutboardLinear
from railwright.circuit.circuit import Part
from tests.architectures.needs import held_at_quick, parts_of, plain, task_of, value

CURRENT = 2.3 * 1.1 + 0.025
LAMPS = plain(
    {
        '"17 V", nominal = "18 V", max = "19 V"': '"10.2 V", nominal = "10.3 V", max = "10.5 V"',
        '"100 mΩ"': '"50 mΩ"',
        '"12 V", max = "12 V"': '"5 V", max = "5 V"',
        '"0.3 A"': '"2.3 A"',
        '"40 °C"': '"25 °C"',
    }
)
"""More than any regulator of the catalogue may carry alone."""


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(OutboardLinear(), LAMPS)


def test_the_regulator_keeps_its_share(parts: dict[str, Part]) -> None:
    """R1 = beta Vbe / (Ireg (beta + 1) - Iout), solved for Ireg: (Vbe + I Rsc) / R1 + Iout / beta.

    Of the highest base voltage and the least gain, both as published for 3 A, at 25 °C.
    """
    passes = parts["Q1"]
    base = value(passes, "base_emitter_voltage", "high")
    gain = 1000.0  # 120 to 127 types at 3 A, datasheet
    ahead = base + CURRENT * value(parts["R1"], "resistance", "high")
    share = ahead / value(parts["R2"], "resistance", "low") + CURRENT / gain
    assert 0.045 <= share <= 0.06


def test_the_guard_leaves_it_alone_in_use_and_bounds_it_in_a_short(parts: dict[str, Part]) -> None:
    """Rsc = Vbe / Isc; 0.45 V turn no silicon transistor on to speak of at 70 °C."""
    shunt = value(parts["R1"], "resistance")
    assert CURRENT * shunt * 1.01 <= 0.45
    assert value(parts["Q2"], "base_emitter_voltage", "high") / shunt <= 7.0
    assert parts["Q2"].pins == {"emitter": "RAW", "base": "SENSED", "collector": "DRIVEN"}


def test_its_heat_comes_away(parts: dict[str, Part]) -> None:
    """JESD51-1 at upper limits: 125 °C of the policy, 10 K of reserve."""
    loss = CURRENT * (10.5 - 5.0 * 0.95)
    pad, sink = (value(parts[ref], "resistance", "high") for ref in ("P1", "H1"))
    to_case = value(parts["Q1"], "junction_to_case", "high")
    assert 25.0 + loss * (to_case + pad + sink) <= 115.0
    assert loss <= 0.5 * 0.9 * parts["Q1"].ratings["rated_power"]


def test_the_drop_leaves_the_regulator_enough(parts: dict[str, Part]) -> None:
    """2.5 V at 3 A and 4.4 mV/K down to 10 °C, the shunt, 1.5 V of dropout of the 1086 type."""
    cold = 2.0 * 2.2e-3 * 15.0
    ahead = 2.5 + cold + CURRENT * value(parts["R1"], "resistance", "high")
    assert 10.2 - ahead - 5.19 >= 1.35
    assert parts["U1"].pins["input"] == parts["Q1"].pins["base"] == "DRIVEN"
    assert parts["Q1"].pins["collector"] == parts["U1"].pins["output"] == "OUT"
    assert math.isclose(value(parts["R2"], "resistance"), 56.0)


def test_a_fixed_type_gets_a_bleeder() -> None:
    """One milliampere, whatever the load: what leaks past a fixed type finds no legs."""
    roomy = LAMPS.replace('"10.2 V", nominal = "10.3 V"', '"11.4 V", nominal = "11.6 V"')
    roomy = roomy.replace('"10.5 V"', '"12 V"').replace('"2.3 A"', '"1.4 A"')
    found = parts_of(OutboardLinear(), roomy.replace('"25 °C"', '"35 °C"'))
    assert found["U1"].kind == "fixed-regulator"
    (bleeder,) = [p for p in found.values() if "lets through" in p.why]
    assert 4.75 / value(bleeder, "resistance", "high") >= 0.98e-3


def test_what_a_fixed_type_takes_for_itself_leaves_the_transistor_off() -> None:
    """8 mA of a 78xx type at most (datasheet) across the resistor; silicon conducts a milliampere
    from half a volt on each junction, warm (any textbook)."""
    changes = {
        '"10.2 V", nominal = "10.3 V"': '"11.4 V", nominal = "11.6 V"',
        '"10.5 V"': '"11.8 V"',
    }
    warm = LAMPS
    for old, new in {**changes, '"2.3 A"': '"1 A"', '"25 °C"': '"50 °C"'}.items():
        assert old in warm
        warm = warm.replace(old, new)
    found = parts_of(OutboardLinear(), warm)
    assert found["U1"].kind == "fixed-regulator"
    junctions = 2 if found["Q1"].kind == "darlington-transistor" else 1
    assert 8e-3 * value(found["R2"], "resistance", "high") <= 0.55 * junctions
    assert held_at_quick(OutboardLinear(), warm) == []


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('"2.3 A"', '"0.3 A"', "a regulator alone carries 300 mA"),
        ('"2.3 A"', '"8 A"', "too much for a 147 type: of its 10 A 6.75 A"),
        ('"10.2 V"', '"8 V"', "it needs"),
        ('max = "10.5 V"', 'max = "14 V"', "127 type beside it: its loss of"),
    ],
    ids=["little", "much", "low", "hot"],
)
def test_what_binds_is_told_with_numbers(old: str, new: str, reason: str) -> None:
    assert old in LAMPS
    found = OutboardLinear().offer(task_of(LAMPS.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_a_candidate_holds_at_depth_quick() -> None:
    assert held_at_quick(OutboardLinear(), LAMPS) == []
