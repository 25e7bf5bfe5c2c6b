"""How hot a part may be that a person touches.

Sources: IEC 62368-1, table 38, class TS1, that is without warning, at an ambient of 25 °C and not
to be raised for a hotter one; plastic touched for up to 10 s: as quoted on a public list on
product safety; the other values from memory. IEC 61010-1, table 19, measuring equipment in normal
condition, at an ambient of 40 °C: from memory.
"""

import math
from typing import Literal, get_args

Material = Literal["metal", "glass", "plastic"]
"""What is felt: glass stands for ceramics too, plastic for rubber and wood."""

Part = Literal["enclosure", "knob"]

_ZERO_CELSIUS = 273.15  # K

# Longest touch [s]: °C of metal, glass, plastic.
_TS1: dict[float, dict[Material, float]] = {
    1.0: {"metal": 70.0, "glass": 85.0, "plastic": 94.0},
    10.0: {"metal": 60.0, "glass": 71.0, "plastic": 77.0},
    60.0: {"metal": 51.0, "glass": 56.0, "plastic": 60.0},
    math.inf: {"metal": 48.0, "glass": 48.0, "plastic": 48.0},
}
_INSTRUMENT: dict[Part, dict[str, float]] = {
    "enclosure": {"metal": 65.0, "coated metal": 80.0, "glass": 80.0, "plastic": 85.0},
    "knob": {"metal": 55.0, "glass": 65.0, "plastic": 70.0},
}


MANNERS = {
    "held or worn": math.inf,
    "held briefly": 60.0,
    "touched occasionally": 10.0,
    "touched by chance": 1.0,
}
"""Words for a touch -> longest touch [s], as in IEC 62368-1, table 38."""
STATED_AT = 25.0 + _ZERO_CELSIUS
"""K; air in which the limits are stated. They are not raised for warmer air."""


def in_words(words: str) -> float | None:
    """Hottest surface of what is told as `metal, held briefly` [K]; None where not understood.

    >>> in_words("metal, held briefly"), in_words("warm")
    (324.15, None)
    """
    named, _, manner = (word.strip() for word in words.partition(","))
    for material in get_args(Material):
        if material == named and manner in MANNERS:
            return touch_limit(material, MANNERS[manner])
    return None


def touch_limit(material: Material, duration: float) -> float:
    """Hottest surface that may be touched for a time [K], IEC 62368-1.

    duration of the touch [s]: up to 1 for what need not be touched to use the thing, up to 10
    for what is touched occasionally, up to 60 for what is held briefly, inf for what is held or
    worn. ValueError where there is no such row.

    >>> touch_limit("plastic", 10.0) - 273.15, round(touch_limit("metal", 60.0), 2)
    (77.0, 324.15)
    """
    if not duration > 0:
        raise ValueError(f"a touch of {duration!r} s: wanted is one above 0")
    row = next(row for longest, row in _TS1.items() if duration <= longest)
    if material not in row:
        raise ValueError(f"no row for {material!r}: there are {', '.join(row)}")
    return row[material] + _ZERO_CELSIUS


def instrument_limit(part: Part, material: str) -> float:
    """Hottest surface of a measuring instrument in normal use [K], IEC 61010-1, from memory.

    part: enclosure, for what may be touched by chance, or knob, for what is gripped. ValueError
    where there is no such row.

    >>> round(instrument_limit("enclosure", "metal"), 2)
    338.15
    """
    if part not in _INSTRUMENT:
        raise ValueError(f"no row for {part!r}: there are {', '.join(_INSTRUMENT)}")
    row = _INSTRUMENT[part]
    if material not in row:
        raise ValueError(f"no row for {part}, {material!r}: there are {', '.join(row)}")
    return row[material] + _ZERO_CELSIUS
