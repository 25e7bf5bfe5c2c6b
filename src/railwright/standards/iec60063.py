"""Preferred values of resistors and capacitors: the series E3 to E192.

Source: IEC 60063, "Preferred number series for resistors and capacitors". E24 and the coarser
series as listed in public value lists; E192 is 10^(i/192) rounded to two decimals, but for the
published exception 9.20 (from memory), and E96 and E48 are every second and fourth value of it.
"""

import math
from bisect import bisect_left
from decimal import Decimal
from functools import cache

# fmt: off
_TENTHS = (
    10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
    33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
)
# fmt: on
_E24 = tuple(Decimal(value) / 10 for value in _TENTHS)
_E192 = tuple(
    Decimal("9.20") if i == 185 else Decimal(f"{10 ** (i / 192):.2f}") for i in range(192)
)

SERIES: dict[str, tuple[Decimal, ...]] = {
    "E3": _E24[::8],
    "E6": _E24[::4],
    "E12": _E24[::2],
    "E24": _E24,
    "E48": _E192[::4],
    "E96": _E192[::2],
    "E192": _E192,
}
"""Values of one decade, from 1 up."""

MEMBER = 1e-6
"""Relative error at which a value still is a member of a series."""


def nearest(value: float, series: str) -> float:
    """The value of a series with the least error; the lower one of two with equal errors.

    ValueError where the series is unknown or the value is not above zero.

    >>> nearest(5000, "E24"), nearest(5000, "E96")
    (5100.0, 4990.0)
    """
    members = _around(value, series)
    place = bisect_left(members, value)
    below, above = members[place - 1], members[place]
    return below if value - below <= above - value else above


def bracket(value: float, series: str) -> tuple[float, float]:
    """The greatest member of a series not above a value and the least not below it.

    ValueError where the series is unknown or the value is not above zero.

    >>> bracket(5000, "E24"), bracket(4700, "E24")
    ((4700.0, 5100.0), (4700.0, 4700.0))
    """
    near = nearest(value, series)
    if math.isclose(near, value, rel_tol=MEMBER):
        return near, near
    members = _around(value, series)
    place = bisect_left(members, value)
    return members[place - 1], members[place]


def is_member(value: float, series: str, rel: float = MEMBER) -> bool:
    """Whether a value is one of a series, but for a relative error.

    ValueError where the series is unknown or the value is not above zero.

    >>> is_member(4.7e-9, "E6"), is_member(5e-9, "E24")
    (True, False)
    """
    return math.isclose(nearest(value, series), value, rel_tol=rel)


def _around(value: float, series: str) -> tuple[float, ...]:
    """Members of the value's decade and of its neighbours, rising."""
    if series not in SERIES:
        raise ValueError(f"{series!r} is no series: wanted is one of {', '.join(SERIES)}")
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{value!r} has no preferred value: wanted is a value above 0")
    return _near(math.floor(math.log10(value)), series)


@cache
def _near(decade: int, series: str) -> tuple[float, ...]:
    """Members of a decade and of its neighbours, rising."""
    return tuple(
        float(member.scaleb(power))
        for power in range(decade - 1, decade + 2)
        for member in SERIES[series]
    )
