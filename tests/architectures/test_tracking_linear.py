"""A step-down that follows an adjustable output: the difference by its formula, its loop, heat."""

from __future__ import annotations

import pytest

from railwright.architectures.architecture import Refusal
from railwright.architectures.sizing.step_down_loop import Compensation, Filter, phase_margin
from railwright.architectures.tracking_linear import TrackingLinear
from railwright.circuit.circuit import Part
from tests.architectures.needs import held_at_quick, parts_of, plain, task_of, value

KNOB = plain(
    {
        '"17 V", nominal = "18 V", max = "19 V"': '"23 V", nominal = "24 V", max = "25 V"',
        '"12 V", max = "12 V"': '"3.3 V", max = "12 V"',
        '"0.3 A"': '"1 A"',
        '"10 %"': '"5 %"\nripple = "10 mV"',
    }
)


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(TrackingLinear(), KNOB)


def differences(parts: dict[str, Part]) -> tuple[float, float]:
    """Veb + Vfb R1/R2 at its limits: 0.45 to 0.78 V of a small transistor from 10 to 55 °C."""
    ratio = value(parts["R1"], "resistance") / value(parts["R2"], "resistance")
    return 0.45 + 1.18 * ratio * 0.98, 0.78 + 1.28 * ratio * 1.02 * 1.01


def test_the_difference_feeds_the_regulator_and_no_more_than_it_sheds(
    parts: dict[str, Part],
) -> None:
    """317 type: 2.3 V at 1 A, cold, and the wanted reserve of a tenth; the chain of JESD51-1."""
    least, most = differences(parts)
    assert least - 0.5 * 0.03 * (3.3 + least) >= 2.3 * 1.1
    pad, sink = (value(parts[ref], "resistance", "high") for ref in ("P1", "H2"))
    loss = most * (1.0 + 1.3 / 99.0)
    assert 40.0 + loss * (value(parts["U2"], "junction_to_case", "high") + pad + sink) <= 90.0


def test_the_coil_holds_its_ripple_at_the_worst_setting(parts: dict[str, Part]) -> None:
    """(Vin - V) V / (Vin f L), greatest where V comes nearest to half the input."""
    coil = value(parts["L1"], "inductance", "low")
    volts = min(12.0 + differences(parts)[1], 12.5)
    ripple = (25.0 - volts) * volts / (25.0 * 110e3 * coil)
    assert ripple <= 0.4 * 1.05
    least = 3.3 + differences(parts)[0]
    assert ripple * value(parts["C3"], "esr", "high") <= 0.9 * 0.03 * least


def test_the_loop_stands_the_gain_of_the_level_shift(parts: dict[str, Part]) -> None:
    """R2/R1 instead of Vfb/V: the loop of the textbook has that much more gain at every setting."""
    share = value(parts["R2"], "resistance") / value(parts["R1"], "resistance")
    assert share > 3.0 * 1.23 / 15.0
    amplifier = Compensation(500.0, 80.0, 2e3)
    for volts in (3.3, 12.0):
        stage = Filter(
            value(parts["L1"], "inductance"),
            value(parts["L1"], "winding_resistance"),
            value(parts["C3"], "capacitance"),
            value(parts["C3"], "esr"),
            volts + sum(differences(parts)) / 2.0,
        )
        assert phase_margin(amplifier, 24.0, share, stage) >= 44.0


def test_a_cycle_leaves_less_than_it_was_given_of_a_disturbance(parts: dict[str, Part]) -> None:
    """Peak current with a ramp of f/k beside it, k the duty per ampere through the ESR: less than
    one in magnitude of (m2 - f/k) / (m1 + f/k) (Erickson and Maksimovic, chapter 12)."""
    share = value(parts["R2"], "resistance") / value(parts["R1"], "resistance")
    k = 500.0 * 80.0 / 2e3 * share * value(parts["C3"], "esr", "high")
    volts, coil = 12.0 + differences(parts)[1], value(parts["L1"], "inductance", "low")
    falls, rises = (volts + 0.5) / coil, (23.0 - 1.5 - volts) / coil
    assert abs(falls - 110e3 / k) / (rises + 110e3 / k) < 0.9


def test_how_it_is_joined(parts: dict[str, Part]) -> None:
    """As a pnp level shift of the trade: emitter over R1 at the net between, base at the output."""
    pins = parts["Q1"].pins
    assert pins == {"emitter": "SHIFT", "base": "OUT", "collector": "SWITCHER_FB"}
    assert parts["R1"].pins == {"one": "PRE", "two": "SHIFT"}
    assert parts["R2"].pins == {"one": "SWITCHER_FB", "two": "GND"}
    assert parts["U2"].pins["input"] == "PRE"
    assert parts["U1"].pins["feedback"] == "SWITCHER_FB"
    assert parts["Q1"].ratings["collector_emitter_voltage"] * 0.75 * 0.9 >= 25.0


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('"3.3 V", max = "12 V"', '"12 V", max = "12 V"', "nothing is there to follow"),
        ('max = "25 V"', 'max = "33 V"', "no small pnp transistor of the catalogue stands 33 V"),
        ('"23 V"', '"13 V"', "of the time"),
        ('ripple = "10 mV"', 'never_above = "20 V"', "shorted pass element"),
    ],
    ids=["fixed", "high", "low", "never above"],
)
def test_what_binds_is_told_with_numbers(old: str, new: str, reason: str) -> None:
    assert old in KNOB
    found = TrackingLinear().offer(task_of(KNOB.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_a_candidate_holds_at_depth_quick() -> None:
    assert held_at_quick(TrackingLinear(), KNOB) == []
