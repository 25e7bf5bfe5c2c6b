"""Why a suspect would read as it does, in words, from what was computed for it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import ALONE, Place
from railwright.mend.predicted import Round
from railwright.quantity import show
from railwright.surveys.ohms import MOST

TOLD = 2
"""Places that a reason names."""
CLEAR = 4.0
"""Spreads of the healthy supply from which on a place counts as another than it should be."""
LEAST = {"V": 20e-3, "A": 1e-3, "Ω": 2.0}
"""What such a place is off at least [its unit]."""
ALIKE = 0.05
"""Share by which a potential under load may differ from that without, and still be the same."""


def reason(found: Round, way: int) -> str:
    """What is otherwise with a variant (its number), with typical parts; empty where nothing is.

    The places that are off by most of the healthy spread come first.
    """
    own, sound = found.rows[way, :, -1], found.rows[0]
    off = own - sound[:, -1]
    places = found.supply.places
    least = np.array([LEAST[place.unit] for place in places])
    with np.errstate(invalid="ignore"):
        spread = np.nanstd(sound[:, :-1], axis=1)
        size = np.abs(off) / np.maximum(spread, least / CLEAR)
    # What a part reads by itself is no reason of what the supply does.
    inside = np.array([not place.under.endswith(ALONE) for place in places])
    size = np.where(np.isfinite(size) & (np.abs(off) > least) & inside, size, 0.0)
    powered = np.array([place.quantity != "resistance" for place in places])
    # What is read with power says more of how it works than what an ohmmeter reads.
    order = [int(i) for i in np.lexsort((-size, ~powered)) if size[i] > CLEAR]
    told: list[str] = []
    nets: set[str] = set()
    for i in order:
        place = places[i]
        if place.red not in nets and len(told) < TOLD:
            nets.add(place.red)
            told.append(_told(place, own, float(sound[i, -1]), i, places))
    return "; ".join(told)


def _told(
    place: Place, own: NDArray[np.float64], sound: float, index: int, places: tuple[Place, ...]
) -> str:
    """A place with what is there and what should be."""
    value = float(own[index])
    there, should = _shown(value, place.unit), _shown(sound, place.unit)
    if place.quantity == "resistance":
        return f"{there} between {place.red} and {place.black} without power, instead of {should}"
    what = f"{place.red} is at {there}" if place.quantity == "voltage" else f"{there} is taken"
    always = ""
    for other, volts in zip(places, own, strict=True):
        same = (other.quantity, other.red) == (place.quantity, place.red)
        near = abs(volts - value) <= ALIKE * max(abs(value), LEAST["V"])
        if same and other.under != place.under and place.quantity == "voltage" and near:
            always = " whatever the load"
    under = f" under {place.under}" if place.under and not always else ""
    return f"{what}{always}{under}, instead of {should}"


def _shown(value: float, unit: str) -> str:
    if unit == "Ω" and value >= MOST:
        return "no end of resistance"
    if abs(value) < LEAST[unit] / 4.0:
        return f"0 {unit}"
    return show(value, unit, 2)
