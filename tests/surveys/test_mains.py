"""Supplies on alternating mains: the cycle in which they rest, and questions put at its instants.

The rectifier's waveforms are held against a case from the web, the temperatures against the mean
power. Published curves of rectifiers: tests/devices/test_rectifier.py.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from surveys.supplies import alternating, part, resistor, supply, survey_of

from railwright.surveys.courses import POWER_UP
from railwright.surveys.extremes import Answer
from railwright.surveys.mains import MainsView, as_fed, put
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.survey import Survey

IDEAL = """forward_voltage = { typical = "0.6 V", tolerance = "0 %" }
test_current = "1 A"
ideality = 1.0
series_resistance = "0.1 mΩ"
gap = "1.12 V"
junction_capacitance = "1 pF"
capacitance_voltage = "0 V"
transit_time = "1 ns"
junction_to_case = "10 K/W"
junction_to_ambient = "20 K/W"
reverse_voltage = "2 kV"
forward_current = "10 A"
junction_limit = "150 °C"
"""


def exact(name: str, value: str) -> str:
    return f'{name} = {{ typical = "{value}", tolerance = "0 %" }}\n'


def rectifier(diodes: str = IDEAL, farads: float = 1e-3, esr: float = 1e-3) -> str:
    """A bridge and a reservoir at the terminals."""
    ends = "first = L, second = N, plus = OUT, minus = GND"
    store = exact("capacitance", f"{farads} F") + exact("esr", f"{esr} Ω") + 'leakage = "0 A"\n'
    store += 'rated_voltage = "2 kV"\noptions = { dielectric = "film" }'
    return part("D1", "bridge-rectifier", ends, diodes) + part(
        "C1", "capacitor", "plus = OUT, minus = GND", store
    )


def resting(survey: Survey) -> MainsView:
    """Typical parts over the whole range."""
    points = survey.range.grid()
    view = as_fed(survey, AS_SET).view(survey, points, survey.typical(points.count), None)
    assert isinstance(view, MainsView)
    assert view.solved.all()
    return view


# A transformer of 11.8 V unloaded and 0.6 Ω feeds a bridge: "voltage output", a thread of
# electro-tech-online.com, asks whether 12 V at 1 to 1.5 A can be made of it. The numbers are a
# sum by small steps with diodes of 0.7 V and a steady current (derived, not published).
CASE = [(1.0, 1000, 14.4, 8.3), (1.5, 1000, 14.1, 5.9), (1.5, 4700, 12.8, 10.9)]
DROP = IDEAL.replace('"0.6 V"', '"0.7 V"').replace('"1 A"', '"3 A"')


@pytest.mark.parametrize(("amperes", "microfarads", "peak", "valley"), CASE)
def test_a_weak_transformer(amperes: float, microfarads: float, peak: float, valley: float) -> None:
    text = supply(
        rectifier(DROP, microfarads * 1e-6),
        input=(11.8, 11.8, 11.8),
        volts=(12.0, 12.0),
        amperes=(amperes, amperes),
    )
    (course,) = resting(survey_of(alternating(text, 0.6))).courses[""]
    reservoir = course.moments.potential("OUT")
    assert reservoir.max() == pytest.approx(peak, abs=0.25)
    assert reservoir.min() == pytest.approx(valley, abs=0.25)
    if (amperes, microfarads) == (1.5, 1000):
        assert 2.3 < course.means["rms", ("need.input", "current")][0] < 2.6


def test_the_mean_power_keeps_the_junction_warm() -> None:
    text = supply(rectifier(), input=(12.0, 12.0, 12.0), volts=(12.0, 12.0), amperes=(1.0, 1.0))
    (course,) = resting(survey_of(alternating(text, 0.6))).courses[""]
    power = course.means["mean", ("D1", "power")][0]
    assert power == pytest.approx(2 * 0.6, rel=0.2)  # two diodes of about 0.6 V carry 1 A
    junction = course.moments.of("D1", "junction")[0]
    assert junction - 298.15 == pytest.approx(20.0 * power, rel=0.02)


def test_each_lane_is_its_own() -> None:
    text = supply(
        rectifier(),
        input=(10.0, 12.0, 14.0),
        volts=(12.0, 12.0),
        amperes=(0.1, 1.0),
        ambient=(10.0, 40.0),
    )
    survey = survey_of(alternating(text, 0.6))
    view = resting(survey)
    assert view.points.count == 8

    def question(moment: View) -> Answer:
        reservoir = moment.at.potential("OUT")
        return Answer(reservoir - 5.0, reservoir, np.full(reservoir.size, 5.0))

    answer = put(question, view)
    which = np.array([7, 0, 5])
    some = put(question, view.take(which))
    assert np.array_equal(some.margin, answer.margin[which])
    assert np.array_equal(answer.margin, answer.value - 5.0)
    # Less at low line, less with load: the valley, not the mean.
    (course,) = view.courses[""]
    assert (answer.value <= course.means["mean", ("C1", "voltage")]).all()
    by_input = answer.value.reshape(2, 2, 2)
    assert (np.diff(by_input, axis=1) > 1.5).all()
    assert (np.diff(by_input, axis=0) < 0).all()


def test_a_neighbour_that_leads_astray_is_forgotten() -> None:
    """A cycle is found from a lane's own rest where none is found from its neighbour's."""
    text = supply(rectifier(), input=(11.8, 11.8, 11.8), volts=(12.0, 12.0), amperes=(0.1, 0.1))
    survey = survey_of(alternating(text, 0.6))
    view = resting(survey)
    (course,) = view.courses[""]
    astray = replace(view, courses={"": (replace(course, start=np.nan * course.start),)})
    points = view.points
    again = as_fed(survey, AS_SET).view(survey, points, survey.typical(points.count), astray)
    assert isinstance(again, MainsView)
    assert again.solved.all()
    assert again.courses[""][0].ripple["main"] == pytest.approx(course.ripple["main"], rel=1e-3)


def test_a_direct_input_is_left_alone() -> None:
    parts = resistor("R1", "IN", "OUT", 1.0) + resistor("R2", "OUT", "GND", 1e3)
    survey = survey_of(supply(parts))
    assert as_fed(survey, AS_SET) is AS_SET


def test_a_course_in_time_is_looked_at_on_the_stand_in() -> None:
    """Loaded by 1 A out of 0.6 Ω and two diodes, from nine tenths of the peak of 12 V."""
    text = supply(rectifier(), input=(12.0, 12.0, 12.0), volts=(12.0, 12.0), amperes=(1.0, 1.0))
    survey = survey_of(alternating(text, 0.6))
    assert as_fed(survey, POWER_UP) is POWER_UP
    assert not POWER_UP.unready(survey)
    points = POWER_UP.points(survey)
    view = POWER_UP.view(survey, points, survey.typical(points.count), None)
    assert view.solved.all()
    stretch = POWER_UP.stretches(survey, POWER_UP.rises[0])[0]
    _, volts = view.course("main", stretch)
    assert volts[:, 0] == pytest.approx(0.0, abs=1e-6)
    inner = 0.9 * np.sqrt(2.0) * 12.0
    assert volts[:, -1] == pytest.approx(inner - 0.6 - 2 * 0.6, rel=0.01)
