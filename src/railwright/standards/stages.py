"""Coil of a step-down, step-up or inverting stage: what it sees over the whole range; which fits.

A coil rises with the voltage `rise` while the switch conducts and falls with `fall` while the
diode does, so that volt-second balance gives the duty fall / (rise + fall). Source: Erickson and
Maksimovic, Fundamentals of Power Electronics, chapters 2 and 5. The ripple here is from peak to
peak, which is twice the ripple of that book.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

Style = Literal["step-down", "step-up", "inverting"]

# Where the volt-seconds and the ripple ratio have their crests, in every style.
_CRESTS = (1 / 2, 1 / 3)


@dataclass(frozen=True, slots=True)
class Point:
    """Input voltage and magnitude of the output voltage [V]."""

    input: float
    output: float


@dataclass(frozen=True, slots=True)
class Waveform:
    """Current of a coil at one point."""

    duty: float
    """Share of the period in which the switch conducts."""
    mean: float
    """A."""
    ripple: float
    """A, from peak to peak."""
    peak: float
    """A."""
    rms: float
    """A."""
    continuous: bool
    """False where the current rests at zero for a part of the period."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A switching stage over its range. ValueError where it cannot work somewhere in it.

    Voltages are magnitudes [V]; the load is its greatest current [A]; the frequency is the least
    one [Hz], which asks most of a coil.
    """

    style: Style
    input: tuple[float, float]
    """Least and greatest, V."""
    output: tuple[float, float]
    """Least and greatest setting, V."""
    load: float
    frequency: float
    switch_drop: float = 0.0
    diode_drop: float = 0.0

    def __post_init__(self) -> None:
        if self.style not in ("step-down", "step-up", "inverting"):
            raise ValueError(f"{self.style!r}: wanted is step-down, step-up or inverting")
        for name in ("input", "output"):
            low, high = getattr(self, name)
            if not 0 < low <= high < math.inf:
                raise ValueError(
                    f"{name} from {low!r} to {high!r} V: wanted are two voltages above 0, rising"
                )
        for name, value, unit in (("load", self.load, "A"), ("frequency", self.frequency, "Hz")):
            if not 0 < value < math.inf:
                raise ValueError(f"{name} {value!r} {unit}: wanted is a value above 0")
        if not (self.switch_drop >= 0 and self.diode_drop >= 0):
            raise ValueError("drops of switch and diode: wanted are voltages of 0 or more")
        for point in _corners(self):
            if not min(self.swing(point)) > 0:
                raise ValueError(
                    f"a {self.style} stage cannot make {point.output:g} V from {point.input:g} V: "
                    f"{_REMEDY[self.style]}"
                )

    def swing(self, point: Point) -> tuple[float, float]:
        """Voltages across the coil while its current rises, and while it falls [V]."""
        out = point.output + self.diode_drop
        full = point.input - self.switch_drop
        if self.style == "step-down":
            return full - point.output, out
        if self.style == "step-up":
            return full, out - point.input
        return full, out


_REMEDY = {
    "step-down": "raise the least input or lower the greatest output",
    "step-up": "lower the greatest input or raise the least output",
    "inverting": "raise the least input above the drop of the switch",
}


def _corners(stage: Stage) -> list[Point]:
    return [Point(input, output) for input in stage.input for output in stage.output]


def _points(stage: Stage) -> list[Point]:
    """Corners of the range, and the points on its edges where a crest can lie."""
    found = _corners(stage)
    for duty in _CRESTS:
        for output in stage.output:
            found.append(Point(_clip(_input_at(stage, output, duty), stage.input), output))
        for input in stage.input:
            found.append(Point(input, _clip(_output_at(stage, input, duty), stage.output)))
    return found


def _clip(value: float, limits: tuple[float, float]) -> float:
    return min(max(value, limits[0]), limits[1])


def _input_at(stage: Stage, output: float, duty: float) -> float:
    """Input for which an output asks for a duty: duty * rise = (1 - duty) * fall."""
    out, switch = output + stage.diode_drop, stage.switch_drop
    if stage.style == "step-down":
        return output + switch + out * (1 - duty) / duty
    if stage.style == "step-up":
        return out * (1 - duty) + switch * duty
    return switch + out * (1 - duty) / duty


def _output_at(stage: Stage, input: float, duty: float) -> float:
    """Output that a duty makes of an input."""
    full = input - stage.switch_drop
    if stage.style == "step-down":
        return duty * full - (1 - duty) * stage.diode_drop
    if stage.style == "step-up":
        return input + full * duty / (1 - duty) - stage.diode_drop
    return full * duty / (1 - duty) - stage.diode_drop


def volt_seconds(stage: Stage, point: Point) -> float:
    """Flux linkage by which the coil swings in a period of continuous current [V s].

    The design procedures of step-down regulators call it E T.

    >>> stage = Stage("step-down", (28.0, 28.0), (20.0, 20.0), 3.0, 150e3, 1.16, 0.5)
    >>> round(volt_seconds(stage, Point(28.0, 20.0)) * 1e6, 2)
    34.19
    """
    rise, fall = stage.swing(point)
    return rise * fall / (rise + fall) / stage.frequency


def waveform(stage: Stage, point: Point, inductance: float) -> Waveform:
    """Current of a coil of some inductance [H] at full load, at a point of the range.

    In discontinuous conduction, from the charge that the triangle of current gives to the output:
    half of peak times time times frequency is the load.

    >>> stage = Stage("step-up", (5.0, 5.0), (12.0, 12.0), 1.0, 100e3)
    >>> current = waveform(stage, Point(5.0, 12.0), 22e-6)
    >>> round(current.duty, 4), round(current.mean, 2), round(current.ripple, 3)
    (0.5833, 2.4, 1.326)
    """
    if not inductance > 0:
        raise ValueError(f"inductance {inductance!r} H: wanted is a value above 0")
    rise, fall = stage.swing(point)
    duty = fall / (rise + fall)
    mean = stage.load if stage.style == "step-down" else stage.load / (1 - duty)
    ripple = volt_seconds(stage, point) / inductance
    if ripple <= 2 * mean:
        rms = math.sqrt(mean**2 + ripple**2 / 12)
        return Waveform(duty, mean, ripple, mean + ripple / 2, rms, True)
    per_second = inductance * stage.frequency
    giving = rise * fall / (rise + fall) if stage.style == "step-down" else fall
    peak = math.sqrt(2 * stage.load * giving / per_second)
    flowing = per_second * peak * (1 / rise + 1 / fall)  # share of the period
    mean, rms = peak * flowing / 2, peak * math.sqrt(flowing / 3)
    return Waveform(per_second * peak / rise, mean, peak, peak, rms, False)


@lru_cache(maxsize=4096)
def envelope(stage: Stage, inductance: float) -> Waveform:
    """The greatest of each value over the range, with the duty that goes with the ripple.

    No point need have them all; a coil that stands them stands every point. Where a part of the
    range is in discontinuous conduction, the ripple is an upper bound.
    """
    crest = worst_volt_seconds(stage)
    found = [waveform(stage, point, inductance) for point in _points(stage)]
    return Waveform(
        duty=waveform(stage, crest, inductance).duty,
        mean=max(each.mean for each in found),
        ripple=volt_seconds(stage, crest) / inductance,
        peak=max(each.peak for each in found),
        rms=max(each.rms for each in found),
        continuous=all(each.continuous for each in found),
    )


def worst_volt_seconds(stage: Stage) -> Point:
    """Point of the range where the volt-seconds are greatest.

    Not always a corner: a step-down stage has them at half duty of its greatest input.

    >>> worst_volt_seconds(Stage("step-down", (18.0, 20.0), (3.3, 12.0), 1.0, 150e3))
    Point(input=20.0, output=10.0)
    """
    return max(_points(stage), key=lambda point: volt_seconds(stage, point))


def least_inductance(stage: Stage, ripple_ratio: float) -> float:
    """Inductance that holds the ripple, at full load and over the whole range [H].

    ripple_ratio: ripple from peak to peak over the mean current of the coil, both at the same
    point; 0.2 to 0.4 is usual (Erickson and Maksimovic, 2.2, has 0.1 to 0.2 on one side), above 2
    the conduction would be discontinuous.

    >>> stage = Stage("step-down", (18.0, 20.0), (3.3, 12.0), 1.0, 150e3)
    >>> round(least_inductance(stage, 0.3) * 1e6, 1)
    111.1
    """
    if not 0 < ripple_ratio <= 2:
        raise ValueError(f"ripple ratio {ripple_ratio!r}: wanted is a share above 0, up to 2")
    return max(volt_seconds(stage, point) / _mean(stage, point) for point in _points(stage)) / (
        ripple_ratio
    )


def _mean(stage: Stage, point: Point) -> float:
    """Mean current of the coil in continuous conduction [A]."""
    rise, fall = stage.swing(point)
    return stage.load * (1.0 if stage.style == "step-down" else (rise + fall) / rise)


def highest_voltage(stage: Stage) -> float:
    """Greatest voltage of a terminal of the coil against the common of the stage [V]."""
    if stage.style == "step-down":
        return stage.input[1]
    return max(stage.input[1], stage.output[1] + stage.diode_drop)


@dataclass(frozen=True, slots=True)
class Coil:
    """A coil that one can buy, by the limits that count against it."""

    name: str
    inductance: float
    """H, the least at no current."""
    saturation_current: float
    """A, the least at which the inductance has fallen by the share that its maker states."""
    rated_current: float
    """A rms, for the rise of temperature that its maker states."""
    resistance: float
    """Ω, the greatest."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How a coil fares in a stage, each value at the worst point for it."""

    coil: Coil
    ripple_ratio: float
    peak: float
    """A."""
    rms: float
    """A."""
    copper_loss: float
    """W, without skin effect."""
    shortfalls: tuple[str, ...]
    """What speaks against it; empty where it fits."""


def judge(stage: Stage, coil: Coil, ripple_ratio: float, limit: float = 0.0) -> Fit:
    """A coil in a stage: ripple, saturation and heating over the whole range.

    The inductance counts as it is at no current; a coil near its saturation has less, and more
    ripple.

    ripple_ratio: the greatest wanted; limit: current at which the switch's own limit acts [A], up
    to which the coil should not saturate (0: not asked).
    """
    least = least_inductance(stage, ripple_ratio)
    current = envelope(stage, coil.inductance)
    needed = max(current.peak, limit)
    shortfalls = []
    if coil.inductance < least:
        shortfalls.append(f"{coil.inductance:.3g} H are too little: wanted are {least:.3g} H")
    if coil.saturation_current < needed:
        shortfalls.append(
            f"saturates at {coil.saturation_current:.3g} A: wanted are {needed:.3g} A"
        )
    if coil.rated_current < current.rms:
        shortfalls.append(
            f"is rated {coil.rated_current:.3g} A rms: wanted are {current.rms:.3g} A"
        )
    return Fit(
        coil,
        ripple_ratio * least / coil.inductance,
        current.peak,
        current.rms,
        current.rms**2 * coil.resistance,
        tuple(shortfalls),
    )


def choose(stage: Stage, coils: Iterable[Coil], ripple_ratio: float, limit: float = 0.0) -> Fit:
    """The least coil that fits, by the energy that it can store before it saturates.

    ripple_ratio and limit as in `judge`. ValueError where none fits, with the reason for each.
    """
    fits = [judge(stage, coil, ripple_ratio, limit) for coil in coils]
    good = [fit for fit in fits if not fit.shortfalls]
    if not good:
        reasons = "".join(f"\n  {fit.coil.name}: {'; '.join(fit.shortfalls)}" for fit in fits)
        raise ValueError(
            "no coil fits: offer others, allow more ripple, raise the frequency or wind one"
            + reasons
        )
    return min(good, key=lambda fit: fit.coil.inductance * fit.coil.saturation_current**2)
