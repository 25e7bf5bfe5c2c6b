"""What nets see, against sums by hand."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import alternating, part, resistor, supply, survey_of
from surveys.test_mains import IDEAL

from railwright.prove.nets import net_rows
from railwright.surveys.operating_range import BeyondRange, Choice

TEN = {"input": (10.0, 10.0, 10.0)}

DIVIDER = resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 3e3)


def test_a_divider_over_its_range() -> None:
    survey = survey_of(supply(DIVIDER, input=(8.0, 10.0, 12.0), amperes=(0.0, 1e-3)))
    rows = {row.net: row for row in net_rows(survey, Choice())}
    # Unloaded 3/4 of the input; 1 mA through 750 Ω takes 0.75 V.
    assert rows["OUT"].highest == pytest.approx(9.0, rel=1e-6)
    assert rows["OUT"].lowest == pytest.approx(6.0 - 0.75, rel=1e-6)
    assert rows["GND"].highest == 0.0
    # 12 V with 1 mA drawn: (12 - 8.25) / 1 kΩ.
    assert rows["OUT"].current == pytest.approx(3.75e-3, rel=1e-6)
    assert rows["OUT"].carried_by == "R1"


def test_the_voltages_of_a_chosen_point_are_those_of_that_point() -> None:
    survey = survey_of(supply(DIVIDER, input=(8.0, 10.0, 12.0), amperes=(0.0, 1e-3)))

    def at(choice: Choice) -> float:
        rows = {row.net: row for row in net_rows(survey, choice)}
        return rows["OUT"].chosen or 0.0

    # The middle is 10 V with 0.5 mA: 7.5 V less 0.5 mA x 750 Ω.
    assert at(Choice()) == pytest.approx(7.5 - 0.375, rel=1e-6)
    assert at(Choice(input=12.0)) == pytest.approx(9.0 - 0.375, rel=1e-6)
    assert at(Choice(input=8.0, loads={"main": 1e-3})) == pytest.approx(6.0 - 0.75, rel=1e-6)
    for beyond in (Choice(input=13.0), Choice(loads={"main": 2e-3}), Choice(ambient=500.0)):
        with pytest.raises(BeyondRange, match="is chosen as"):
            net_rows(survey, beyond)


def test_on_the_mains_currents_are_effective_and_voltages_reach_their_peaks() -> None:
    ends = "first = L, second = N, plus = OUT, minus = GND"
    bridge = part("D1", "bridge-rectifier", ends, IDEAL)
    text = alternating(supply(bridge + resistor("R1", "OUT", "GND", 100.0), **TEN), 0.1)
    rows = {row.net: row for row in net_rows(survey_of(text), Choice())}
    peak = 10.0 * np.sqrt(2.0)
    assert 0.75 * peak < rows["OUT"].highest < peak
    # A load of 100 Ω behind two diodes: somewhat less than 10 V / 100 Ω effective.
    assert 0.07 < (rows["OUT"].current or 0.0) < 0.1
