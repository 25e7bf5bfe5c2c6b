"""What nets see, against sums by hand."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import alternating, part, resistor, supply, survey_of
from surveys.test_mains import IDEAL

from railwright.prove.nets import net_rows

TEN = {"input": (10.0, 10.0, 10.0)}

DIVIDER = resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 3e3)


def test_a_divider_over_its_range() -> None:
    survey = survey_of(supply(DIVIDER, input=(8.0, 10.0, 12.0), amperes=(0.0, 1e-3)))
    rows = {row.net: row for row in net_rows(survey)}
    # Unloaded 3/4 of the input; 1 mA through 750 Ω takes 0.75 V.
    assert rows["OUT"].highest == pytest.approx(9.0, rel=1e-6)
    assert rows["OUT"].lowest == pytest.approx(6.0 - 0.75, rel=1e-6)
    assert rows["GND"].highest == 0.0
    # 12 V with 1 mA drawn: (12 - 8.25) / 1 kΩ.
    assert rows["OUT"].current == pytest.approx(3.75e-3, rel=1e-6)
    assert rows["OUT"].carried_by == "R1"


def test_on_the_mains_currents_are_effective_and_voltages_reach_their_peaks() -> None:
    ends = "first = L, second = N, plus = OUT, minus = GND"
    bridge = part("D1", "bridge-rectifier", ends, IDEAL)
    text = alternating(supply(bridge + resistor("R1", "OUT", "GND", 100.0), **TEN), 0.1)
    rows = {row.net: row for row in net_rows(survey_of(text))}
    peak = 10.0 * np.sqrt(2.0)
    assert 0.75 * peak < rows["OUT"].highest < peak
    # A load of 100 Ω behind two diodes: somewhat less than 10 V / 100 Ω effective.
    assert 0.07 < (rows["OUT"].current or 0.0) < 0.1
