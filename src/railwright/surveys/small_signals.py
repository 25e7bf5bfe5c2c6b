"""A supply at rest under small disturbances: its poles, and every loop that it has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, Self, cast

import numpy as np
from numpy.typing import NDArray

from railwright.engine.linear import Linear, linearise
from railwright.engine.loop import NIL, Loop, loop
from railwright.engine.model import MissingValue, Name
from railwright.engine.poles import FASTEST, NEGLIGIBLE, Poles, moved, poles
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.surveys.courses import capacitances, corners
from railwright.surveys.depth import DEFAULT
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, Situation, Thrift, View, Which
from railwright.surveys.spread import unpublished_loops
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
FREQUENCIES = np.geomspace(1.0, 1e8, 65)
"""Where loops are looked at [Hz]: eight to the decade; what hides between two is found."""
CUTS = 5
"""Of the gaps in which loops pass 1: margins are right to a thousandth of a degree."""
AROUND = np.geomspace(0.25, 4.0, 7)
"""Shares of a known crossing at which a loop is looked at where an estimate will do."""
LEAST_STORE = 1e-9
"""F; less across a load is none. What lies between it and the greatest is looked at by decades."""
OFF = 0.2
"""Share of a rail's highest setting; one that is off by more does not work: told elsewhere."""
STRETCH, SHOWS = 1.5, 0.05
"""A loop that changes by more than this share when values of a part grow by that factor runs
through the part."""


class Margins(NamedTuple):
    """What describes a loop, over lanes."""

    phase: Array
    """[°]; infinite where the loop's gain does not pass 1."""
    crossing: Array
    """Where it is that small [Hz]; not-a-number where the gain does not pass 1."""


@dataclass(frozen=True, kw_only=True)
class SmallSignalView(View):
    """Lanes as set, with their poles and loops."""

    linear: Linear | None
    """None where no lane has an operating point."""
    slowest: Complex
    """Of each lane the pole that decays least over its size [rad/s]; not-a-number if unknown."""
    margins: Mapping[Name, Margins]

    @property
    def growth(self) -> Array:
        """Real part of that pole over its size, below nil where it decays."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self.slowest.real / np.abs(self.slowest), float)

    @property
    def ringing(self) -> Array:
        """Natural frequency of that pole [Hz]."""
        return np.abs(self.slowest) / (2.0 * np.pi)

    @property
    def solved(self) -> NDArray[np.bool_]:
        return super().solved & ~np.isnan(self.slowest)

    @property
    def works(self) -> NDArray[np.bool_]:
        """Lanes in which every rail is somewhere near its setting: else there is no supply."""
        off = [
            np.abs(self.output(rail) - volts)
            <= OFF * np.abs(self.survey.range.settings[rail]).max()
            for rail, volts in self.points.settings.items()
        ]
        return np.asarray(np.all(off, axis=0))

    def take(self, which: Which) -> Self:
        return replace(
            super().take(which),
            linear=self.linear and self.linear.take(which),
            slowest=self.slowest[which],
            margins={n: Margins(*(row[which] for row in m)) for n, m in self.margins.items()},
        )


class SmallSignals(Situation):
    """As set, and disturbed a little, with all capacitance that the loads may have.

    At the corners of the range. What shapes a part's own loop and has no published limits stays
    typical: whether such a loop is stable is told by the published window of the parts around it.
    """

    name = "small signals"
    scope = "in cycles"
    since = DEFAULT
    thrift = Thrift(anchors=1, corners=False, turns=0, sampled=1, samples=32, vertices=4)
    deep = Thrift(anchors=4, corners=False, turns=1, sampled=4, samples=256)
    on_mains = False

    def unready(self, survey: Survey) -> str:
        return survey.once(_unready)

    def assumes(self, survey: Survey) -> Sequence[str]:
        return unpublished_loops(survey.fixture.circuit)

    def points(self, survey: Survey) -> Points:
        least = {rail: ends[0] for rail, ends in capacitances(survey).items()}
        found = corners(survey)
        bare = [found.capacitances[rail] == farads for rail, farads in least.items()]
        plain = found.take(np.flatnonzero(np.all(bare, axis=0))) if bare else found
        return _stored(plain, {r: _by_decades(*e) for r, e in capacitances(survey).items()})

    def view(
        self, survey: Survey, points: Points, actual: Array, near: View | None
    ) -> SmallSignalView:
        at = AS_SET.view(survey, points, actual, near).at
        loops = survey.once(known_loops)
        none = np.full(points.count, np.nan)
        if not at.solved.any():
            unknown = {name: Margins(none, none) for name in loops}
            return SmallSignalView(
                survey, points, at, linear=None, slowest=none + 0j, margins=unknown
            )
        linear = linearise(quiescent(at))
        before = cast(SmallSignalView, near) if survey.rough else None
        if before is None or before.linear is None:
            slowest = least_decaying(poles(linear, exact=False))
            margins = {name: _margins(loop(linear, *name, FREQUENCIES, CUTS)) for name in loops}
        else:
            slowest = moved(linear, before.linear, before.slowest)
            margins = {n: _moved_margins(linear, n, m) for n, m in before.margins.items()}
        return SmallSignalView(survey, points, at, linear=linear, slowest=slowest, margins=margins)


SMALL_SIGNALS = SmallSignals()


def _by_decades(least: float, most: float) -> Array:
    """Capacitances from the least to the greatest, those by decades below the greatest between."""
    between = most / 10.0 ** np.arange(1, 1 + np.log10(max(most, LEAST_STORE) / LEAST_STORE))
    inner = between[between > max(least, LEAST_STORE)]
    return np.unique(np.concatenate([[least, most], inner]))


def _stored(points: Points, axes: Mapping[str, Array]) -> Points:
    """All the same points with each capacitance in turn, those of several rails side by side."""
    if not axes:
        return points
    places = np.arange(max(axis.size for axis in axes.values()))
    again = points.take(np.tile(np.arange(points.count), places.size))
    stores = {
        rail: np.repeat(axis[np.minimum(places, axis.size - 1)], points.count)
        for rail, axis in axes.items()
    }
    return replace(again, capacitances=stores)


def least_decaying(natural: Poles) -> Complex:
    """The pole that decays least over its size, of each lane; not-a-number where rounding hides
    whether one decays."""
    size = np.abs(natural.value)
    with np.errstate(invalid="ignore"):
        judged = size > NEGLIGIBLE
        share = np.where(judged, natural.value.real / size, -1.0)
        hidden = judged & (natural.doubt > np.abs(natural.value.real))
    which = np.argmax(np.where(np.isnan(share), -np.inf, share), axis=1)
    found = natural.value[np.arange(which.size), which]
    found = np.where(np.isnan(found), -FASTEST, found)  # none at all: nothing is stored
    return np.where(natural.solved & ~hidden.any(axis=1), found, np.nan)


def _margins(found: Loop) -> Margins:
    """The margin nearest to nil, and where that is."""
    passed = found.gain_crossings
    phase = np.where(found.solved, np.inf, np.nan)
    crossing = np.full(found.solved.size, np.nan)
    for lane, frequency, margin in zip(passed.lane, passed.frequency, passed.margin, strict=True):
        if abs(margin) < abs(phase[lane]):
            phase[lane], crossing[lane] = margin, frequency
    return Margins(phase, crossing)


def _moved_margins(linear: Linear, name: Name, before: Margins) -> Margins:
    """Margins near the crossings that lanes had before."""
    phase, crossing = before.phase.copy(), before.crossing.copy()
    for frequency in np.unique(crossing[~np.isnan(crossing)]):
        own = np.flatnonzero(crossing == frequency)
        there = _margins(loop(linear.take(own), *name, frequency * AROUND, CUTS))
        passes = np.isfinite(there.phase)
        phase[own[passes]] = there.phase[passes]
    return Margins(phase, crossing)


def _at_rest(survey: Survey) -> Quiescent:
    """Typical parts at the middle of the range."""
    view = AS_SET.view(survey, survey.range.middle(), survey.typical(1), None)
    return quiescent(view.at)


def _unready(survey: Survey) -> str:
    try:
        survey.once(known_loops)
    except MissingValue as error:
        return f"{error}, which tells how it behaves in time. State it."
    return ""


def stores(survey: Survey) -> bool:
    """Whether there is anything in a supply that disturbances could ring in, as far as is known."""
    rest = _at_rest(survey)
    loads = any(ends[-1] > 0 for ends in capacitances(survey).values())
    return loads or not rest.solved.any() or bool(np.any(linearise(rest).matrices[1]))


def known_loops(survey: Survey) -> tuple[Name, ...]:
    """The loops whose margins can be told: those that run through nothing unpublished.

    What nobody published of a part's own loop is left to the published window of the parts around
    it. Parts of two states rest at either, and have no loop to judge.
    """
    rest = _at_rest(survey)
    if not rest.solved.any():
        return ()
    linear = linearise(rest)
    parts = {part.ref: part for part in survey.fixture.circuit.parts}
    found = [
        loop(linear, ref, name, FREQUENCIES)
        for ref, name in linear.system.signals
        if ref in parts and not parts[ref].device.two_state
    ]
    hidden = linearise(_stretched(survey, rest))
    return tuple(
        (each.ref, each.name)
        for each in found
        if (np.abs(each.ratio) > NIL).any() and not _differs(each, hidden)
    )


def _stretched(survey: Survey, rest: Quiescent) -> Quiescent:
    """The same with all that is unpublished of the parts' own loops made larger."""
    values = {
        (part.ref, name): STRETCH * value.spread.typical
        for part in survey.fixture.circuit.parts
        for name, value in part.values.items()
        if value.assumed and part.device.values[name].own_loop
    }
    return replace(rest, lanes={**rest.lanes, **values})


def _differs(known: Loop, elsewhere: Linear) -> bool:
    other = loop(elsewhere, known.ref, known.name, FREQUENCIES)
    size = np.abs(known.ratio)
    near = (size > 0.1) & (size < 10.0)
    change = np.abs(other.ratio - known.ratio)
    return bool((change[near] > SHOWS * size[near]).any())
