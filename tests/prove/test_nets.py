"""What nets see, against sums by hand."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import alternating, part, resistor, supply, survey_of
from surveys.test_mains import IDEAL

from railwright.prove.nets import seen
from railwright.surveys.operating_range import BeyondRange, Choice

TEN = {"input": (10.0, 10.0, 10.0)}

DIVIDER = resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 3e3)


def test_a_divider_over_its_range() -> None:
    survey = survey_of(supply(DIVIDER, input=(8.0, 10.0, 12.0), amperes=(0.0, 1e-3)))
    rows = {row.net: row for row in seen(survey, Choice()).nets}
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
        rows = {row.net: row for row in seen(survey, choice).nets}
        return rows["OUT"].chosen or 0.0

    # The middle is 10 V with 0.5 mA: 7.5 V less 0.5 mA x 750 Ω.
    assert at(Choice()) == pytest.approx(7.5 - 0.375, rel=1e-6)
    assert at(Choice(input=12.0)) == pytest.approx(9.0 - 0.375, rel=1e-6)
    assert at(Choice(input=8.0, loads={"main": 1e-3})) == pytest.approx(6.0 - 0.75, rel=1e-6)
    for beyond in (Choice(input=13.0), Choice(loads={"main": 2e-3}), Choice(ambient=500.0)):
        with pytest.raises(BeyondRange, match="is chosen as"):
            seen(survey, beyond)


def test_on_the_mains_currents_are_effective_and_voltages_reach_their_peaks() -> None:
    ends = "first = L, second = N, plus = OUT, minus = GND"
    bridge = part("D1", "bridge-rectifier", ends, IDEAL)
    text = alternating(supply(bridge + resistor("R1", "OUT", "GND", 100.0), **TEN), 0.1)
    found = seen(survey_of(text), Choice())
    rows = {row.net: row for row in found.nets}
    peak = 10.0 * np.sqrt(2.0)
    assert 0.75 * peak < rows["OUT"].highest < peak
    # A load of 100 Ω behind two diodes: somewhat less than 10 V / 100 Ω effective.
    assert 0.07 < (rows["OUT"].current or 0.0) < 0.1
    # Half waves of the peak less two diodes: mean 2 / pi and effective 1 / sqrt 2 of it, so that
    # what alternates is sqrt(1/2 - 4/pi²) = 0.308 of it. R1 gives off current squared x 100 Ω.
    top = rows["OUT"].highest
    assert rows["OUT"].chosen == pytest.approx(2.0 / np.pi * top, rel=0.1)
    assert rows["OUT"].alternates == pytest.approx(0.308 * top, rel=0.1)
    assert found.losses["R1"] == pytest.approx(100.0 * (rows["OUT"].current or 0.0) ** 2, rel=0.02)


def test_losses_are_the_greatest_over_the_range() -> None:
    survey = survey_of(supply(DIVIDER, input=(8.0, 10.0, 12.0), amperes=(0.0, 1e-3)))
    # 12 V with 1 mA drawn: 3.75 V across 1 kΩ; unloaded 9 V across 3 kΩ.
    losses = seen(survey, Choice()).losses
    assert losses["R1"] == pytest.approx(3.75**2 / 1e3, rel=1e-6)
    assert losses["R2"] == pytest.approx(9.0**2 / 3e3, rel=1e-6)
