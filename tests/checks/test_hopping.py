"""A supply in its current limit: still as it is, swinging once its integrator is taken away."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import numpy as np
import pytest
from scipy import linalg

from railwright.checks.hopping import HOPPING, HoldsStill, HoppingView
from railwright.circuit.design import read_text
from railwright.engine.linear import linearise
from railwright.engine.quiescent import quiescent
from railwright.surveys.extremes import Extreme, explore
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey

LIMITED = Path(__file__).parents[2] / "examples" / "bench-twelve-volts-limited.toml"
TEXT = LIMITED.read_text("utf-8")
INTEGRATOR = 'use = "film 22 nF 100 V"'


def found(text: str) -> Extreme:
    survey = Survey(Fixture.of(read_text(text, "limited.toml")))
    question = HoldsStill().answer
    return explore(survey, HOPPING, {"it": lambda view: question(view, "main")}, 1)["it"]


def least_damping(view: HoppingView) -> float:
    """Of all finite roots of det(G + s C), by a general solver, over all loads of a lane."""
    least = np.inf
    for at in view.beside.values():
        conductive, storing = (m[0] for m in linearise(quiescent(at)).matrices)
        roots = linalg.eigvals(-conductive, storing)
        roots = roots[np.isfinite(roots) & (np.abs(roots) < 1e11) & (np.abs(roots) > 1.0)]
        least = min(least, float(np.min(-roots.real / np.abs(roots))))
    return least


def test_a_limit_with_an_integrator_holds_still() -> None:
    extreme = found(TEXT)
    assert extreme.margin > HoldsStill().wanted(extreme.lane.survey)
    assert extreme.unsolved == 0
    assert extreme.margin == pytest.approx(least_damping(cast(HoppingView, extreme.lane)), rel=1e-3)


def test_a_limit_without_its_integrator_swings() -> None:
    assert TEXT.count(INTEGRATOR) == 1
    extreme = found(TEXT.replace(INTEGRATOR, f'{INTEGRATOR}\ncapacitance = "22 pF"'))
    assert extreme.margin < 0
    assert extreme.margin == pytest.approx(least_damping(cast(HoppingView, extreme.lane)), rel=1e-3)


def test_both_loops_are_at_work_where_they_meet() -> None:
    """Under 0.98 of the limit the voltage is held, under 1.02 of it the current."""
    view = found(TEXT).lane
    volts = [view.output("main", f"main about {share:g}")[0] for share in (0.98, 1.0, 1.02)]
    assert volts[0] == pytest.approx(12.0, rel=0.04)
    assert volts[2] == pytest.approx(12.0 / 1.02, rel=0.04)
    assert volts[0] > volts[1] > volts[2]
