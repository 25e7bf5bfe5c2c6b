"""All parts held at a temperature: whether a loss there leaves by the way to air that it has.

A part whose loss grows with its temperature faster than its heat leaves has no balance, and so the
circuit has no operating point: nothing is there to be found. Held at a temperature it has one, and
the loss in it tells the rise that it would cause. Where that is more than the rise at which the
part is held, at every temperature up to its limit, it runs away, and no solver is to blame.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import AMBIENT
from railwright.engine.ladders import scaled, thermal
from railwright.engine.model import Lanes, Name, chosen
from railwright.engine.solutions import OperatingPoints
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
STEP = 4.0
"""K between the temperatures at which parts are held."""
SHARES = (1e-5, 2e-5)
"""Of all thermal resistances: so small that parts stay where they are held. Two of them, since what
is no such resistance may warm parts besides."""
MOST_LANES = 2
"""Lanes that are looked at, in the hottest air and at the highest input: one without a balance is
enough to tell."""


class Balance(NamedTuple):
    """What heat does to a junction in lanes that were not solved; not-a-number where not known."""

    spare: Array
    """The most by which a temperature is above what the loss there makes of the junction [K]."""
    held: Array
    """That temperature [K]."""


def balance(view: View, ref: str, limit: float) -> Balance | None:
    """How far a junction is from a balance below its limit [K]; None where nothing can be told.

    A negative one is told alone, and where each temperature could be looked at.
    """
    if view.at.solved.all() or view.survey.rough or AMBIENT not in view.at.inputs:
        return None
    spare, held = np.full((2, view.points.count), np.nan)
    lost = np.flatnonzero(~view.at.solved)
    points = view.points.take(lost)
    lost = lost[np.lexsort((-points.input, -points.ambient))[:MOST_LANES]]
    air = view.points.ambient[lost]
    steps = int(np.ceil(max(limit - air.min(), 0.0) / STEP)) + 1
    temperatures = np.linspace(air, max(limit, float(air.max())), steps)
    rises = _rises(view.survey, chosen(view.at.inputs, lost), ref, temperatures)
    left = temperatures - air - rises
    best = np.argmax(left, axis=0)  # not-a-number counts as the most
    every = np.arange(lost.size)
    outrun = left[best, every] < 0
    spare[lost] = np.where(outrun, left[best, every], np.nan)
    held[lost] = temperatures[best, every]
    return Balance(spare, held)


def _rises(survey: Survey, lanes: Lanes, ref: str, temperatures: Array) -> Array:
    """Rises [K] of a junction by its losses at each temperature (step, lane).

    Rises are in proportion to thermal resistances: with next to none a part is as hot as the
    air is, and its rise grows by what its loss at this temperature makes of each more.
    """
    count, found = temperatures.shape[1], np.full(temperatures.shape, np.nan)
    twice = np.tile(np.arange(count), len(SHARES))
    shares = np.repeat(SHARES, count)
    held: dict[Name, Array | float] = dict(chosen(lanes, twice))
    held |= scaled(survey.model, held, thermal, shares)
    at: OperatingPoints | None = None
    for step, row in enumerate(temperatures):
        held[AMBIENT] = row[twice]
        if at is None:
            at = survey.solve(held, twice.size, None, survey.states.working)
        else:
            at = survey.engine(held, twice.size, at, "near")
        if not at.solved.any():
            break
        below, above = at.of(ref, "junction").reshape(len(SHARES), count)
        slope = (above - below) / (SHARES[1] - SHARES[0])
        found[step] = below - row + (1.0 - SHARES[0]) * slope
    return found
