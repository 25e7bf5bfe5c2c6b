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
NOISE_BAND = (10.0, 100e3)
"""Hz between which noise counts (`need.output.noise`)."""
WINDOW_BAND = 1.5
"""Lines over which the window spreads one (Hann; Harris, Proceedings of the IEEE 66, 1978)."""
LEAST_PERIODS = 8
"""Of the switching frequency in a capture."""
LEAST_SAMPLES = 4
"""In a period."""
PHASES = 1024
"""Of a period in which its shape is told."""
AROUND = 0.2
"""Share of a frequency by which the one that is looked for may be off."""
MANY, STRETCH = 200, 8192
"""Harmonics beyond which a mean period will do, and samples that are looked at together."""
SOUGHT = 2**20
"""Samples in which a frequency is sought; all of them sharpen it."""
ENDS = 0.05
"""Share of a capture at either end that tells where it comes from and where it rests."""


LIKELY, COUNTS, FEW = 5.0, 0.25, 50
"""Standard deviations that noise hardly ever exceeds, share of a band in which it may, and parts of
a capture in which no more is averaged."""


@dataclass(frozen=True)
class Ripple:
    """What repeats with a frequency, within a band."""

    frequency: float
    """[Hz]"""
    peak_to_peak: float
    effective: float
    """[V]"""
    noise: float
    """Effective value of all else that was sampled, less what the scope has of its own [V]."""


@dataclass(frozen=True)
class Step:
    """What a step of the load, of the input or of a control does to an output."""

    before: float
    after: float
    """Where it rested, and where it rests [V]."""
    deviation: float
    """The farthest from where it rested before [V], with its sign: as the proof counts it."""
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
    rest = float(np.var(volts)) - _power(harmonics)
    if joined is not None:
        _fits(joined, about)
        alone = joined.channel()
        own = _harmonics(alone, joined.step, frequency, band)
        rest -= float(np.var(alone)) - _power(own)
        harmonics = _less(harmonics, own)
    shape, power = _shape(harmonics), _power(harmonics)
    left = float(np.sqrt(max(rest, 0.0)))
    return Ripple(frequency, float(np.ptp(shape)), float(np.sqrt(power)), left)


def _power(harmonics: NDArray[np.complex128]) -> float:
    return float(np.sum(np.abs(harmonics) ** 2) / 2.0)


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
    some = volts[:SOUGHT]
    spectrum = np.abs(np.fft.rfft(some * np.hanning(some.size)))
    frequencies = np.fft.rfftfreq(some.size, step)
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
    return _sharpened(volts, step, _sharpened(some, step, found))


def _sharpened(volts: Array, step: float, frequency: float) -> float:
    """By how far the phase turns from one half of a capture to the other."""
    half = volts.size // 2
    window, turn = np.hanning(half), np.array([-2j * np.pi * frequency * step])
    first, second = (_turned(part * window, turn)[0] for part in np.split(volts[: 2 * half], 2))
    expected = np.exp(2j * np.pi * frequency * step * half)
    turned = np.angle(second / first / expected) if first != 0 else 0.0
    return frequency + float(turned) / (2.0 * np.pi * step * half)


def _harmonics(volts: Array, step: float, frequency: float, band: float) -> NDArray[np.complex128]:
    """Complex amplitudes of the harmonics within a band, by least squares over whole periods."""
    periods = int(np.floor(volts.size * step * frequency))
    count = round(periods / (step * frequency))
    most = int(min(band, 0.5 / step) // frequency)
    if most > MANY:
        return _of_mean_period(volts[:count], step, frequency, periods)[:most]
    turns = np.asarray(-2j * np.pi * frequency * step * np.arange(1, most + 1), complex)
    return 2.0 / count * _turned(volts[:count] - volts.mean(), turns)


def _turned(values: Array, turns: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Sums of values times exp(turn × place), for each turn.

    What one stretch turns by is the same in all of them, but for where it begins.
    """
    length = min(STRETCH, values.size)
    inside = np.exp(np.outer(np.arange(length), turns))
    whole = values.size // length * length
    stretches = values[:whole].reshape(-1, length)
    begins = np.exp(np.outer(np.arange(len(stretches)) * length, turns))
    found = np.sum((stretches @ inside.real + 1j * (stretches @ inside.imag)) * begins, axis=0)
    rest = values[whole:] @ np.exp(np.outer(np.arange(whole, values.size), turns))
    return np.asarray(found + rest, complex)


def _of_mean_period(
    volts: Array, step: float, frequency: float, periods: int
) -> NDArray[np.complex128]:
    """The same of many harmonics, which samples follow closely: of the mean of all periods."""
    size = int(2 ** np.ceil(np.log2(1.0 / (step * frequency))))
    at = np.arange(size) / size
    shape, samples = np.zeros(size), np.arange(volts.size)
    for period in range(periods):
        shape += np.interp((period + at) / (step * frequency), samples, volts)
    return np.asarray(np.fft.rfft(shape)[1:] * 2.0 / (size * periods), complex)


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
    phases = max(PHASES, 8 * harmonics.size)
    spectrum = np.zeros(phases // 2 + 1, complex)
    spectrum[1 : harmonics.size + 1] = harmonics
    return np.asarray(np.fft.irfft(spectrum, phases) * 0.5 * phases, float)


def spikes(capture: Capture, channel: str = "", joined: Capture | None = None) -> float:
    """Peak to peak of everything that was captured, edges included [V].

    A scope limited to 20 MHz has to have taken it. joined: with probe and clip joined, whose own
    is subtracted as powers are: of peaks that hardly ever meet that takes too little, never too
    much.
    """
    own = 0.0 if joined is None else float(np.ptp(joined.channel()))
    return _without(float(np.ptp(capture.channel(channel))), own)


def _without(value: float, own: float) -> float:
    """A value less what the scope shows by itself, as powers; with its sign."""
    return float(np.copysign(np.sqrt(max(value**2 - own**2, 0.0)), value))


def noise(
    capture: Capture,
    channel: str = "",
    joined: Capture | None = None,
    band: tuple[float, float] = NOISE_BAND,
) -> float:
    """Effective value of all that is within a band, `need.output.noise` [V].

    joined: with probe and clip joined, whose own is subtracted. CaptureError where the capture is
    too short or too coarse for that band.
    """
    own = 0.0 if joined is None else _in_band(joined, "", band)
    return _without(_in_band(capture, channel, band), own)


def _in_band(capture: Capture, channel: str, band: tuple[float, float]) -> float:
    lasts = capture.step * capture.count
    if lasts < 1.0 / band[0] or capture.rate < 2.0 * band[1]:
        raise CaptureError(
            f"the capture lasts {lasts:g} s with {capture.rate:g} samples a second; from "
            f"{band[0]:g} Hz to {band[1]:g} Hz needs {1.0 / band[0]:g} s and {2.0 * band[1]:g} "
            "samples a second. Take a longer or a finer one."
        )
    frequencies, lines = spectrum(capture, channel)
    inside = (frequencies >= band[0]) & (frequencies <= band[1])
    # A line that a window spreads counts once: by how much of white noise the window lets through.
    return float(np.sqrt(np.sum(lines[inside] ** 2) / WINDOW_BAND))


def spectrum(capture: Capture, channel: str = "") -> tuple[Array, Array]:
    """Frequencies [Hz], and the effective value in each line [V]."""
    volts = capture.channel(channel)
    window = np.hanning(volts.size)
    lines = np.fft.rfft((volts - volts.mean()) * window) / np.sum(window)
    frequencies = np.fft.rfftfreq(volts.size, capture.step)
    return np.asarray(frequencies, float), np.asarray(np.abs(lines) * np.sqrt(2.0), float)


def step_response(
    capture: Capture,
    within: float,
    *,
    channel: str = "",
    at: float = 0.0,
    joined: Capture | None = None,
) -> Step:
    """What an output does when something steps at a time [s].

    within: of its final value, where it counts as settled [V]. joined: with probe and clip joined,
    whose own noise is taken off the deviation, and averaged away before it is told when it
    settles. CaptureError where the capture does not begin before the step, or ends at once after
    it.
    """
    volts, time = capture.channel(channel), capture.time
    first = int(np.searchsorted(time, at - 0.5 * capture.step))
    before, after = volts[:first], volts[first:]
    if before.size < LEAST_SAMPLES or after.size < 1.0 / ENDS:
        raise CaptureError(
            f"the capture runs from {time[0]:g} s to {time[-1]:g} s: it has to begin before the "
            f"step at {at:g} s and to go on after it. Move the trigger."
        )
    start, end = float(np.mean(before)), _end(after)
    moved = after - start
    farthest = float(moved[np.argmax(np.abs(moved))])
    if joined is not None:
        farthest = _without(farthest, 0.5 * float(np.ptp(joined.channel())))
    calm, late = _calmed(after, joined, within)
    outside = np.flatnonzero(np.abs(calm - end) > within)
    if not outside.size:
        settled = 0.0
    elif outside[-1] == calm.size - 1:
        settled = float("inf")
    else:
        settled = float(capture.step * (outside[-1] + 1 + late))
    return Step(start, end, farthest, settled)


def _end(values: Array) -> float:
    """Where values come to rest: the mean of the last ones."""
    return float(np.mean(values[-max(1, int(ENDS * values.size)) :]))


def _calmed(values: Array, joined: Capture | None, within: float) -> tuple[Array, int]:
    """Values without what a scope adds by itself, and by how many samples they are late at most.

    The mean of so many samples that the noise that is left hardly ever counts beside `within`.
    """
    sigma = 0.0 if joined is None else float(np.std(joined.channel()))
    count = min(int(np.ceil((LIKELY * sigma / (COUNTS * within)) ** 2)), values.size // FEW)
    if count <= 1:
        return values, 0
    summed = np.cumsum(np.concatenate([[0.0], values]))
    return (summed[count:] - summed[:-count]) / count, count - 1


def overshoot(capture: Capture, channel: str = "", joined: Capture | None = None) -> float:
    """How far an output that comes up goes above where it comes to rest [V]."""
    volts = capture.channel(channel)
    above = max(0.0, float(volts.max()) - _end(volts))
    return above if joined is None else _without(above, 0.5 * float(np.ptp(joined.channel())))


def falls_after(
    capture: Capture,
    below: float,
    *,
    channel: str = "",
    at: float = 0.0,
    joined: Capture | None = None,
) -> float:
    """From a time [s] until a channel stays below a value [s]; infinite where it does not.

    joined: with probe and clip joined, whose own noise is averaged away.
    """
    first = int(np.searchsorted(capture.time, at))
    values, late = _calmed(capture.channel(channel)[first:], joined, below)
    high = np.flatnonzero(values >= below)
    if not high.size:
        return 0.0
    if high[-1] == values.size - 1:
        return float("inf")
    return float(capture.start + capture.step * (first + high[-1] + 1 + late) - at)
