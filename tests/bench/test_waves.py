"""What is read from captures, against closed forms of known waveforms."""

from __future__ import annotations

import numpy as np
import pytest

from railwright.bench.capture import Array, Capture, CaptureError
from railwright.bench.waves import (
    falls_after,
    noise,
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
    # From where it was before: 0.3 V and the 0.05 V by which it ends lower.
    assert found.deviation == pytest.approx(-0.35, rel=1e-3)
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


def test_hundreds_of_harmonics_of_the_mains() -> None:
    # Twice 50 Hz behind a rectifier, a saw tooth: effective pp / sqrt(12), pp but for its corners.
    rate = 1e6
    t = np.arange(int(0.5 * rate)) / rate
    saw = 2.0 * ((t * 100.0) % 1.0)
    found = ripple(capture(20.0 - saw, rate), 98.0)
    assert found.frequency == pytest.approx(100.0, rel=1e-5)
    assert found.effective == pytest.approx(2.0 / np.sqrt(12.0), rel=2e-3)
    assert found.peak_to_peak == pytest.approx(2.0, rel=0.2)  # Gibbs: 9 % at either edge
    assert found.peak_to_peak > 2.0


@pytest.mark.parametrize("periods", [40.3, 300.0, 9000.7])
def test_harmonics_are_those_of_scipy(periods: float) -> None:
    from scipy.optimize import lsq_linear

    t = time(periods)
    volts = triangle(t, CLOCK, 20e-3) + 2e-3 * np.sin(2.0 * np.pi * 3.0 * CLOCK * t + 1.0)
    order = 2.0 * np.pi * CLOCK * np.outer(t[:20_000], np.arange(1, 14))
    columns = np.hstack([np.cos(order), np.sin(order), np.ones((order.shape[0], 1))])
    fitted = lsq_linear(columns, volts[:20_000]).x[:-1]
    assert ripple(capture(volts), CLOCK).effective == pytest.approx(
        np.sqrt(np.sum(fitted**2) / 2.0), rel=2e-3
    )


def test_noise_counts_within_its_band() -> None:
    from scipy.signal import welch

    rate, sigma = 1e6, 1e-3
    rng = np.random.default_rng(3)
    white = sigma * rng.standard_normal(int(0.5 * rate))
    hum = 4e-3 * np.sin(2.0 * np.pi * 200e3 * np.arange(white.size) / rate)
    found = noise(capture(5.0 + white + hum, rate))
    # White noise has its power evenly up to half the rate.
    assert found == pytest.approx(sigma * np.sqrt((100e3 - 10.0) / (0.5 * rate)), rel=0.02)
    frequencies, density = welch(white + hum, rate, nperseg=2**15)
    inside = (frequencies >= 10.0) & (frequencies <= 100e3)
    reference = np.sqrt(np.sum(density[inside]) * (frequencies[1] - frequencies[0]))
    assert found == pytest.approx(reference, rel=0.02)
    own = 0.6 * sigma * rng.standard_normal(white.size)
    both = noise(capture(white + own, rate), joined=capture(own, rate))
    assert both == pytest.approx(noise(capture(white, rate)), rel=0.02)
    with pytest.raises(CaptureError, match="Take a longer or a finer one"):
        noise(capture(white[:1000], rate))


def test_spikes_lose_what_the_scope_has_of_its_own() -> None:
    t = time(1000)
    rng = np.random.default_rng(4)
    edges = np.where((t * CLOCK) % 1.0 < 0.01, 50e-3, 0.0)
    own, other = (2e-3 * rng.standard_normal(t.size) for _ in range(2))
    seen = capture(edges + own)
    found = spikes(seen, joined=capture(other))
    assert 50e-3 <= found < spikes(seen)
    assert spikes(capture(own), joined=capture(other)) < 0.5 * spikes(capture(own))


def test_noise_of_the_scope_does_not_keep_a_step_from_settling() -> None:
    rate, tau = 10e6, 100e-6
    rng = np.random.default_rng(5)
    t = np.arange(int(2.2e-3 * rate)) / rate - 0.2e-3
    clean = 12.0 - np.where(t >= 0.0, 0.3 * np.exp(-np.maximum(t, 0.0) / tau), 0.0)
    own = 4e-3 * rng.standard_normal((2, t.size))
    seen, joined = capture(clean + own[0], rate, -0.2e-3), capture(own[1], rate)
    assert step_response(seen, within=10e-3).settled > 1.9e-3  # noise peaks are 16 mV
    found = step_response(seen, within=10e-3, joined=joined)
    # ln(0.3 / 0.01) time constants, later by no more than what is averaged.
    assert found.settled == pytest.approx(np.log(30.0) * tau, rel=0.05)
    assert found.deviation == pytest.approx(-0.3, rel=0.03)


def test_a_trip_is_timed_below_the_noise_of_the_scope() -> None:
    rate = 1e6
    rng = np.random.default_rng(6)
    t = np.arange(5000) / rate
    current = np.where(t < 1.5e-3, 1.4, 0.0) + 0.05 * rng.standard_normal(t.size)
    joined = capture(0.05 * rng.standard_normal(t.size), rate)
    assert falls_after(capture(current, rate), below=0.14, at=1e-3) > 1e-3
    found = falls_after(capture(current, rate), below=0.14, at=1e-3, joined=joined)
    assert found == pytest.approx(0.5e-3, abs=60e-6)


def test_overshoot_loses_the_noise_of_the_scope() -> None:
    rate = 1e6
    rng = np.random.default_rng(7)
    t = np.arange(5000) / rate
    rises = 5.0 * (1.0 - np.exp(-t / 3e-4) * np.cos(2.0 * np.pi * 1e3 * t))
    own = 20e-3 * rng.standard_normal((2, t.size))
    seen, joined = capture(rises + own[0], rate), capture(own[1], rate)
    true = overshoot(capture(rises, rate))
    assert abs(overshoot(seen, joined=joined) - true) < abs(overshoot(seen) - true)
    assert overshoot(seen, joined=joined) == pytest.approx(true, abs=60e-3)
