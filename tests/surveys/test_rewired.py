"""Circuits of the same parts under one survey: which there are, and which one a lane is of."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.surveys.rewired import RewiredSurvey, at_every, moves_of, rewirings, with_moves
from railwright.surveys.situations import AS_SET

TEXT = supply(
    resistor("R1", "IN", "OUT", 1000)
    + resistor("R2", "OUT", "GND", 1000)
    + part("D1", "diode", "anode = GND, cathode = OUT", 'use = "1N4148"')
    + part("C1", "capacitor", "plus = OUT, minus = GND", 'use = "film 1 µF 63 V"')
)


def test_every_pin_goes_to_every_other_net_and_a_diode_may_be_reversed() -> None:
    # Three nets: each pin of a part of two pins has one net left; two resistors work either way.
    found = [each.words for each in rewirings(survey_of(TEXT).fixture.circuit)]
    assert found == [
        "one of R1 on GND instead of IN",
        "two of R1 on GND instead of OUT",
        "one of R2 on IN instead of OUT",
        "two of R2 on IN instead of GND",
        "anode and cathode of D1 exchanged",
        "anode of D1 on IN instead of GND",
        "cathode of D1 on IN instead of OUT",
    ]


def test_capacitors_are_moved_where_they_are_asked_for() -> None:
    circuit = survey_of(TEXT).fixture.circuit
    first, second = moves_of(circuit, ["capacitor"])
    assert [first.words, second.words] == [
        "plus of C1 on IN instead of OUT",
        "minus of C1 on IN instead of GND",
    ]
    assert with_moves(circuit, first).part("C1").pins == {"plus": "IN", "minus": "GND"}
    assert circuit.part("C1").pins == {"plus": "OUT", "minus": "GND"}


def test_a_lane_is_of_the_circuit_that_its_point_says() -> None:
    """By hand: 5 V of 10 V; 10 V with R2 on IN; 0.6 to 0.9 V with the diode the other way round."""
    survey = survey_of(TEXT)
    circuits = rewirings(survey.fixture.circuit)
    wanted = [number for number, each in enumerate(circuits) if each.ref in ("R2", "D1")]
    rewired = RewiredSurvey.of(survey, circuits)
    points = at_every(survey.range.middle(), wanted)
    view = AS_SET.view(rewired, points, rewired.typical(points.count), None)
    volts = dict(zip((circuits[n].words for n in wanted), view.output("main"), strict=True))
    assert volts["two of R2 on IN instead of GND"] == pytest.approx(10.0, abs=1e-3)
    assert 0.5 < volts["anode and cathode of D1 exchanged"] < 0.9
    assert volts["one of R2 on IN instead of OUT"] == pytest.approx(10.0, abs=1e-3)


def test_where_no_circuit_is_said_it_is_the_one_that_stands() -> None:
    survey = survey_of(TEXT)
    rewired = RewiredSurvey.of(survey, rewirings(survey.fixture.circuit))
    points = survey.range.middle()
    at = rewired.engine(rewired.lanes(points, rewired.typical(1)), 1)
    assert rewired.rail_voltage(at, "main") == pytest.approx(np.array([5.0]), abs=1e-3)
