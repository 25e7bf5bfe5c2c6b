"""Outputs that go down to 0 V, where no share of the setting says how far off is allowed."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.output import LowestSetting, Reached, allowed_off
from railwright.prove.unasked import not_asked
from railwright.surveys.extremes import Extreme, explore
from railwright.surveys.situations import AS_SET, END_STOPS, View

CONTROL = '[[control]]\npart = "RV1"\nvalue = "position"\nsets = "main.voltage"\nrole = "set"\n'


def divided(end: float, volts: tuple[float, float] = (0.0, 6.0)) -> str:
    """A knob of 100 Ω across 10 V; at its stop `end` ohms are left."""
    knob = part(
        "RV1",
        "potentiometer",
        "one = IN, wiper = OUT, two = GND",
        'resistance = { typical = "100 Ω", tolerance = "0 %" }\n'
        'options = { taper = "linear" }\n'
        f'end_resistance = {{ typical = "{end} Ω", tolerance = "0 %" }}\n'
        'travel = { typical = "270°", tolerance = "0 %" }\nrated_power = "2 W"',
    )
    return supply(CONTROL + knob + resistor("R1", "OUT", "GND", 1e6), volts=volts)


def at_the_stop(text: str) -> Extreme:
    check = LowestSetting()

    def asked(view: View) -> object:
        return check.answer(view, "main")

    return explore(survey_of(text), END_STOPS, {"low": asked}, 1)["low"]  # type: ignore[dict-item]


def test_an_accuracy_is_a_share_of_a_tenth_of_the_range_at_least() -> None:
    survey = survey_of(divided(0.1))
    off = allowed_off(survey, "main", np.array([0.0, 0.3, 0.6, 6.0]))
    assert off == pytest.approx([0.03, 0.03, 0.03, 0.3])


def test_above_0_volts_an_accuracy_is_a_share_of_the_setting_as_the_need_says() -> None:
    survey = survey_of(divided(0.1, (0.3, 6.0)))
    off = allowed_off(survey, "main", np.array([0.3, 0.6, 6.0]))
    assert off == pytest.approx([0.015, 0.03, 0.3])


def test_what_is_left_out_near_0_volts_is_told() -> None:
    told = "\n".join(not_asked(survey_of(divided(0.1)).fixture.design))
    assert "main: settings below 60 mV" in told
    assert "less than 30 mV off where it is set below 600 mV" in told
    above = "\n".join(not_asked(survey_of(divided(0.1, (0.3, 6.0))).fixture.design))
    assert "settings below" not in above
    assert "off where it is set" not in above


def test_what_cannot_be_told_from_0_volts_counts_as_0_volts() -> None:
    """10 V x 0.1 Ω / 100 Ω are 10 mV at the stop; 5 % of a tenth of 6 V are 30 mV."""
    held = at_the_stop(divided(0.1))
    assert held.value == pytest.approx(10e-3, rel=0.01)
    assert held.margin == pytest.approx(20e-3, rel=0.01)
    assert at_the_stop(divided(0.5)).margin == pytest.approx(-20e-3, rel=0.03)


@pytest.mark.parametrize("below", [0.1, 0.5])
def test_what_is_reversed_at_the_stop_may_not_harm_a_load(below: float) -> None:
    """The minus terminal stands that much above the end of the knob, on a divider of 10 V."""
    legs = resistor("R2", "IN", "ZERO", 10.0 / below - 1.0) + resistor("R3", "ZERO", "GND", 1.0)
    text = divided(0.001).replace('plus = "OUT", minus = "GND"', 'plus = "OUT", minus = "ZERO"')
    held = at_the_stop(text + legs)
    assert held.value == pytest.approx(-below, rel=0.01)
    assert held.margin == pytest.approx(0.2 - below, rel=0.02)


def test_a_lowest_output_above_0_volts_is_wanted_as_it_is_told() -> None:
    """10 V x 1 Ω / (100 Ω and both ends) are left at the stop."""
    left = 10.0 * 1.0 / 102.0
    assert at_the_stop(divided(1.0, (0.05, 6.0))).margin == pytest.approx(0.05 - left, rel=0.01)


def test_it_is_looked_at_a_hundredth_above_0_volts() -> None:
    """A load draws nothing from 0 V: what it does to a supply is seen a little above."""
    survey = survey_of(divided(0.1))
    settings = survey.range.settings["main"]
    assert (settings[0], settings[-1]) == pytest.approx((0.06, 6.0))
    view = AS_SET.view(survey, survey.range.grid(), survey.typical(settings.size), None)
    answer = Reached().answer(view, "main")
    assert answer.margin == pytest.approx(np.maximum(0.05 * settings, 0.03), rel=1e-3)
