"""Miniature fuses 5 × 20 mm: how long they hold, how soon they open, what they can break.

Source: IEC 60127-2, standard sheets 1, 2, 3 and 5. Sheets 3 and 5: as printed in datasheets of
such fuses; where these differ, the wider limits. Sheet 2: as printed in a public table of
opening times, the same from memory. Sheet 1: from memory. The limits hold from 32 mA to 6.3 A at
23 °C; fuses beyond 6.3 A are not in the standard's sheets.

The standard has limits at five multiples of the rated current. Between them they are
interpolated on logarithmic scales (common practice, no source). Beyond them nothing is
promised: below the first limit a fuse may never open, above the last one it may open at once.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

Judgement = Literal["opens", "may open", "holds", "cannot break"]


class Window(NamedTuple):
    """When a fuse opens: not before `least`, not after `greatest` [s]; inf: never."""

    least: float
    greatest: float


PULSES = 0.29
"""Of the melting integral: what a fuse withstands ten thousand times; application notes of fuse
makers, from memory."""
_HOUR = 3600.0
_HALF_HOUR = 1800.0
_NO_LEAST = 0.0
_NEVER = math.inf
_HOLDS_AN_HOUR = Window(_HOUR, _NEVER)

Limits = Mapping[float, Window]
"""By the multiple of the rated current, rising."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One standard sheet of IEC 60127-2."""

    speed: Literal["F", "T"]
    """Quick-acting or time-lag."""
    breaking: Literal["L", "H"]
    """Low or high breaking capacity."""
    least_rated: float
    """A."""
    limits: Mapping[float, Limits]
    """By the greatest rated current they hold for [A], rising."""


SHEETS: dict[int, Sheet] = {
    1: Sheet(
        "F",
        "H",
        0.05,
        {
            4.0: {
                1.5: _HOLDS_AN_HOUR,
                2.1: Window(_NO_LEAST, _HALF_HOUR),
                2.75: Window(0.01, 2.0),
                4.0: Window(0.003, 0.3),
                10.0: Window(_NO_LEAST, 0.02),
            },
            6.3: {
                1.5: Window(_HALF_HOUR, _NEVER),
                2.1: Window(_NO_LEAST, _HALF_HOUR),
                2.75: Window(0.01, 3.0),
                4.0: Window(0.003, 0.3),
                10.0: Window(_NO_LEAST, 0.02),
            },
        },
    ),
    2: Sheet(
        "F",
        "L",
        0.032,
        {
            0.1: {
                1.5: _HOLDS_AN_HOUR,
                2.1: Window(_NO_LEAST, _HALF_HOUR),
                2.75: Window(0.01, 0.5),
                4.0: Window(0.003, 0.1),
                10.0: Window(_NO_LEAST, 0.02),
            },
            6.3: {
                1.5: _HOLDS_AN_HOUR,
                2.1: Window(_NO_LEAST, _HALF_HOUR),
                2.75: Window(0.05, 2.0),
                4.0: Window(0.01, 0.3),
                10.0: Window(_NO_LEAST, 0.02),
            },
        },
    ),
    3: Sheet(
        "T",
        "L",
        0.032,
        {
            0.1: {
                1.5: _HOLDS_AN_HOUR,
                2.1: Window(_NO_LEAST, 120.0),
                2.75: Window(0.2, 10.0),
                4.0: Window(0.04, 3.0),
                10.0: Window(0.01, 0.3),
            },
            6.3: {
                1.5: _HOLDS_AN_HOUR,
                2.1: Window(_NO_LEAST, 120.0),
                2.75: Window(0.6, 10.0),
                4.0: Window(0.15, 3.0),
                10.0: Window(0.02, 0.3),
            },
        },
    ),
    5: Sheet(
        "T",
        "H",
        1.0,
        {
            3.15: {
                1.5: _HOLDS_AN_HOUR,
                2.1: Window(_NO_LEAST, _HALF_HOUR),
                2.75: Window(0.75, 80.0),
                4.0: Window(0.095, 5.0),
                10.0: Window(0.01, 0.15),
            },
            6.3: {
                1.5: _HOLDS_AN_HOUR,
                2.1: Window(_NO_LEAST, _HALF_HOUR),
                2.75: Window(0.75, 80.0),
                4.0: Window(0.15, 5.0),
                10.0: Window(0.01, 0.15),
            },
        },
    ),
}


def opening_time(sheet: int, rated: float, current: float) -> Window:
    """When a fuse of a sheet opens at a steady current [s].

    rated current and current [A]. The rated current and less it carries for ever (common
    practice, no source). ValueError where the sheet is unknown, has no such rated current, or the
    current is negative.

    >>> opening_time(3, 2.0, 8.0)
    Window(least=0.15, greatest=3.0)
    >>> opening_time(3, 2.0, 4.0).greatest
    inf
    """
    limits = _limits(sheet, rated)
    if not current >= 0:
        raise ValueError(f"a current of {current!r} A: wanted is 0 or more")
    multiple = current / rated
    if multiple <= 1:
        return Window(_NEVER, _NEVER)
    holding, opening = _holding(limits), _opening(limits)
    least = _NO_LEAST if multiple > holding[-1][0] else _between(multiple, holding)
    greatest = _NEVER if multiple < opening[0][0] else _between(multiple, opening)
    return Window(least, greatest)


def holding_current(sheet: int, rated: float, duration: float) -> float:
    """Greatest current that a fuse surely carries for a time [A].

    rated current [A]; duration [s]. ValueError as for `opening_time`, and where the duration is
    not above zero.

    >>> holding_current(3, 2.0, 0.15), holding_current(3, 2.0, 1e5)
    (8.0, 2.0)
    """
    holding = _holding(_limits(sheet, rated))
    if _wanted(duration) > holding[0][1]:
        return rated
    return rated * _between(duration, _turned(holding))


def blowing_current(sheet: int, rated: float, duration: float) -> float:
    """Least current that surely opens a fuse within a time [A]; inf where none does.

    rated current [A]; duration [s]. ValueError as for `holding_current`.

    >>> blowing_current(3, 2.0, 3.0), blowing_current(3, 2.0, 3600.0), blowing_current(3, 2.0, 0.1)
    (8.0, 4.2, inf)
    """
    opening = _opening(_limits(sheet, rated))
    if _wanted(duration) < opening[-1][1]:
        return math.inf
    return rated * _between(duration, _turned(opening))


def breaking_capacity(sheet: int, rated: float) -> float:
    """Greatest alternating current that a fuse breaks at 250 V [A].

    rated current [A]. Sources: 1500 A for high, 35 A or ten times the rated current for low
    breaking capacity, from a public reading of the standard's markings. At direct current of
    more than a few ten volts a fuse breaks less. ValueError as for `opening_time`.

    >>> breaking_capacity(3, 2.0), breaking_capacity(3, 6.3), breaking_capacity(5, 2.0)
    (35.0, 63.0, 1500.0)
    """
    _limits(sheet, rated)
    return 1500.0 if SHEETS[sheet].breaking == "H" else max(35.0, 10 * rated)


def judge(sheet: int, rated: float, current: float, duration: float) -> Judgement:
    """What a fuse does at the current of a source, within the time that others withstand it.

    rated current and current [A]; duration [s]. Only "opens" protects; "holds" is what a
    harmless surge wants. ValueError as for `holding_current`.

    >>> judge(3, 2.0, 4.0, 60.0), judge(3, 2.0, 8.0, 60.0), judge(3, 2.0, 8.0, 0.1)
    ('may open', 'opens', 'holds')
    """
    window = opening_time(sheet, rated, current)
    if _wanted(duration) <= window.least:
        return "holds"
    if current > breaking_capacity(sheet, rated):
        return "cannot break"
    return "opens" if duration >= window.greatest else "may open"


def _limits(sheet: int, rated: float) -> Limits:
    if sheet not in SHEETS:
        raise ValueError(f"no sheet {sheet!r}: there are {', '.join(map(str, SHEETS))}")
    found = SHEETS[sheet]
    greatest = max(found.limits)
    if not found.least_rated <= rated <= greatest:
        raise ValueError(
            f"sheet {sheet} has no rated current of {rated!r} A: wanted is one from "
            f"{found.least_rated:g} A to {greatest:g} A"
        )
    return next(limits for most, limits in found.limits.items() if rated <= most)


def _wanted(duration: float) -> float:
    if not duration > 0:
        raise ValueError(f"a duration of {duration!r} s: wanted is one above 0")
    return duration


_Points = list[tuple[float, float]]


def _holding(limits: Limits) -> _Points:
    """Multiples and the times that a fuse holds them."""
    return [(at, window.least) for at, window in limits.items() if window.least > _NO_LEAST]


def _opening(limits: Limits) -> _Points:
    """Multiples and the times within which a fuse opens."""
    return [(at, window.greatest) for at, window in limits.items() if window.greatest < _NEVER]


def _turned(points: _Points) -> _Points:
    """The same curve with times first, rising."""
    return [(time, at) for at, time in reversed(points)]


def _between(place: float, points: _Points) -> float:
    """Straight on logarithmic scales between points, flat beyond them."""
    places = [at for at, _ in points]
    heights = [height for _, height in points]
    place = min(max(place, places[0]), places[-1])
    if place in places:  # a published limit comes back as it is printed
        return heights[places.index(place)]
    return float(np.exp(np.interp(math.log(place), np.log(places), np.log(heights))))
