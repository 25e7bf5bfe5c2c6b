"""The known ordering of kinds of supply at a large difference of input and output.

The linear one is the hottest and the quietest, the switcher the coolest and the noisiest; a linear
behind a switcher that follows it loses about what the switcher does and difference times current,
with a ripple near the linear's (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from railwright.architectures import every
from railwright.architectures.architecture import Refusal
from railwright.propose.power import points_of, power_at
from railwright.surveys.cycles import IN_CYCLES, CycleView
from railwright.surveys.fixture import Fixture
from railwright.surveys.situations import AS_SET
from railwright.surveys.survey import Survey
from tests.architectures.needs import plain, read_sketch, task_of

INPUT, OUTPUT, LOAD = 16.0, 5.0, 0.3
FIXED = plain(
    {
        '"17 V", nominal = "18 V", max = "19 V"': '"15 V", nominal = "16 V", max = "17 V"',
        'min = "12 V", max = "12 V"': 'min = "5 V", max = "5 V"',
        'accuracy = "10 %"': 'accuracy = "10 %"\nripple = "120 mV"',
    }
)
KNOB = FIXED.replace('min = "5 V", max = "5 V"', 'min = "5 V", max = "7 V"')
"""Likewise, with a knob: accuracy is asked of what stays where it is."""
NEEDS = {
    "fixed linear": FIXED,
    "step-down": FIXED,
    "tracking step-down with linear": KNOB.replace('accuracy = "10 %"\n', ""),
}


@dataclass(frozen=True)
class Measured:
    """Typical parts at 5 V and full load, nominal input, hottest air."""

    loss: float
    ripple: float
    """Peak to peak at the output; nil where nothing switches."""
    difference: float
    """Greatest voltage of a net ahead of the output's regulator, less the output."""


@cache
def measured(name: str) -> Measured:
    architecture = next(each for each in every() if each.name == name)
    offer = architecture.offer(task_of(NEEDS[name]))
    assert not isinstance(offer, Refusal), offer.reason
    design = read_sketch(NEEDS[name], offer[0])
    survey = Survey(Fixture.of(design))
    points = points_of(design.need, np.zeros(1), np.ones(1), np.array([INPUT]))
    given, taken = power_at(survey, points)
    assert given[0] == pytest.approx(OUTPUT * LOAD, rel=0.05)
    ripple, ahead = 0.0, INPUT
    if IN_CYCLES.applies(survey):
        scoped = survey.within(IN_CYCLES.scope)
        waves = IN_CYCLES.view(scoped, points, scoped.typical(1), None)
        assert isinstance(waves, CycleView)
        ripple = float(waves.ripple("main")[0])
        at = AS_SET.view(survey, points, survey.typical(1), None).at
        ahead = float(at.potential("PRE")[0]) if "PRE" in design.circuit.nets else OUTPUT
    return Measured(float(taken[0] - given[0]), ripple, ahead - OUTPUT)


def test_the_linear_one_is_the_hottest_and_the_switcher_the_coolest() -> None:
    linear, switcher, both = (measured(name).loss for name in NEEDS)
    assert linear > 2.0 * both
    assert both > 2.0 * switcher
    assert linear == pytest.approx((INPUT - OUTPUT) * LOAD, rel=0.1)


def test_the_switcher_is_the_noisiest_and_behind_a_linear_nearly_as_quiet_as_that() -> None:
    linear, switcher, both = (measured(name).ripple for name in NEEDS)
    assert linear == 0.0
    assert 0.0 < both < 0.02 * switcher


def test_what_follows_loses_what_the_switcher_does_and_the_difference_times_the_current() -> None:
    _, switcher, both = NEEDS
    difference = measured(both).difference
    assert 2.0 < difference < 5.0
    assert measured(both).loss == pytest.approx(
        measured(switcher).loss + difference * LOAD, rel=0.2
    )
