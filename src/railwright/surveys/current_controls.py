"""Controls of a current: where they stand while all else is looked at.

They are left where they let most through, so that they are out of the way of the voltage, and the
need's band of overload is that of the knob's end.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from railwright.engine.model import Name
from railwright.surveys.fixture import load_ref

if TYPE_CHECKING:
    from railwright.surveys.survey import Survey

HEAVY = 3.0
"""Times the greatest load: a limit holds less of it."""
STOPS = (0.0, 1.0)


def opened(survey: Survey) -> Mapping[Name, float]:
    """(part, input) of every control of a current -> the stop at which more flows."""
    controls = [c for c in survey.fixture.design.controls if c.quantity == "current"]
    found: dict[Name, float] = {}
    for control in controls:
        points = survey.range.middle().take(np.zeros(len(STOPS), np.intp))
        most = survey.fixture.rails[control.rail].current.max
        loads = {**points.loads, control.rail: np.full(len(STOPS), HEAVY * most)}
        lanes = survey.bare(replace(points, loads=loads), survey.typical(len(STOPS)))
        lanes[control.part, control.value] = np.array(STOPS)
        at = survey.engine(lanes, len(STOPS))
        amperes = at.of(load_ref(control.rail), "current")
        found[control.part, control.value] = STOPS[int(np.argmax(amperes))]
    return found
