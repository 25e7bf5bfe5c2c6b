"""Regulators whose feedback passes more of their output on than a divider would.

A level shift holds a difference above another rail, or a part of the output goes past the divider:
the loop has that much more gain, and passes a gain of 1 at a higher frequency, than the datasheet
had in view when it advised coil and capacitors.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from railwright.engine.linear import Linear, linearise
from railwright.engine.loop import driven, loop
from railwright.engine.model import MissingValue
from railwright.engine.ports import Potential
from railwright.engine.quiescent import quiescent
from railwright.surveys.courses import corners
from railwright.surveys.cycles import clocks
from railwright.surveys.depth import DEFAULT
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, Situation, Thrift, View, Which
from railwright.surveys.spread import unpublished_loops
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
FREQUENCIES = np.geomspace(10.0, 1e6, 101)
"""Where these loops are looked at [Hz]: twenty to the decade, between which they are smooth."""
MORE = 1.5
"""Times what a divider passes on, from which on a feedback is looked at."""
ERROR = "error"
"""The signal at which the loop of a switching regulator can be opened."""


class Followed(NamedTuple):
    """A loop as it is, and as it would be with a divider for the same voltage, over lanes."""

    phase: Array
    """Margin [°]; infinite where the loop's gain does not pass 1."""
    crossing: Array
    """Where it is that small [Hz]."""
    divided_phase: Array
    divided_crossing: Array
    more: Array
    """Times what the divider would pass on."""


@dataclass(frozen=True, kw_only=True)
class TrackingView(View):
    """Lanes as set, with those loops."""

    loops: Mapping[str, Followed]
    """By the regulator's ref."""

    @property
    def solved(self) -> NDArray[np.bool_]:
        known = [~np.isnan(found.phase) for found in self.loops.values()]
        return np.asarray(super().solved & np.all(known, axis=0))

    def take(self, which: Which) -> Self:
        loops = {ref: Followed(*(row[which] for row in own)) for ref, own in self.loops.items()}
        return replace(super().take(which), loops=loops)


class Tracking(Situation):
    """As set, at the corners of the range, the loop of each regulator whose feedback tracks.

    What shapes its loop and has no published limits stays typical.
    """

    name = "tracking"
    scope = "in cycles"
    since = DEFAULT
    thrift = Thrift(anchors=1, corners=False, estimated=False, turns=0, sampled=1, samples=16,
                    vertices=2)  # fmt: skip
    deep = Thrift(anchors=2, corners=False, turns=1, sampled=4, samples=256)
    on_mains = False

    def applies(self, survey: Survey) -> bool:
        return bool(survey.once(tracking_regulators))

    def assumes(self, survey: Survey) -> Sequence[str]:
        return unpublished_loops(survey.fixture.circuit)

    def points(self, survey: Survey) -> Points:
        return corners(survey)

    def view(
        self, survey: Survey, points: Points, actual: Array, near: View | None
    ) -> TrackingView:
        view = AS_SET.view(survey, points, actual, near)
        refs = survey.once(tracking_regulators)
        if view.at.solved.any():
            linear = linearise(quiescent(view.at))
            loops = {ref: _followed(view, linear, ref) for ref in refs}
        else:
            unknown = np.full(points.count, np.nan)
            loops = {ref: Followed(*(unknown,) * len(Followed._fields)) for ref in refs}
        return TrackingView(survey, points, view.at, loops=loops)


TRACKING = Tracking()


def tracking_regulators(survey: Survey) -> tuple[str, ...]:
    """Switching regulators whose feedback passes more on than a divider, half way in the range."""
    view = AS_SET.view(survey, survey.range.middle(), survey.typical(1), None)
    if not view.at.solved.all():
        return ()
    try:
        linear = linearise(quiescent(view.at))
        return tuple(
            ref
            for ref in clocks(survey.fixture.circuit)
            if (ref, ERROR) in linear.system.signals
            and _nets(survey, ref) is not None
            and not abs(_more(view, linear, ref)[0, 0]) <= MORE  # nor is it known to be less
        )
    except MissingValue:
        return ()


def _nets(survey: Survey, ref: str) -> tuple[str, str, str] | None:
    """Feedback pin, the stage's output and the net that both count from; None without a coil."""
    part = survey.fixture.circuit.part(ref)
    links = survey.model.topology.element[ref].links
    if "feedback" not in part.pins or "coil" not in links:
        return None
    ground = part.pins.get("ground", survey.fixture.ground)
    # A coil that comes from the input or from ground has the output behind the diode.
    ends = {part.pins.get("switch"), part.pins.get("input"), ground}
    if "coupling" in links:
        ends |= {*survey.fixture.circuit.part(links["coupling"]).pins.values()}
    behind = (
        net
        for link in ("coil", "freewheel")
        if link in links
        for net in survey.fixture.circuit.part(links[link]).pins.values()
        if net not in ends
    )
    output = next(behind, None)
    return None if output is None else (part.pins["feedback"], output, ground)


def _divided(view: View, ref: str) -> Array:
    """What a divider would pass on: feedback over output voltage."""
    nets = _nets(view.survey, ref)
    assert nets is not None  # or else the regulator is none of those
    feedback, output, ground = (view.at.potential(net) for net in nets)
    return np.asarray((feedback - ground) / (output - ground), float)


def _more(view: View, linear: Linear, ref: str) -> Complex:
    """Times that share that the feedback passes on (lane, frequency)."""
    nets = _nets(view.survey, ref)
    assert nets is not None
    feedback, output, ground = nets
    ports = [Potential(feedback, ground), Potential(output, ground)]
    moved = driven(linear, ref, ERROR, ports, FREQUENCIES)
    with np.errstate(divide="ignore", invalid="ignore"):
        passed = moved[:, 0] / moved[:, 1]
        return np.asarray(np.abs(passed) / np.abs(_divided(view, ref))[:, None]) * _turn(passed)


def _turn(passed: Complex) -> Complex:
    """The phase of what is passed on, as a factor of size 1; a divider has none."""
    return np.asarray(passed / np.abs(passed))


def _followed(view: View, linear: Linear, ref: str) -> Followed:
    ratio = loop(linear, ref, ERROR, FREQUENCIES).ratio
    more = _more(view, linear, ref)
    phase, crossing = _margin(ratio)
    divided_phase, divided_crossing = _margin(ratio / more)
    at = np.searchsorted(FREQUENCIES, np.where(np.isnan(crossing), FREQUENCIES[0], crossing))
    place = np.minimum(at, FREQUENCIES.size - 1)
    size = np.abs(more[np.arange(len(more)), place])
    return Followed(phase, crossing, divided_phase, divided_crossing, size)


def _margin(ratio: Complex) -> tuple[Array, Array]:
    """Of each lane the phase margin nearest to nil [°], and where the gain passes 1 there [Hz]."""
    size = np.log(np.maximum(np.abs(ratio), np.finfo(float).tiny))
    angle = np.degrees(np.unwrap(np.angle(-ratio), axis=1))
    phase = np.where(np.isnan(ratio).any(axis=1), np.nan, np.inf)
    crossing = np.full(len(ratio), np.nan)
    step = np.log(FREQUENCIES)
    for lane, place in zip(*np.nonzero(size[:, :-1] * size[:, 1:] < 0), strict=True):
        before, after = size[lane, place], size[lane, place + 1]
        share = before / (before - after)
        there = angle[lane, place] + share * (angle[lane, place + 1] - angle[lane, place])
        there = (there + 180.0) % 360.0 - 180.0
        if abs(there) < abs(phase[lane]):
            phase[lane] = there
            crossing[lane] = np.exp(step[place] + share * (step[place + 1] - step[place]))
    return phase, crossing
