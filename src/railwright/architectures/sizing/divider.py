"""Two legs that set a voltage from a reference: V = Vref (1 + other / across) + I x other.

`across` is the leg that has the reference across it; I is what the pin between both legs gives
into `other`. In a three-terminal regulator `across` is on its output, in one with a feedback pin
on its ground. Source: datasheets of adjustable regulators, as the check `wiring.divider` has it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from railwright.architectures.architecture import Unserved
from railwright.catalogue.entry import Entry
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import bracket, nearest

LEAST_FIXED = 0.01
"""Of the track; a smaller fixed part in series with it is left out."""
ONE_MORE = 0.02
"""Of the top, which one more resistor has to take away to be worth it (common practice)."""
NARROW, WIDEST = 3.0, 30.0
"""How far below its greatest value the leg across the reference may be: for a fixed divider, and
for a variable one, whose other leg comes in few values."""


class Inaccurate(Unserved):
    """Fixed legs are not accurate enough: a trimmer may help."""


@dataclass(frozen=True)
class Pin:
    """What a regulator holds between its pin and the end of `across`."""

    reference: Spread
    """V."""
    current: Spread
    """A, from the pin into `other`."""


@dataclass(frozen=True)
class Divider:
    """Two legs [Ω], and what they make of the reference [V], at its limits and theirs."""

    across: float
    other: float
    low: float
    typical: float
    high: float

    @property
    def error(self) -> float:
        """Greatest distance of a limit from the typical voltage, as a share of it."""
        return max(self.high - self.typical, self.typical - self.low) / self.typical

    @property
    def words(self) -> str:
        """The formula with numbers."""
        legs = f"{show(self.other, 'Ω')}/{show(self.across, 'Ω')}"
        limits = f"{show(self.low, 'V')} to {show(self.high, 'V')} at the limits"
        return f"Vref x (1 + {legs}) = {show(self.typical, 'V')}, {limits}"


def other_leg(reference: float, current: float, across: float, output: float) -> float:
    """The leg that makes an output voltage [Ω]; all in SI.

    >>> round(other_leg(1.25, 100e-6, 240.0, 5.0), 3)
    706.436
    """
    return across * (output - reference) / (reference + current * across)


def output_of(reference: float, current: float, across: float, other: float) -> float:
    """The output voltage of two legs [V].

    >>> round(output_of(1.25, 50e-6, 100.0, 220.0), 3)
    4.011
    """
    return reference * (1.0 + other / across) + current * other


@lru_cache(maxsize=1024)
def divider(
    pin: Pin, output: float, most_across: float, series: str, tolerance: float, allowed: float
) -> Divider:
    """The two members of a series that come nearest to an output voltage.

    most_across: greatest `across` [Ω], below which some members are tried; tolerance: of
    each leg; allowed: greatest error against the output, as a share. Inaccurate where no pair
    keeps within it at the limits of reference and legs.
    """
    found = [
        _at_limits(pin, across, nearest(_typical_leg(pin, across, output), series), tolerance)
        for across in members(most_across / NARROW, most_across, series)
    ]
    best = min(found, key=lambda d: max(d.high - output, output - d.low))
    off = max(best.high - output, output - best.low) / output
    if off > allowed:
        raise Inaccurate(
            f"a reference of {show(pin.reference.low, 'V')} to {show(pin.reference.high, 'V')} "
            f"and legs of {show(tolerance, '1')} put the output {show(off, '1')} off; "
            f"{show(allowed, '1')} is left for it"
        )
    return best


@dataclass(frozen=True)
class AdjustableLeg:
    """`across`, a fixed part of `other` (nil: none) and a variable resistor in series with it."""

    across: float
    fixed: float
    variable: Entry
    top: float
    """V, most output at the upper end stop."""
    beside: float = 0.0
    """Ω across the variable resistor, which takes away what it has too much of; nil: none."""


def adjustable_leg(
    pin: Pin,
    low: float,
    high: float,
    variables: Sequence[Entry],
    most_across: float,
    series: str,
    tolerance: float,
    bears: Callable[[Entry, float], bool],
    *,
    besides: bool = False,
) -> AdjustableLeg:
    """The legs that reach from `low` to `high` [V] with every part at its unfavourable limit.

    variables: variable resistors in order of preference; bears: whether one bears a current [A]
    through its wiper; besides: whether a resistor may stand across it. Of the legs that reach,
    those with little excess at the top and little current, each against the least there may be.
    Unserved where none reach.
    """
    found = [
        leg
        for variable in variables
        for leg in _legs(pin, low, high, variable, most_across, series, tolerance)
        if (besides or not leg.beside) and bears(variable, current_of(pin, leg.across, tolerance))
    ]
    if found:
        return min(found, key=lambda leg: _excess(leg, high) + most_across / leg.across)
    across = most_across / WIDEST
    wanted = _most_leg(pin, across, high)
    greatest = max((v.values["resistance"].spread.low for v in variables), default=0.0)
    if greatest < wanted:
        raise Unserved(
            f"{show(high, 'V')} want {show(wanted, 'Ω')} even beside {show(across, 'Ω')} across "
            f"the reference; the greatest variable resistor has {show(greatest, 'Ω')}",
            reached=2,
        )
    stop = min(end_stop(each) for each in variables)
    least = output_of(pin.reference.high, pin.current.high, most_across, stop)
    raise Unserved(
        f"no variable resistor that bears {show(current_of(pin, most_across, tolerance), 'A')} "
        f"reaches from {show(low, 'V')} to {show(high, 'V')}: at its lower stop the output may "
        f"still be {show(least, 'V')}",
        reached=2,
    )


def _legs(
    pin: Pin,
    low: float,
    high: float,
    variable: Entry,
    most_across: float,
    series: str,
    tolerance: float,
) -> Iterator[AdjustableLeg]:
    track = variable.values["resistance"].spread
    stop = end_stop(variable)
    less, more = 1.0 - tolerance, 1.0 + tolerance
    for across in members(most_across / WIDEST, most_across, series):
        least = (_least_leg(pin, across * less, low) - stop) / more
        if least < 0.0:
            continue
        fixed = bracket(least, series)[0] if least > LEAST_FIXED * track.typical else 0.0
        wanted = _most_leg(pin, across * more, high) - fixed * less
        if track.low < wanted:
            continue
        for beside in (0.0, _beside(wanted, track, tolerance, series)):
            widest = fixed * more + parallel(track.high, beside * more) + stop
            top = output_of(pin.reference.high, pin.current.high, across * less, widest)
            yield AdjustableLeg(across, fixed, variable, top, beside)


def _beside(wanted: float, track: Spread, tolerance: float, series: str) -> float:
    """Least resistor across a track that leaves what is wanted of it; nil where none does [Ω].

    No less than the track itself: where the wiper begins, a degree moves twice as much with it.
    """
    if wanted >= track.low:
        return 0.0
    least = wanted * track.low / (track.low - wanted) / (1.0 - tolerance)
    return bracket(max(least, track.typical), series)[1]


def parallel(one: float, other: float) -> float:
    """Two resistors side by side [Ω]; the second one may be nil: none.

    >>> parallel(2000.0, 2000.0), parallel(2000.0, 0.0)
    (1000.0, 2000.0)
    """
    return one * other / (one + other) if other else one


def _excess(leg: AdjustableLeg, high: float) -> float:
    """Top over what is wanted; a resistor more is worth it from a few hundredths on."""
    return leg.top / high + (ONE_MORE if leg.beside else 0.0)


def end_stop(variable: Entry) -> float:
    """What is left of a variable resistor at its end stop, at most [Ω]."""
    names = {"end_resistance", "contact_resistance"} & variable.values.keys()
    return sum(variable.values[name].spread.high for name in names)


def current_of(pin: Pin, across: float, tolerance: float) -> float:
    """Greatest current of the legs [A]."""
    return pin.reference.high / (across * (1.0 - tolerance)) + pin.current.high


def _least_leg(pin: Pin, across: float, output: float) -> float:
    """The leg that makes the output with the highest reference and pin current [Ω]."""
    return other_leg(pin.reference.high, pin.current.high, across, output)


def _most_leg(pin: Pin, across: float, output: float) -> float:
    """The leg that makes the output with the lowest reference and pin current [Ω]."""
    return other_leg(pin.reference.low, pin.current.low, across, output)


def _typical_leg(pin: Pin, across: float, output: float) -> float:
    return other_leg(pin.reference.typical, pin.current.typical, across, output)


def _at_limits(pin: Pin, across: float, other: float, tolerance: float) -> Divider:
    less, more = 1.0 - tolerance, 1.0 + tolerance
    return Divider(
        across,
        other,
        output_of(pin.reference.low, pin.current.low, across * more, other * less),
        output_of(pin.reference.typical, pin.current.typical, across, other),
        output_of(pin.reference.high, pin.current.high, across * less, other * more),
    )


@lru_cache(maxsize=1024)
def members(low: float, high: float, series: str) -> tuple[float, ...]:
    """Members of a series within limits, falling."""
    found = []
    member = bracket(high, series)[0]
    while member >= low:
        found.append(member)
        member = bracket(member * 0.999, series)[0]
    return tuple(found)
