"""What is read from captures, against closed forms of known waveforms."""

from __future__ import annotations

import numpy as np
import pytest

from railwright.bench.capture import Array, Capture, CaptureError
from railwright.bench.waves import (
    falls_after,
    overshoot,
    ripple,
    spectrum,
    spikes,
    step_response,
)

RATE = 25e6
CLOCK = 150e3


def capture(volts: Array, rate: float = RATE, start: float = 0.0) -> Capture:
    return Capture(start, 1.0 / rate, {"OUT": volts})


def time(periods: float, rate: float = RATE) -> Array:
    return np.arange(int(periods * rate / CLOCK)) / rate


def triangle(t: Array, frequency: float, size: float) -> Array:
    """Peak to peak `size`."""
    phase = (t * frequency) % 1.0
    return size * (np.abs(2.0 * phase - 1.0) - 0.5)


def test_a_triangle_has_its_closed_form() -> None:
    # Of a triangle the harmonics are odd and fall with their square: effective pp / sqrt(12). Up to
    # 2 MHz are 13 of 150 kHz: all but pp 4/pi² sum over odd n > 13 of 1/n² = 2.9 % of its corners.
    found = ripple(capture(5.0 + triangle(time(300), CLOCK, 20e-3)), CLOCK * 1.03)
    assert found.frequency == pytest.approx(CLOCK, rel=1e-5)
    assert found.effective == pytest.approx(20e-3 / np.sqrt(12.0), rel=2e-3)
    missing = 8.0 / np.pi**2 * sum(1.0 / n**2 for n in range(15, 4001, 2))
    assert found.peak_to_peak == pytest.approx(20e-3 * (1.0 - missing), rel=2e-3)


def test_noise_is_not_ripple() -> None:
    rng = np.random.default_rng(1)
    t = time(2000)
    volts = 5.0 + triangle(t, CLOCK, 2e-3) + rng.normal(0.0, 5e-3, t.size)
    found = ripple(capture(volts), CLOCK)
    assert found.peak_to_peak == pytest.approx(2e-3, rel=0.1)
    assert found.noise == pytest.approx(5e-3, rel=0.02)
    assert np.ptp(volts) > 30e-3  # what the screen shows


def test_what_the_scope_finds_of_its_own_is_subtracted() -> None:
    t = time(400)
    own = triangle(t + 1e-6, CLOCK, 3e-3)
    apart = np.sin(2.0 * np.pi * CLOCK * t)
    joined = capture(own)
    found = ripple(capture(5e-3 * apart + np.roll(own, 37)), CLOCK, joined=joined)
    alone = ripple(capture(own), CLOCK, joined=joined)
    assert alone.peak_to_peak == pytest.approx(0.0, abs=1e-6)
    assert found.effective < ripple(capture(5e-3 * apart + np.roll(own, 37)), CLOCK).effective


def test_only_what_is_in_the_band_counts() -> None:
    t = time(300)
    volts = 1e-3 * np.sin(2.0 * np.pi * CLOCK * t) + 9e-3 * np.sin(2.0 * np.pi * 20 * CLOCK * t)
    found = ripple(capture(volts), CLOCK)
    assert found.peak_to_peak == pytest.approx(2e-3, rel=5e-3)
    assert spikes(capture(volts)) > 15e-3


def test_too_short_or_too_coarse_a_capture_is_refused() -> None:
    with pytest.raises(CaptureError, match=r"has 4\.0 periods"):
        ripple(capture(np.zeros(time(4).size)), CLOCK)
    with pytest.raises(CaptureError, match="samples a second"):
        ripple(capture(np.zeros(1000), rate=3.0 * CLOCK), CLOCK)


def test_the_spectrum_of_a_sine_is_one_line() -> None:
    t = time(300)
    frequencies, lines = spectrum(capture(2.0 + 10e-3 * np.sin(2.0 * np.pi * CLOCK * t)))
    top = int(np.argmax(lines))
    assert frequencies[top] == pytest.approx(CLOCK, rel=5e-3)
    assert lines[top] == pytest.approx(10e-3 / np.sqrt(2.0), rel=0.01)


def test_a_step_that_rings_settles_when_its_closed_form_does() -> None:
    # 0.3 V that die away with 100 µs and ring at 20 kHz: within 10 mV for good by
    # 100 µs ln(0.3 / 0.01) = 340 µs, no more than half a period earlier.
    rate, tau = 10e6, 100e-6
    t = np.arange(int(2e-3 * rate)) / rate - 0.2e-3
    after = np.where(t >= 0.0, -0.3 * np.exp(-np.maximum(t, 0.0) / tau), 0.0)
    volts = 12.0 - 0.05 * (t >= 0.0) + after * np.cos(2.0 * np.pi * 20e3 * t)
    found = step_response(capture(volts, rate, start=-0.2e-3), within=10e-3)
    assert found.before == pytest.approx(12.0, abs=1e-6)
    assert found.after == pytest.approx(11.95, abs=1e-5)
    assert found.deviation == pytest.approx(-0.3, rel=1e-3)
    assert 315e-6 < found.settled <= 341e-6


def test_a_step_without_its_beginning_is_refused() -> None:
    with pytest.raises(CaptureError, match="has to begin before the step"):
        step_response(capture(np.ones(1000)), within=1e-3)


def test_overshoot_and_the_time_of_a_trip() -> None:
    rate = 1e6
    t = np.arange(5000) / rate
    rises = 5.0 * (1.0 - np.exp(-t / 3e-4) * np.cos(2.0 * np.pi * 1e3 * t))
    # The peak of the closed form, found where its slope is nil.
    assert overshoot(capture(rises, rate)) == pytest.approx(rises.max() - 5.0, abs=1e-3)
    current = np.where(t < 1.5e-3, 1.4, 1.4 * np.exp(-(t - 1.5e-3) / 1e-4))
    # A tenth is reached ln(10) time constants after it was switched off.
    found = falls_after(capture(current, rate), below=0.14, at=1e-3)
    assert found == pytest.approx(0.5e-3 + np.log(10.0) * 1e-4, abs=2e-6)
    assert falls_after(capture(np.ones(100), rate), below=0.5) == float("inf")
