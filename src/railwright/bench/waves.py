"""What is read from a capture, as the predictions define it.

Ripple: the switching frequency and its harmonics within a band, peak to peak and effective; what
does not repeat with that frequency is noise, and left out. Of a measurement with probe and clip
joined the same is taken and subtracted, harmonic by harmonic, as powers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.bench.capture import Array, Capture, CaptureError

BAND = 2e6
"""Hz up to which ripple counts (`need.output.ripple`)."""
LEAST_PERIODS = 8
"""Of the switching frequency in a capture."""
LEAST_SAMPLES = 4
"""In a period."""
PHASES = 1024
"""Of a period in which its shape is told."""
AROUND = 0.2
"""Share of a frequency by which the one that is looked for may be off."""
ENDS = 0.05
"""Share of a capture at either end that tells where it comes from and where it rests."""


@dataclass(frozen=True)
class Ripple:
    """What repeats with a frequency, within a band."""

    frequency: float
    """[Hz]"""
    peak_to_peak: float
    effective: float
    """[V]"""
    noise: float
    """Effective value of all else in the band that was sampled [V]."""


@dataclass(frozen=True)
class Step:
    """What a step of the load, of the input or of a control does to an output."""

    before: float
    after: float
    """Where it rested, and where it rests [V]."""
    deviation: float
    """The farthest from where it ends [V], with its sign."""
    settled: float
    """From the step until it stays within the band [s]; infinite where it does not."""


def ripple(
    capture: Capture,
    about: float,
    *,
    channel: str = "",
    band: float = BAND,
    joined: Capture | None = None,
) -> Ripple:
    """The ripple of a channel with a frequency of about so many hertz.

    joined: a capture with probe and clip joined, whose own ripple is subtracted. CaptureError where
    a capture is too short or too coarse for that.
    """
    volts = capture.channel(channel)
    _fits(capture, about)
    frequency = _found(volts - volts.mean(), capture.step, about)
    harmonics = _harmonics(volts, capture.step, frequency, band)
    if joined is not None:
        _fits(joined, about)
        own = _harmonics(joined.channel(channel), joined.step, frequency, band)
        harmonics = _less(harmonics, own)
    shape = _shape(harmonics)
    power = float(np.sum(np.abs(harmonics) ** 2) / 2.0)
    rest = max(float(np.var(volts)) - power, 0.0)
    return Ripple(frequency, float(np.ptp(shape)), float(np.sqrt(power)), float(np.sqrt(rest)))


def _fits(capture: Capture, about: float) -> None:
    lasts = capture.step * capture.count * about
    if lasts < LEAST_PERIODS:
        raise CaptureError(
            f"the capture has {lasts:.1f} periods of {about:g} Hz; {LEAST_PERIODS} are wanted. "
            "Take a longer one."
        )
    if capture.rate < LEAST_SAMPLES * about:
        raise CaptureError(
            f"the capture has {capture.rate:g} samples a second, fewer than {LEAST_SAMPLES} in a "
            f"period of {about:g} Hz. Take one with more."
        )


def _found(volts: Array, step: float, about: float) -> float:
    """The frequency near one at which most repeats: the top of a parabola through the spectrum."""
    window = np.hanning(volts.size)
    spectrum = np.abs(np.fft.rfft(volts * window))
    frequencies = np.fft.rfftfreq(volts.size, step)
    near = np.flatnonzero(np.abs(frequencies - about) <= AROUND * about)
    near = near[(near > 0) & (near < spectrum.size - 1)]
    if not near.size:
        return about
    top = int(near[np.argmax(spectrum[near])])
    if not spectrum[top]:
        return about
    low, middle, high = np.log(np.maximum(spectrum[top - 1 : top + 2], 1e-300))
    bend = low - 2.0 * middle + high
    off = 0.5 * (low - high) / bend if bend < 0 else 0.0
    found = (top + float(np.clip(off, -0.5, 0.5))) * (frequencies[1] - frequencies[0])
    return _sharpened(volts, step, found)


def _sharpened(volts: Array, step: float, frequency: float) -> float:
    """By how far the phase turns from one half of a capture to the other."""
    half = volts.size // 2
    window = np.hanning(half)
    time = step * np.arange(half)
    turning = np.exp(-2j * np.pi * frequency * time) * window
    first, second = (np.sum(part * turning) for part in (volts[:half], volts[half : 2 * half]))
    expected = np.exp(2j * np.pi * frequency * step * half)
    turned = np.angle(second / first / expected) if first != 0 else 0.0
    return frequency + float(turned) / (2.0 * np.pi * step * half)


def _harmonics(volts: Array, step: float, frequency: float, band: float) -> NDArray[np.complex128]:
    """Complex amplitudes of the harmonics within a band, by least squares over whole periods."""
    periods = int(np.floor(volts.size * step * frequency))
    count = round(periods / (step * frequency))
    part = volts[:count] - volts[:count].mean()
    most = int(min(band, 0.5 / step) // frequency)
    turns = np.exp(-2j * np.pi * frequency * step * np.arange(count))
    found = np.empty(most, complex)
    power = np.ones(count, complex)
    for index in range(most):
        power = power * turns
        found[index] = 2.0 / count * np.dot(part, power)
    return found


def _less(harmonics: NDArray[np.complex128], own: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Harmonics without the power that a scope finds of its own."""
    size = np.abs(harmonics)
    left = np.sqrt(np.maximum(size**2 - np.abs(own[: size.size]) ** 2, 0.0))
    found: NDArray[np.complex128] = harmonics * np.divide(
        left, size, out=np.zeros_like(size), where=size > 0
    )
    return found


def _shape(harmonics: NDArray[np.complex128]) -> Array:
    """One period of what harmonics make together."""
    phases = np.arange(PHASES) / PHASES
    order = np.arange(1, harmonics.size + 1)
    turning = np.exp(2j * np.pi * np.outer(order, phases))
    return np.real(harmonics @ turning)


def spikes(capture: Capture, channel: str = "") -> float:
    """Peak to peak of everything that was captured, edges included [V].

    A scope limited to 20 MHz has to have taken it.
    """
    return float(np.ptp(capture.channel(channel)))


def spectrum(capture: Capture, channel: str = "") -> tuple[Array, Array]:
    """Frequencies [Hz], and the effective value in each line [V]."""
    volts = capture.channel(channel)
    window = np.hanning(volts.size)
    lines = np.fft.rfft((volts - volts.mean()) * window) / np.sum(window)
    frequencies = np.fft.rfftfreq(volts.size, capture.step)
    return np.asarray(frequencies, float), np.asarray(np.abs(lines) * np.sqrt(2.0), float)


def step_response(capture: Capture, within: float, *, channel: str = "", at: float = 0.0) -> Step:
    """What an output does when something steps at a time [s].

    within: of its final value, where it counts as settled [V]. CaptureError where the capture does
    not begin before the step, or ends at once after it.
    """
    volts, time = capture.channel(channel), capture.time
    begun = time >= at - 0.5 * capture.step
    before, after = volts[~begun], volts[begun]
    if before.size < LEAST_SAMPLES or after.size < 1.0 / ENDS:
        raise CaptureError(
            f"the capture runs from {time[0]:g} s to {time[-1]:g} s: it has to begin before the "
            f"step at {at:g} s and to go on after it. Move the trigger."
        )
    end = float(np.mean(after[-max(1, int(ENDS * after.size)) :]))
    away = after - end
    farthest = float(away[np.argmax(np.abs(away))])
    outside = np.flatnonzero(np.abs(away) > within)
    if not outside.size:
        settled = 0.0
    elif outside[-1] == after.size - 1:
        settled = float("inf")
    else:
        settled = float(capture.step * (outside[-1] + 1))
    return Step(float(np.mean(before)), end, farthest, settled)


def overshoot(capture: Capture, channel: str = "") -> float:
    """How far an output that comes up goes above where it comes to rest [V]."""
    volts = capture.channel(channel)
    end = float(np.mean(volts[-max(1, int(ENDS * volts.size)) :]))
    return max(0.0, float(volts.max()) - end)


def falls_after(capture: Capture, below: float, *, channel: str = "", at: float = 0.0) -> float:
    """From a time [s] until a channel stays below a value [s]; infinite where it does not."""
    values, time = capture.channel(channel), capture.time
    later = np.flatnonzero(time >= at)
    high = np.flatnonzero(values[later] >= below)
    if not high.size:
        return 0.0
    if high[-1] == later.size - 1:
        return float("inf")
    return float(time[later[high[-1] + 1]] - at)
