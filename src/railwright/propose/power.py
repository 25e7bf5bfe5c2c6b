"""What a supply takes and gives, at points and over its range, with typical parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.need import Need, Output
from railwright.surveys.fixture import SOURCE
from railwright.surveys.mains import MainsView, as_fed
from railwright.surveys.operating_range import Points, settings_of
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
PLACES = 7
"""On each axis of a map."""
LEAST_LOAD = 0.1
"""Share of full load where a map begins: with none, nothing that is taken is of use."""


@dataclass(frozen=True)
class Power:
    """At one point; not-a-number where it was not solved."""

    given: float
    """W to the loads."""
    taken: float
    """W from the source."""

    @property
    def loss(self) -> float:
        """W that become heat."""
        return self.taken - self.given

    @property
    def efficiency(self) -> float:
        """Share of what is taken that reaches the loads."""
        return self.given / self.taken


@dataclass(frozen=True)
class PowerMap:
    """Over the range, in the hottest air; not-a-number where a point was not solved."""

    axes: Mapping[str, Array]
    """Load [A] across; output setting, or input where the output is fixed [V], up where it moves.
    Of several rails the first gives the numbers; all are at the same share of their ranges."""
    given: Array
    """W to the loads, in the order of `axes`."""
    taken: Array
    """W from the source, likewise."""

    @property
    def loss(self) -> Array:
        """W that become heat."""
        return self.taken - self.given

    @property
    def efficiency(self) -> Array:
        """Share of what is taken that reaches the loads."""
        return self.given / self.taken


def power_at(survey: Survey, points: Points) -> tuple[Array, Array]:
    """What is given and what is taken at points (point,) [W]."""
    view = as_fed(survey, AS_SET).view(survey, points, survey.typical(points.count), None)
    if isinstance(view, MainsView):
        moments = next(view.moments())
        taken = -moments.of_course("mean", SOURCE, "power")
        given, taken = _means(_given(moments, moments.points), points), _means(taken, points)
    else:
        taken = points.input * np.abs(view.at.of(SOURCE, "current"))
        given = _given(view, points)
    solved = view.solved
    return np.where(solved, given, np.nan), np.where(solved, taken, np.nan)


def power_map(survey: Survey) -> PowerMap:
    """Power over load and setting, or over load and input where every output is fixed."""
    need = survey.fixture.design.need
    first, volts = need.output[0], need.input.voltage
    shares = np.linspace(0.0, 1.0, PLACES)
    loads = np.linspace(LEAST_LOAD, 1.0, PLACES)
    axes = {f"load {first.name}": loads * first.current.max}
    input = np.array([volts.nominal])
    if any(output.is_adjustable for output in need.output):
        axes[f"output {first.name}"] = _along(first, shares)
    else:
        input = np.linspace(volts.min, volts.max, PLACES if volts.min < volts.max else 1)
        shares = np.ones(input.size)
        if input.size > 1:
            axes["input"] = input
    up = np.tile(np.arange(shares.size), loads.size)
    fed = np.broadcast_to(input, shares.shape)[up]
    points = points_of(need, shares[up], np.repeat(loads, shares.size), fed)
    given, taken = power_at(survey, points)
    shape = [places.size for places in axes.values()]
    return PowerMap(axes, given.reshape(shape), taken.reshape(shape))


def points_of(need: Need, share: Array, load: Array, input: Array) -> Points:
    """Points (point,) in the hottest air, all rails at a share of their range and full load."""
    return Points(
        {o.name: _along(o, share) for o in need.output},
        {o.name: load * o.current.max for o in need.output},
        input,
        np.full(input.size, need.surroundings.ambient.max),
    )


def _along(output: Output, share: Array) -> Array:
    low, high = settings_of(output)
    return low + share * (high - low)


def _given(view: View, points: Points) -> Array:
    """To the loads, by lane [W]."""
    found: Array = sum(
        (view.output(rail) * current for rail, current in points.loads.items()),
        start=np.zeros(points.count),
    )
    return found


def _means(of_instants: Array, points: Points) -> Array:
    """Means over each point's instants."""
    found: Array = of_instants.reshape(points.count, -1).mean(axis=1)
    return found
