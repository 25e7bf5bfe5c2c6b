"""One operating point with typical parts: net voltages, heat, and the ripple at the output."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from railwright.checks.ripple import of_cycles
from railwright.circuit.design import Design
from railwright.prove.proof import Place
from railwright.prove.run import looked_past
from railwright.prove.words import place_of
from railwright.surveys.curves import Curves
from railwright.surveys.cycles import CycleView
from railwright.surveys.depth import QUICK
from railwright.surveys.fixture import Fixture
from railwright.surveys.mains import IN_USE, MainsView, as_fed
from railwright.surveys.operating_range import Choice, Points
from railwright.surveys.situations import AS_SET
from railwright.surveys.stages import common
from railwright.surveys.survey import Survey


@dataclass(frozen=True)
class AtPoint:
    """What was found at one point; empty where there is no solution."""

    place: Place
    volts: Mapping[str, float]
    """Net -> against the common net, in the order of the circuit [V]; on mains the mean."""
    heat: Mapping[str, float]
    """Part -> what it turns into heat, of those that tell it [W]; on mains the mean."""
    junctions: Mapping[str, float]
    """Part -> its hottest place inside, of those that tell it [K]."""
    ripple: Mapping[str, Curves]
    """Rail -> its terminals in the switching cycle, where something switches."""


def at_point(design: Design, choice: Choice) -> AtPoint:
    """Solve a design at one point, switching cycle included. BeyondRange as `OperatingRange`."""
    survey = looked_past(Survey(Fixture.of(design), depth=QUICK))
    points = survey.range.chosen(choice)
    place = place_of(points, 0)
    view = as_fed(survey, AS_SET).view(survey, points, survey.typical(1), None)
    if not view.solved[0]:
        return AtPoint(place, {}, {}, {}, {})
    at = next(view.moments()).at if isinstance(view, MainsView) else view.at
    circuit = survey.fixture.circuit
    black = at.potential(common(design))
    volts = {net: float(np.mean(at.potential(net) - black)) for net in circuit.nets}

    def told(observable: str) -> dict[str, float]:
        parts = [p.ref for p in circuit.parts if observable in p.device.observes]
        found = {ref: float(np.mean(at.of(ref, observable))) for ref in parts}
        return {ref: value for ref, value in found.items() if np.isfinite(value)}

    return AtPoint(place, volts, told("power"), told("junction"), _ripple(survey, points))


def _ripple(survey: Survey, points: Points) -> Mapping[str, Curves]:
    situation = as_fed(survey, IN_USE)
    if not situation.applies(survey) or situation.unready(survey):
        return {}
    scoped = survey.within(situation.scope)
    view = situation.view(scoped, points, scoped.typical(1), None)
    if not isinstance(view, CycleView) or not view.solved[0]:
        return {}
    rails: Sequence[str] = list(survey.fixture.rails)
    return {rail: of_cycles(*view.waveform(rail)) for rail in rails}
