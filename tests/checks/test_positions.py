"""What switches with the setting: hysteresis, and a relay that does not pull."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from surveys.test_positions import STEADY, found_of, second_switched, switched, switched_by_both

from railwright.checks.positions import RelayCoil, SwitchesOver
from railwright.surveys.depth import QUICK
from railwright.surveys.extremes import explore
from railwright.surveys.situations import AS_SET
from railwright.surveys.survey import Survey

ROOM_RISE = 5.0
"""K from 20 °C, for which the coil's resistance is stated, to the air of these supplies."""


def coil(survey: Survey) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Margin, value and whether it is on, over the range with typical parts."""
    assert list(RelayCoil().subjects(survey)) == ["K1"]
    points = AS_SET.points(survey)
    view = AS_SET.view(survey, points, survey.typical(points.count), None)
    answer = RelayCoil().answer(view, "K1")
    assert points.position is not None
    return answer.margin, answer.value, points.position > 0.5


def test_a_coil_on_its_voltage_pulls_and_lets_go() -> None:
    """12 V across 400 Ω warm it by 100 K/W: ohms grow by 0.393 % a kelvin, the current falls."""
    margin, value, on = coil(switched())
    factor = 1.0
    for _ in range(20):
        factor = 1.0 + 0.00393 * (ROOM_RISE + 100.0 * STEADY**2 / 400.0 / factor)
    assert value[on] == pytest.approx(STEADY / factor, rel=0.02)
    assert margin[on] == pytest.approx(STEADY / factor - 7.5, abs=0.2)
    assert margin[~on] == pytest.approx(3.0, abs=0.05)


def test_a_resistor_before_the_coil_may_keep_it_from_pulling() -> None:
    """Of 12 V, 440 Ω warmed to about 520 Ω behind 100 Ω get what 8.5 V are cold; 9 V may pull."""
    survey = replace(switched(coil="HALF", before=100.0), depth=QUICK)
    margin, _, on = coil(survey)
    assert (margin[on] > 0.3).all()
    asked = {"K1": partial(RelayCoil().answer, subject="K1")}
    found = explore(survey, AS_SET, asked, seed=1)["K1"]
    assert found.limit == pytest.approx(9.0, abs=0.01)
    assert found.value == pytest.approx(8.5, abs=0.4)
    assert found.margin < 0.0


def test_hysteresis_is_wide_enough() -> None:
    assert not SwitchesOver().look(switched()).faults


def test_of_two_rails_that_switch_both_are_looked_at() -> None:
    survey = switched(more=second_switched())
    assert list(RelayCoil().subjects(survey)) == ["K1", "K2"]
    answer = SwitchesOver().look(survey)
    assert list(answer.looked) == ["U2", "U5"]
    assert not answer.faults


def test_what_two_rails_switch_together_is_not_proven() -> None:
    (fault,) = SwitchesOver().look(switched_by_both(3.4e3)).faults
    assert not fault.proven
    assert "switch with several settings at once" in fault.because


def test_without_hysteresis_it_chatters() -> None:
    """10 MΩ back to the input leave 2.1 x 12 V x 5 kΩ / 10 MΩ, about 10 mV, below the ripple."""
    survey = switched(back=10e6, ripple="20 mV")
    answer = SwitchesOver().look(survey)
    assert list(answer.looked) == ["U2"]
    (fault,) = answer.faults
    assert fault.proven
    assert "chatter" in fault.because
    assert found_of(survey).width == pytest.approx(12.0 * 10e3 / 10e6, rel=0.2)
