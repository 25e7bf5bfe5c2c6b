"""Operating points in words."""

from __future__ import annotations

import numpy as np

from railwright.prove.proof import Place
from railwright.quantity import celsius, show
from railwright.surveys.operating_range import Points


def place_of(points: Points, index: int) -> Place:
    """One operating point as a proof tells it."""
    return Place(
        {rail: float(v[index]) for rail, v in points.settings.items()},
        {rail: float(v[index]) for rail, v in points.loads.items()},
        float(points.input[index]),
        float(points.ambient[index]),
        {rail: float(v[index]) for rail, v in points.capacitances.items()},
    )


def points_of(place: Place) -> Points:
    """A place as the one operating point that it is."""
    return Points(
        {rail: np.array([volts]) for rail, volts in place.outputs.items()},
        {rail: np.array([amperes]) for rail, amperes in place.loads.items()},
        np.array([place.input]),
        np.array([place.ambient]),
        {rail: np.array([farads]) for rail, farads in place.capacitances.items()},
    )


def in_words(place: Place) -> str:
    """An operating point in one line.

    >>> in_words(Place({"main": 12.0}, {"main": 1.0}, 18.0, 313.15))
    '12 V, 1 A, input 18 V, 40 °C'
    """
    several = len(place.outputs) > 1
    rails = [
        f"{rail + ' ' if several else ''}{show(volts, 'V')}, {show(place.loads[rail], 'A')}"
        for rail, volts in place.outputs.items()
    ]
    stores = [
        f"{show(farads, 'F')} across the load{f' of {rail}' if several else ''}"
        for rail, farads in place.capacitances.items()
    ]
    air = f"{celsius(place.ambient):.0f} °C"
    return ", ".join([*rails, f"input {show(place.input, 'V')}", air, *stores])
