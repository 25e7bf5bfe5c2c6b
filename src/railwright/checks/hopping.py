"""Hopping: whether a current limit that has taken over holds still, and hands back in peace."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Self, cast

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import Check, Worst, at_most, least
from railwright.checks.limiting import LEVELS, OVERLOADED, limited_rails
from railwright.engine.linear import linearise
from railwright.engine.poles import poles
from railwright.engine.quiescent import quiescent
from railwright.engine.solutions import OperatingPoints
from railwright.quantity import show
from railwright.surveys.courses import corners
from railwright.surveys.depth import DEFAULT
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import load_ref
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import Situation, Thrift, View, Which
from railwright.surveys.small_signals import SMALL_SIGNALS, least_decaying
from railwright.surveys.spread import unpublished_loops
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
KNEE = (0.98, 1.0, 1.02)
"""Loads around the one at which the voltage would just be held: there both loops are at work."""
WELL_DAMPED = 0.5
"""Damping with typical parts from which on samples alone look at the spread."""
DIES = 0.01
"""Damping below which a disturbance rings for so long that a little more would keep it going."""


@dataclass(frozen=True, kw_only=True)
class HoppingView(View):
    """Rails in their limit and about it, with the pole that decays least there."""

    slowest: Mapping[str, Complex]
    """By the rail and how heavy its load is [rad/s] (lane)."""

    @property
    def solved(self) -> NDArray[np.bool_]:
        known = [~np.isnan(pole) for pole in self.slowest.values()]
        return np.asarray(super().solved & np.all(known, axis=0))

    def take(self, which: Which) -> Self:
        slowest = {name: pole[which] for name, pole in self.slowest.items()}
        return replace(super().take(which), slowest=slowest)


class Hopping(Situation):
    """As overloaded, and loaded so that voltage and current are both just held, at the corners."""

    name = "in the limit"
    scope = "in cycles"
    since = DEFAULT
    thrift = Thrift(anchors=1, corners=False, estimated=False, turns=0, sampled=1, samples=16,
                    vertices=2)  # fmt: skip
    on_mains = False

    def applies(self, survey: Survey) -> bool:
        return bool(limited_rails(survey))

    def unready(self, survey: Survey) -> str:
        return SMALL_SIGNALS.unready(survey)

    def assumes(self, survey: Survey) -> Sequence[str]:
        return unpublished_loops(survey.fixture.circuit)

    def points(self, survey: Survey) -> Points:
        return corners(survey, [{rail: axis[-1] for rail, axis in survey.range.loads.items()}])

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> HoppingView:
        over = OVERLOADED.view(survey, points, actual, None)
        beside = dict(over.beside)
        for rail in limited_rails(survey):
            known = over.beside[f"{rail} {LEVELS[0]:g}"]
            limit = np.nan_to_num(known.of(load_ref(rail), "current"), nan=1.0)
            for share in KNEE:
                loads = {**points.loads, rail: share * limit}
                lanes = survey.lanes(replace(points, loads=loads), actual)
                lanes |= {
                    name: known.inputs[name]
                    for name in survey.controls_of_role("set")
                    if name in known.inputs
                }
                beside[f"{rail} about {share:g}"] = survey.solve(
                    lanes, points.count, known, survey.states.working
                )
        slowest = {name: _slowest(at) for name, at in beside.items()}
        return HoppingView(survey, points, over.at, beside, slowest=slowest)


HOPPING = Hopping()


def _slowest(at: OperatingPoints) -> Complex:
    if not at.solved.any():
        return np.full(at.solved.size, np.nan + 0j)
    return least_decaying(poles(linearise(quiescent(at)), exact=False))


class HoldsStill(Check):
    """Damping in the limit, under heavy loads, and where voltage and current control meet.

    Two loops that pass control to and fro show as poles that grow where both are at work.
    """

    id = "stability.in-limit"
    question = "Does a current limit that takes over hold still, and hand back without hopping?"
    source = "poles of the linearised circuit; any textbook of control (from memory)"
    analysis = (
        "The rail is loaded with resistances that would take 1.2, 2 and 4 times the current by "
        "which the limit must act, and with 0.98, 1 and 1.02 times what the limit lets through, "
        "where both loops are at work. Margin = damping ratio -Re(s) / |s| of the pole that decays "
        "least. At the corners of the range, at full load elsewhere. Reserve = margin; 1 % is "
        "wanted."
    )
    example = (
        "An amplifier of 1 MHz that drives a follower with a lag at 20 kHz has, in control of the "
        "current, a damping ratio of `0.5 × sqrt(20 kHz / 1 MHz) = 0.0707`."
    )
    situation = HOPPING
    unit = "1"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return limited_rails(survey)

    def answer(self, view: View, subject: str) -> Answer:
        answers = [
            at_most(_growth(pole), 0.0)
            for name, pole in cast(HoppingView, view).slowest.items()
            if name.startswith(f"{subject} ")
        ]
        return replace(least(answers), margins=(), ample=WELL_DAMPED)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return 1.0

    def wanted(self, survey: Survey) -> float:
        return DIES

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        rings = ""
        if worst.view is not None:
            several = cast(HoppingView, worst.view).slowest
            lowest = max(several.values(), key=lambda pole: float(_growth(pole)[0]))
            rings = f" at {show(float(np.abs(lowest[0])) / (2.0 * np.pi), 'Hz')}"
        if worst.margin < 0:
            return f"In its current limit {subject} swings{rings} by itself ({worst.place})."
        return (
            f"In its current limit, and where that hands over, {subject} holds still; what lasts "
            f"longest{rings} has a damping ratio of {show(-worst.value, '1')} ({worst.place})."
        )


def _growth(pole: Complex) -> Array:
    """Real part over size, below nil where it decays."""
    with np.errstate(invalid="ignore"):
        return np.asarray(pole.real / np.abs(pole), float)
