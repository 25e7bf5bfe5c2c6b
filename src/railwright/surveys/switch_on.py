"""A supply on alternating mains, switched on at the worst instants: what surges through its parts.

At the peak of the mains an empty reservoir takes the most; at their zero crossing the core of a
transformer does, since its flux then goes up to twice its usual peak, on top of what it kept from
the last time. Both are followed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Part
from railwright.devices.inductor import BEND
from railwright.devices.transformer import BENT
from railwright.engine.model import Name
from railwright.engine.quiescent import Quiescent
from railwright.engine.transient import Tolerance, transient
from railwright.surveys.depth import DEFAULT
from railwright.surveys.fixture import SOURCE, transforms
from railwright.surveys.mains import alternating, frequencies, unready
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, Situation, Thrift, View, Which
from railwright.surveys.spread import Scope
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
CLOSE = Tolerance(relative=1e-3, absolute=1e-5)
PERIODS = 6
"""Mains cycles that are followed; a reservoir is full by then, and surges of a core are past their
worst."""
INSTANTS = 150
"""In each of them."""
SOON = 1e-7
"""s; the first look at what flows as soon as the switch is closed."""
PHASES = (0.5 * np.pi, 0.0)
"""Of the sine when the switch closes: its peak, and where it rises through nil [rad]."""
REMANENCE = 0.5
"""Of the usual peak of its flux: what a core keeps, half in a core with joints and more in a ring
(common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class SurgeView(View):
    """Lanes as set, and the currents that surged before they came to be so."""

    currents: Mapping[str, Array]
    """Ref -> its current (lane, phase, instant) [A]."""
    times: Array
    """The instants [s]."""
    followed: NDArray[np.bool_]

    @property
    def solved(self) -> NDArray[np.bool_]:
        return super().solved & self.followed

    def take(self, which: Which) -> Self:
        return replace(
            super().take(which),
            currents={ref: row[which] for ref, row in self.currents.items()},
            followed=self.followed[which],
        )

    def peak(self, ref: str) -> Array:
        """The greatest current of a part [A]."""
        found: Array = np.abs(self.currents[ref]).max(axis=(1, 2))
        return found

    def heat(self, ref: str, settles: Array | float) -> Array:
        """Greatest mean square of a part's current that it still feels, above that in use [A²].

        settles: time [s] in which it forgets: dh/dt = (i² - h) / settles, from h = 0.
        """
        square = self.currents[ref] ** 2
        last = self.times >= self.times[-1] * (1.0 - 1.0 / PERIODS)
        square = square - square[:, :, last].mean(axis=2, keepdims=True)
        greatest = felt = np.zeros(square.shape[:2])
        for instant, step in enumerate(np.diff(self.times)):
            share = np.broadcast_to(-np.expm1(-step / settles), square.shape[:1])[:, None]
            mean = 0.5 * (square[:, :, instant] + square[:, :, instant + 1])
            felt = felt + share * (mean - felt)
            greatest = np.maximum(greatest, felt)
        found: Array = greatest.max(axis=1)
        return found


class SwitchOn(Situation):
    """The mains are switched on at their peak and at their zero crossing, the reservoir empty.

    At the highest mains and full load, where air, and so copper, is coldest. Parts that conduct
    are as warm as in use.
    """

    name = "switch-on"
    scope: Scope = "in cycles"
    since = DEFAULT
    on_mains = False
    thrift = Thrift(
        anchors=1, corners=False, enough=0.8, estimated=False, turns=0, sampled=1, samples=8
    )

    def applies(self, survey: Survey) -> bool:
        return survey.fixture.alternating

    def unready(self, survey: Survey) -> str:
        return survey.once(unready)

    def points(self, survey: Survey) -> Points:
        axes = survey.range
        return Points(
            {rail: axis[-1:] for rail, axis in axes.settings.items()},
            {rail: axis[-1:] for rail, axis in axes.loads.items()},
            axes.input[-1:],
            axes.ambient[:1],
        )

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> SurgeView:
        before = AS_SET.view(survey, points, actual, near)
        hertz = min(frequencies(survey))
        rest = alternating(survey, before.at, hertz)
        parts = surged(survey)
        even = np.linspace(0.0, PERIODS / hertz, PERIODS * INSTANTS + 1)
        times = np.unique(np.append(even, np.geomspace(SOON, even[1], INSTANTS // 3)))
        shape = points.count, len(PHASES), times.size
        if not rest.solved.any():
            nothing = dict.fromkeys(parts, np.full(shape, np.nan))
            return SurgeView(
                survey, points, before.at, currents=nothing, times=times, followed=rest.solved
            )
        which = np.repeat(np.arange(points.count), len(PHASES))
        survey.effort.add(which.size)
        begun = _begun(survey, rest.take(which), np.tile(PHASES, points.count), hertz)
        found = transient(
            begun.model,
            begun.lanes,
            begun.count,
            times,
            begun.x,
            {},
            CLOSE,
            [(ref, "current") for ref in parts],
            announce=survey.announce,
        )
        followed: NDArray[np.bool_] = np.all(found.solved.reshape(shape[:2]), axis=1)
        return SurgeView(
            survey,
            points,
            before.at,
            currents={ref: found.of(ref, "current").reshape(shape) for ref in parts},
            times=times,
            followed=followed,
        )


SWITCH_ON = SwitchOn()


def surged(survey: Survey) -> Sequence[str]:
    """Refs of the parts whose surge is of interest: what rectifies, and fuses."""
    return [
        p.ref for p in survey.fixture.circuit.parts if "current" in p.device.observes and _open(p)
    ]


def _open(part: Part) -> bool:
    return "forward_current" in part.device.ratings or "melting_integral" in part.device.values


def _begun(survey: Survey, rest: Quiescent, phases: Array, hertz: float) -> Quiescent:
    """Lanes with nothing stored but what cores keep, at these phases of the mains."""
    x = np.zeros_like(rest.x)
    usual = np.sqrt(2.0) * survey.range.nominal_input / (2.0 * np.pi * hertz)
    row = rest.model.topology.index
    for part in survey.fixture.circuit.parts:
        if transforms(part):
            x[row[part.ref, "magnetising"]] = _kept(rest, part.ref, REMANENCE * usual)
    lanes: dict[Name, Array | float] = {**rest.lanes, (SOURCE, "phase"): phases}
    return replace(rest, x=np.where(rest.solved, x, np.nan), lanes=lanes)


def _kept(rest: Quiescent, ref: str, flux: float) -> Array:
    """The magnetising current that stands for a flux which a core keeps, over lanes [A]."""
    coil, limit = rest.parameters([(ref, "magnetising_inductance"), (ref, "saturation_flux")])
    most = limit * BENT / BEND  # the flux of a core that is saturated for good
    share = np.minimum(flux / most, 0.99)
    return np.asarray(share / np.sqrt(1.0 - share**2) * most / coil)
