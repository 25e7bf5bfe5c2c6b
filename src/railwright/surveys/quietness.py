"""A supply at rest and what its parts make of noise at the terminals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Self, cast

import numpy as np
from numpy.typing import NDArray

from railwright.engine.linear import Linear, linearise
from railwright.engine.model import MissingValue
from railwright.engine.noise import noise, noise_in_band
from railwright.engine.ports import Potential
from railwright.engine.quiescent import quiescent
from railwright.surveys.courses import corners
from railwright.surveys.depth import DEFAULT
from railwright.surveys.fixture import terminals
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, Situation, Thrift, View, Which
from railwright.surveys.spread import unpublished_loops
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
LOW, HIGH = 10.0, 100e3
"""Hz; the band in which noise is stated, that of most datasheets of regulators."""
SHOWN = 161
"""Frequencies of a band that is drawn."""
ROUGH = 2
"""Frequencies to the decade where an estimate will do."""


@dataclass(frozen=True, kw_only=True)
class NoiseView(View):
    """Lanes as set, with the noise at every rail that is to be quiet, by part [V rms]."""

    by_part: Mapping[str, Mapping[str, Array]]
    """Rail -> ref -> its share (lane); squares add up."""
    roughly: Mapping[str, Array]
    """Rail -> all of it as estimates have it (lane)."""

    def noise(self, rail: str) -> Array:
        """All noise at the terminals of a rail [V rms]."""
        return np.asarray(np.sqrt(sum(share**2 for share in self.by_part[rail].values())), float)

    @property
    def solved(self) -> NDArray[np.bool_]:
        known = [np.isfinite(self.noise(rail)) for rail in self.by_part]
        return np.asarray(super().solved & np.all(known, axis=0))

    def take(self, which: Which) -> Self:
        return replace(
            super().take(which),
            by_part={
                rail: {ref: share[which] for ref, share in parts.items()}
                for rail, parts in self.by_part.items()
            },
            roughly={rail: row[which] for rail, row in self.roughly.items()},
        )


class Quietness(Situation):
    """As set, with the noise that the parts make, from 10 Hz to 100 kHz; the source brings none.

    At the corners of the range, with the least and the greatest capacitance of the loads.
    """

    name = "noise"
    scope = "in cycles"
    since = DEFAULT
    thrift = Thrift(anchors=1, corners=False, turns=0, sampled=1, samples=16, vertices=2)
    deep = Thrift(anchors=4, corners=False, turns=1, sampled=4, samples=256)
    on_mains = False

    def applies(self, survey: Survey) -> bool:
        return bool(quiet_rails(survey))

    def unready(self, survey: Survey) -> str:
        return survey.once(_unready)

    def assumes(self, survey: Survey) -> Sequence[str]:
        return unpublished_loops(survey.fixture.circuit)

    def points(self, survey: Survey) -> Points:
        return corners(survey)

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> NoiseView:
        at = AS_SET.view(survey, points, actual, near).at
        rails = quiet_rails(survey)
        unknown = np.full(points.count, np.nan)
        if not at.solved.any():
            return NoiseView(
                survey,
                points,
                at,
                by_part={rail: {"": unknown} for rail in rails},
                roughly=dict.fromkeys(rails, unknown),
            )
        linear = linearise(quiescent(at))
        roughly = {rail: _all(_by_part(survey, linear, rail, True)) for rail in rails}
        if survey.rough and near is not None:
            before = cast(NoiseView, near)
            by_part = {
                rail: {"": before.noise(rail) * roughly[rail] / before.roughly[rail]}
                for rail in rails
            }
        else:
            by_part = {rail: dict(_by_part(survey, linear, rail, False)) for rail in rails}
        return NoiseView(survey, points, at, by_part=by_part, roughly=roughly)


QUIETNESS = Quietness()


def quiet_rails(survey: Survey) -> list[str]:
    """Rails of which the need says how much noise they may have."""
    return [rail for rail, output in survey.fixture.rails.items() if output.noise is not None]


def density_of(view: View, rail: str) -> tuple[Array, Array]:
    """Frequencies of the band [Hz], and the noise density at the terminals [V/√Hz], of one lane."""
    nets = terminals(view.survey.fixture.rails[rail])
    frequency = np.geomspace(LOW, HIGH, SHOWN)
    found = noise(linearise(quiescent(view.at)), Potential(nets.plus, nets.minus), frequency)
    (power,) = found.density
    return frequency, np.sqrt(power)


def _by_part(survey: Survey, linear: Linear, rail: str, rough: bool) -> Mapping[str, Array]:
    nets = terminals(survey.fixture.rails[rail])
    output = Potential(nets.plus, nets.minus)
    if rough:
        found = noise_in_band(linear, output, LOW, HIGH, a_decade=ROUGH, halvings=0)
    else:
        found = noise_in_band(linear, output, LOW, HIGH)
    return {ref: np.where(found.solved, share, np.nan) for ref, share in found.by_part.items()}


def _all(by_part: Mapping[str, Array]) -> Array:
    return np.asarray(np.sqrt(sum(share**2 for share in by_part.values())), float)


def _unready(survey: Survey) -> str:
    at = AS_SET.view(survey, survey.range.middle(), survey.typical(1), None).at
    if not at.solved.any():
        return ""
    try:
        linear = linearise(quiescent(at))
        for rail in quiet_rails(survey):
            _by_part(survey, linear, rail, True)
    except MissingValue as error:
        return f"{error}, which noise depends on. State it."
    except ValueError as error:
        return f"{error}."
    return ""
