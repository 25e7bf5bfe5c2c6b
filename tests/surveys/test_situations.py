"""How the knobs stand in each situation, and what is solved for in it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.engine.solutions import OperatingPoints
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import (
    AS_SET,
    END_STOPS,
    HELD,
    NUDGE,
    NUDGED,
    PULLED_DOWN,
    THRESHOLD,
    Situation,
    View,
)
from railwright.surveys.survey import Survey

CONTROL = """[[control]]
part = "RV1"
value = "position"
sets = "main.voltage"
role = "set"
"""
KNOB = part(
    "RV1",
    "potentiometer",
    "one = IN, wiper = OUT, two = GND",
    'resistance = { typical = "100 Ω", tolerance = "10 %" }\n'
    'options = { taper = "linear" }\n'
    'end_resistance = { typical = "0.1 Ω", tolerance = "0 %" }\n'
    'travel = { typical = "270°", tolerance = "0 %" }\nrated_power = "2 W"',
)
WIDE = {"input": (9.0, 10.0, 12.0), "amperes": (0.0, 0.02), "ambient": (0.0, 50.0)}
KNOBBED = supply(
    CONTROL + KNOB + resistor("R1", "OUT", "GND", 1e4, "1 %", ', drift = "1000 ppm/K"'),
    volts=(2.0, 6.0),
    **WIDE,  # type: ignore[arg-type]
)
TRIP = """
[need.output.overload]
style = "trip"
carry = "0.9 A"
act_by = "1.2 A"
"""


def exact(**values: str) -> str:
    return "\n".join(
        f'{name} = {{ min = "{value}", max = "{value}" }}' for name, value in values.items()
    )


IDEAL = exact(
    gain="1e6 V/V", offset="0 V", bias_current="0 A", offset_current="0 A",
    common_mode_error="0 V/V", input_range_low="0 V", input_range_high="0 V",
    saturation_voltage="0.1 V", saturation_current="4 mA", sink_limit="20 mA",
    supply_current="0 A", supply_minimum="2 V",
)  # fmt: skip
OPEN = 'options = { output = "open-collector" }'
RATED = 'supply_maximum = "36 V"\noutput_maximum = "36 V"\nrated_power = "1 W"'
# A shunt of 0.1 Ω in the return; R2 and R3 make 0.1 V of the 10 V: the trip acts at 1 A.
TRIPPING = supply(
    resistor("R1", "RETURN", "GND", 0.1, "2 %")
    + resistor("R2", "IN", "LIMIT", 9900)
    + resistor("R3", "LIMIT", "GND", 100)
    + resistor("R4", "IN", "ALARM", 1e4)
    + resistor("R5", "IN", "OUT", 0.01)
    + part(
        "U1",
        "comparator",
        "plus = LIMIT, minus = RETURN, output = ALARM, supply = IN, ground = GND",
        "\n".join((IDEAL, OPEN, RATED)),
    ),
    volts=(10.0, 10.0),
    amperes=(0.0, 0.5),
    output=TRIP,
).replace('{ plus = "OUT", minus = "GND" }', '{ plus = "OUT", minus = "RETURN" }')


def seen(text: str, situation: Situation) -> tuple[Survey, Points, View]:
    """A situation at all its points, with another sample at each of them."""
    survey = survey_of(text)
    points = situation.points(survey)
    uniform = np.random.default_rng(4).random((survey.spread.size, points.count))
    near = situation.view(survey, points, survey.typical(points.count), None)
    view = situation.view(survey, points, survey.spread.draw(uniform), near)
    assert view.solved.all()
    return survey, points, view


def position(at: object) -> np.ndarray:
    return at.of("RV1", "position")  # type: ignore[attr-defined,no-any-return]


def test_as_set_every_sample_has_the_output_that_is_wanted() -> None:
    _, points, view = seen(KNOBBED, AS_SET)
    assert view.output("main") == pytest.approx(points.settings["main"], abs=1e-6)
    assert np.ptp(position(view.at)) > 0.2


def test_held_the_control_stays_where_it_was_set() -> None:
    _, points, view = seen(KNOBBED, HELD)
    set_at = position(view.beside["set"])
    assert view.output("main", "set") == pytest.approx(points.settings["main"], abs=1e-6)
    for other in (view.at, *(v for k, v in view.beside.items() if k != "set")):
        assert position(other) == pytest.approx(set_at, abs=1e-6)
    moved = np.abs(view.output("main") - points.settings["main"])
    at_reference = (
        (points.input == 10.0) & np.isclose(points.loads["main"], 0.01)
        & np.isclose(points.ambient, 298.15)
    )  # fmt: skip
    assert moved.max() > 0.5
    assert np.allclose(moved[at_reference], 0.0, atol=1e-6)


def test_held_each_comparison_changes_one_thing() -> None:
    _, points, view = seen(KNOBBED, HELD)
    loaded = view.at.of("need.output.main", "current")
    assert loaded == pytest.approx(points.loads["main"], abs=1e-9)
    light = view.beside["light load"]
    assert light.of("need.output.main", "current") == pytest.approx(0.0, abs=1e-9)
    assert light.potential("IN") == pytest.approx(points.input, rel=1e-6)
    nominal = view.beside["nominal input"]
    assert nominal.potential("IN") == pytest.approx(10.0, rel=1e-6)
    assert nominal.of("need.output.main", "current") == pytest.approx(points.loads["main"])
    warm = view.output("main", "when set") - view.output("main", "set")
    at_room = np.isclose(points.ambient, 298.15)
    assert np.abs(warm[~at_room]).max() > 1e-4
    assert warm[at_room] == pytest.approx(np.zeros(at_room.sum()), abs=1e-6)


def test_end_stops_are_the_two_ends_of_the_travel() -> None:
    survey, points, view = seen(KNOBBED, END_STOPS)
    assert set(points.settings["main"]) == {6.0}
    assert position(view.at) == pytest.approx(0.0, abs=1e-4)  # the wiper at IN
    assert position(view.beside["low"]) == pytest.approx(1.0, abs=1e-4)
    assert survey.upper_stop(("RV1", "position")) == 0.0
    assert (view.output("main") > view.output("main", "low") + 5.0).all()


def test_a_nudge_is_a_thousandth_of_the_travel() -> None:
    _, _, view = seen(KNOBBED, NUDGED)
    turned = np.abs(position(view.beside["nudged"]) - position(view.at))
    assert turned == pytest.approx(NUDGE, rel=1e-3)
    assert (view.output("main", "nudged") != view.output("main")).all()


def test_the_threshold_is_the_current_by_hand() -> None:
    survey, points, view = seen(TRIPPING, THRESHOLD)
    (at,) = view.beside.values()
    uniform = np.random.default_rng(4).random((survey.spread.size, points.count))
    (ohms,) = survey.spread.draw(uniform)
    # The rail's current alone goes through the shunt: 10 V x 100 / 10000 over its resistance.
    assert at.of("need.output.main", "current") == pytest.approx(0.1 / ohms, rel=1e-4)
    assert at.of("U1", "difference") == pytest.approx(np.zeros(points.count), abs=1e-6)


def test_at_the_threshold_the_working_state_still_holds() -> None:
    survey, _, view = seen(TRIPPING, THRESHOLD)
    assert survey.states.working == {"U1": 1.0}
    assert (view.at.of("U1", "state") > 0.99).all()


def test_what_is_lost_on_the_way_from_a_neighbour_is_sought_from_where_it_works(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    survey, points, view = seen(TRIPPING, THRESHOLD)
    engine = Survey.engine

    def losing(self: Survey, *asked: Any, **named: Any) -> OperatingPoints:
        at = engine(self, *asked, **named)
        lost = np.arange(at.count) % 3 == 0
        from_neighbours = asked[2].count > 1
        return replace(at, solved=at.solved & ~lost) if from_neighbours else at

    monkeypatch.setattr(Survey, "engine", losing)
    again = THRESHOLD.view(survey, points, survey.typical(points.count), view)
    assert again.solved.all()
    assert again.at.of("U1", "difference") == pytest.approx(np.zeros(points.count), abs=1e-6)


def test_pulled_down_every_comparator_is_low() -> None:
    _, _, view = seen(TRIPPING, PULLED_DOWN)
    assert (view.at.of("U1", "state") < 0.01).all()
    # 10 V over 10 kΩ, less a tenth of a volt or so.
    assert view.at.of("U1", "sink_current") == pytest.approx(1e-3, rel=0.01)


@pytest.mark.parametrize(
    ("text", "situation", "applies"),
    [
        (KNOBBED, END_STOPS, True),
        (KNOBBED, NUDGED, True),
        (KNOBBED, THRESHOLD, False),
        (KNOBBED, PULLED_DOWN, False),
        (TRIPPING, END_STOPS, False),
        (TRIPPING, THRESHOLD, True),
        (TRIPPING, PULLED_DOWN, True),
    ],
)
def test_a_situation_applies_where_the_supply_has_it(
    text: str, situation: Situation, applies: bool
) -> None:
    assert situation.applies(survey_of(text)) == applies


def test_a_comparator_that_no_load_turns_over_does_not_decide() -> None:
    # The limit is at 100 A: beyond what a heavy overload brings here.
    far = TRIPPING.replace('"9900 Ω"', '"1 Ω"').replace('"100 Ω"', '"9999 Ω"')
    assert not THRESHOLD.applies(survey_of(far))
