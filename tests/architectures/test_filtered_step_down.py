"""A second filter behind a step-down: its damping by the book, its ripple by harmonics."""

from __future__ import annotations

import math

import numpy as np
import pytest

from railwright.architectures.architecture import Refusal
from railwright.architectures.filtered_step_down import FilteredStepDown
from railwright.circuit.circuit import Part
from railwright.standards.filter_damping import (
    best_resistance,
    characteristic,
    least_peak,
    times_for,
)
from tests.architectures.needs import EXAMPLES, held_at_quick, parts_of, task_of

QUIET = (
    (EXAMPLES / "tracker-five-volts.toml").read_text(encoding="utf-8").replace('"60 mV"', '"5 mV"')
)


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(FilteredStepDown(), QUIET)


def test_the_damping_of_the_textbook() -> None:
    """330 µH and 470 µF to stay below 1 Ω: n = 2.5, 1200 µF, 0.67 Ω.

    Source: Erickson and Maksimovic, Fundamentals of Power Electronics, section 17.4.1.
    """
    rings = characteristic(330e-6, 470e-6)
    times = times_for(1.0 / rings)
    assert times == pytest.approx(2.5, rel=0.02)
    assert times * 470e-6 == pytest.approx(1200e-6, rel=0.02)
    assert rings * best_resistance(times) == pytest.approx(0.67, rel=0.02)
    assert rings * least_peak(times) == pytest.approx(1.0, rel=1e-6)


def test_the_best_resistance_is_the_best() -> None:
    """Against the impedance of the network itself, at 2000 frequencies, for 1/1000 more or less."""
    s = 1j * np.geomspace(0.05, 20.0, 2000)

    def peak(resistance: float) -> float:
        beside = 1.0 / (resistance + 1.0 / (4.0 * s))
        return float(np.abs(1.0 / (s + 1.0 / s + beside)).max())

    best = best_resistance(4.0)
    assert peak(best) == pytest.approx(least_peak(4.0), rel=1e-4)
    assert peak(best) < min(peak(0.9 * best), peak(1.1 * best))


def test_the_ripple_is_held_at_every_limit(parts: dict[str, Part]) -> None:
    """A triangle of 1 % of 5 V ahead, by harmonics; bias leaves the ceramic nine tenths."""
    clock = parts["U1"].values["frequency"].spread.low
    coil = 0.95 * parts["L2"].values["inductance"].spread.low
    quiet = 0.9 * 0.9 * parts["C4"].values["capacitance"].spread.low
    damper, esr = (parts["C5"].values[name].spread for name in ("capacitance", "esr"))
    series = parts["R3"].values["resistance"].spread.high if "R3" in parts else 0.0
    since, left = np.linspace(0.0, 1.0, 400), np.zeros(400)
    for n in range(1, 40, 2):
        s = 2j * math.pi * n * clock
        beside = s * quiet + 1.0 / (series + esr.high + 1.0 / (s * damper.low))
        passed = 1.0 / (1.0 + s * coil * beside)
        crest = 0.5 * 0.05 * 8.0 / (math.pi * n) ** 2
        left += crest * abs(passed) * np.cos(2.0 * math.pi * n * since + np.angle(passed))
    assert left.max() - left.min() <= 5e-3


def test_the_filter_is_damped_with_typical_parts(parts: dict[str, Part]) -> None:
    """Greatest impedance, swept, against twice what the formula has for the best resistance."""
    coil = parts["L2"].values["inductance"].spread.typical
    quiet = parts["C4"].values["capacitance"].spread.typical
    damper, esr = (parts["C5"].values[name].spread.typical for name in ("capacitance", "esr"))
    series = parts["R3"].values["resistance"].spread.typical if "R3" in parts else 0.0
    s = 2j * math.pi * np.geomspace(1e3, 1e6, 2000)
    beside = 1.0 / (esr + series + 1.0 / (s * damper))
    peak = np.abs(1.0 / (1.0 / (s * coil) + s * quiet + beside)).max()
    assert peak <= 2.0 * characteristic(coil, quiet) * least_peak(damper / quiet)


def test_the_loop_holds_the_net_ahead_of_the_filter(parts: dict[str, Part]) -> None:
    assert parts["L1"].pins["two"] == parts["L2"].pins["one"] == "AHEAD"
    assert parts["R1"].pins["one"] == "AHEAD"
    assert parts["L2"].pins["two"] == parts["C4"].pins["plus"] == "OUT"
    assert all(part.why for part in parts.values())


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('"5 mV"', '"60 mV"', "without a second filter is sized for 50 mV"),
        ('"5 mV"', '"1 µV"', "leaves"),
        ('ripple = "5 mV"', 'ripple = "5 mV"\nload_regulation = "2 mV"', "from least to full load"),
        (
            'ripple = "5 mV"',
            'ripple = "5 mV"\nload_step = { from = "0.1 A", to = "1.5 A", rise = "1 µs", '
            'deviation = "10 mV", settle = "1 ms" }',
            "a step of the load moves it",
        ),
    ],
    ids=["loud", "silent", "regulation", "step"],
)
def test_what_binds_is_told_with_numbers(old: str, new: str, reason: str) -> None:
    assert old in QUIET
    found = FilteredStepDown().offer(task_of(QUIET.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_a_candidate_holds_at_depth_quick() -> None:
    assert held_at_quick(FilteredStepDown(), QUIET) == []
