"""What switches with the setting: where each position ends, and that both are looked at.

A relay bridges a resistor before a 317 type, as a comparator of the output with a steady mark
decides. Where it turns over is held against Kirchhoff's current law at its input.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.surveys.positions import Positions, positions
from railwright.surveys.situations import AS_SET, END_STOPS, HELD
from railwright.surveys.survey import Survey
from railwright.surveys.worn import WORN

UPPER, LOWER, BACK, PULL = 10e3, 10e3, 120e3, 10e3
STEADY = 12.0
EXACT_SUPPLY = 'output_voltage = { typical = "12 V", tolerance = "0 %" }\n'
KNOB = '[[control]]\npart = "RV1"\nvalue = "position"\nsets = "main.voltage"\nrole = "set"\n'


def grade(ref: str, one: str, two: str, ohms: float, tolerance: str) -> str:
    value = f'resistance = {{ typical = "{ohms} Ω", tolerance = "{tolerance}" }}'
    return part(ref, "resistor", f"one = {one}, two = {two}", value)


def switched(
    tolerance: str = "0 %",
    back: float = BACK,
    coil: str = "COIL",
    before: float = 0.0,
    ripple: str = "",
    more: str = "",
) -> Survey:
    """Set between 3 V and 12 V; from about 6.3 V on the relay bridges 10 Ω.

    coil: net of its lower end, with `before` [Ω] from there to the transistor. more: tables.
    """
    parts = [
        part("K1", "relay", f"coil_start = V12, coil_end = {coil}, common = IN, closes = RAW",
             'use = "relay 12 V 10 A"'),
        resistor("RS", "IN", "RAW", 10.0),
        part("U1", "fixed-regulator", "input = IN, output = V12, ground = GND",
             'use = "7812 type 1 A"\n' + EXACT_SUPPLY),
        part("U2", "comparator",
             "plus = SENSE, minus = MARK, output = WHOLE, supply = V12, ground = GND",
             'use = "393 type"'),
        grade("R1", "OUT", "SENSE", UPPER, tolerance),
        grade("R2", "SENSE", "GND", LOWER, tolerance),
        grade("R3", "WHOLE", "SENSE", back, tolerance),
        grade("R4", "V12", "MARK", 30e3, tolerance),
        grade("R5", "MARK", "GND", 10e3, tolerance),
        grade("R6", "V12", "WHOLE", PULL, tolerance),
        part("Q1", "field-effect-transistor", "drain = COIL, gate = WHOLE, source = GND",
             'use = "2N7000"'),
        part("D1", "diode", "anode = COIL, cathode = V12", 'use = "1N4001"'),
        part("U3", "adjustable-regulator", "input = RAW, output = OUT, adjust = ADJ",
             'use = "317 type 1.5 A"'),
        resistor("R7", "OUT", "ADJ", 91.0),
        part("RV1", "potentiometer", "one = ADJ, wiper = GND, two = GND",
             'use = "potentiometer ten-turn 1 kΩ"'),
    ]  # fmt: skip
    if before:
        parts.append(resistor("R8", coil, "COIL", before))
    text = supply(
        "\n".join(parts) + KNOB,
        input=(22.0, 22.0, 22.0),
        volts=(3.0, 12.0),
        amperes=(0.0, 0.3),
        output=f'ripple = "{ripple}"' if ripple else "",
    )
    return survey_of(text + more)


def turned(off: tuple[float, ...], *, on: bool, back: float) -> float:
    """Output at which the input is at the mark, by the sum of currents; off: shares of R1 to R5."""
    r1, r2, r3 = UPPER * off[0], LOWER * off[1], back * off[2] + (PULL if on else 0.0)
    mark = STEADY * 10e3 * off[4] / (10e3 * off[4] + 30e3 * off[3])
    fed = STEADY if on else 0.1
    return r1 * (mark / r1 + mark / r2 + (mark - fed) / r3)


@pytest.fixture(scope="module")
def exact() -> Survey:
    return switched()


def found_of(survey: Survey) -> Positions:
    (found,) = survey.once(positions)
    assert not found.why
    return found


def test_both_positions_are_told_apart(exact: Survey) -> None:
    found = found_of(exact)
    assert found.states == ({"K1": 0.0, "U2": 0.0}, {"K1": 1.0, "U2": 1.0})
    assert found.deciding == "U2"


def test_they_end_where_the_divider_says(exact: Survey) -> None:
    """What is left is the comparator's: 5 mV and some nanoamperes in 5 kΩ, 2.1 times, each way."""
    found, same = found_of(exact), (1.0,) * 5
    up, down = (turned(same, on=on, back=BACK) for on in (False, True))
    assert np.mean(found.rising) == pytest.approx(up, abs=0.04)
    assert np.mean(found.falling) == pytest.approx(down, abs=0.04)
    assert np.ptp(found.rising) < 0.15
    assert found.width == pytest.approx(up - down, abs=0.03)


def test_a_spread_moves_them_by_as_much_as_its_corners() -> None:
    found, ends = found_of(switched("1 %")), list(product((0.99, 1.01), repeat=5))
    for on, seen in ((False, found.rising), (True, found.falling)):
        corners = [turned(off, on=on, back=BACK) for off in ends]
        assert seen[1] - seen[0] == pytest.approx(np.ptp(corners), abs=0.15)
        assert min(corners) - 0.08 < seen[0] < seen[1] < max(corners) + 0.08


def test_each_is_looked_at_as_far_as_it_may_be_on(exact: Survey) -> None:
    found = found_of(exact)
    points = AS_SET.points(exact)
    assert points.position is not None
    settings = points.settings["main"]
    assert settings[points.position == 0].max() == found.rising[1]
    assert settings[points.position == 1].min() == found.falling[0]
    assert {*exact.range.settings["main"]} < {*settings}
    view = AS_SET.view(exact, points, exact.typical(points.count), None)
    assert view.solved.all()
    assert view.output("main") == pytest.approx(settings, rel=1e-3)
    closed = np.abs(view.at.potential("IN") - view.at.potential("RAW")) < 0.1
    heavy = points.loads["main"] > 0.2
    assert (closed == (points.position > 0.5))[heavy].all()


def test_what_is_turned_begins_where_it_belongs(exact: Survey) -> None:
    for situation in (HELD, END_STOPS):
        points = situation.points(exact)
        view = situation.view(exact, points, exact.typical(points.count), None)
        assert view.solved.all()


def test_what_is_worn_is_looked_at_in_both(exact: Survey) -> None:
    points, found = WORN.points(exact), found_of(exact)
    assert points.position is not None
    settings = points.settings["main"]
    assert {*settings[points.position == 0]} == {3.0, found.rising[1]}
    assert {*settings[points.position == 1]} == {found.falling[0], 12.0}
    view = WORN.view(exact, points, exact.typical(points.count), None)
    assert view.solved.all()
    assert view.output("main") == pytest.approx(settings, rel=1e-3)


def test_without_a_place_everything_is_free(exact: Survey) -> None:
    points = exact.range.middle().take(np.zeros(2, np.intp))
    points = replace(points, settings={"main": np.array([4.0, 9.0])})
    view = AS_SET.view(exact, points, exact.typical(2), None)
    assert view.at.of("K1", "state") == pytest.approx([0.0, 1.0], abs=0.01)
    assert ("K1", "free") not in view.at.inputs


SECOND = f"""
[[need.output]]
name = "second"
nets = {{ plus = "OUT2", minus = "GND" }}
reference = "common with input"
voltage = {{ min = "3 V", max = "12 V" }}
current = {{ min = "0 A", max = "0.1 A" }}
{part("U4", "adjustable-regulator", "input = IN, output = OUT2, adjust = ADJ2",
      'use = "317 type 1.5 A"')}
{resistor("R9", "OUT2", "ADJ2", 91.0)}
{part("RV2", "potentiometer", "one = ADJ2, wiper = GND, two = GND",
      'use = "potentiometer ten-turn 1 kΩ"')}
{KNOB.replace("RV1", "RV2").replace("main", "second")}
"""  # fmt: skip


def test_a_rail_that_switches_nothing_is_set_beside() -> None:
    survey = switched(more=SECOND)
    found = found_of(survey)
    assert found.moving == ("K1", "U2")
    points = AS_SET.points(survey)
    assert points.position is not None
    both = set(zip(points.position, points.settings["second"], strict=True))
    assert both == {*product((0.0, 1.0), survey.range.settings["second"])}
    view = AS_SET.view(survey, points, survey.typical(points.count), None)
    assert view.solved.all()


def second_switched(sensed: str = "OUT2", lower: float = LOWER) -> str:
    """A second rail that is set, from about 8.4 V on of what its comparator senses 10 Ω bridged."""
    fed = SECOND.replace('input = "IN", output = "OUT2"', 'input = "RAW2", output = "OUT2"')
    return f"""{fed}
{resistor("RS2", "IN", "RAW2", 10.0)}
{part("K2", "relay", "coil_start = V12, coil_end = COIL2, common = IN, closes = RAW2",
      'use = "relay 12 V 10 A"')}
{part("U5", "comparator",
      "plus = SENSE2, minus = MARK, output = WHOLE2, supply = V12, ground = GND",
      'use = "393 type"')}
{grade("R11", sensed, "SENSE2", 18e3, "0 %")}
{grade("R12", "SENSE2", "GND", lower, "0 %")}
{grade("R13", "WHOLE2", "SENSE2", BACK, "0 %")}
{grade("R16", "V12", "WHOLE2", PULL, "0 %")}
{part("Q2", "field-effect-transistor", "drain = COIL2, gate = WHOLE2, source = GND",
      'use = "2N7000"')}
{part("D2", "diode", "anode = COIL2, cathode = V12", 'use = "1N4001"')}
"""  # fmt: skip


def test_of_two_rails_that_switch_all_combinations_are_looked_at() -> None:
    survey = switched(more=second_switched())
    main, second = survey.once(positions)
    assert (main.why, second.why) == ("", "")
    assert (main.moving, second.moving) == (("K1", "U2"), ("K2", "U5"))
    # what the other one does moves neither of them
    (alone,) = switched(more=SECOND).once(positions)
    assert main.rising == pytest.approx(alone.rising, abs=0.01)
    up = 18e3 * (3.0 / 18e3 + 3.0 / LOWER + (3.0 - 0.1) / BACK)
    assert np.mean(second.rising) == pytest.approx(up, abs=0.06)
    points = AS_SET.points(survey)
    assert points.position is not None
    assert {*points.position} == {0.0, 1.0, 2.0, 3.0}
    ends = points.settings["second"][points.position >= 2.0]
    assert ends.min() == second.falling[0]
    view = AS_SET.view(survey, points, survey.typical(points.count), None)
    assert view.solved.all()
    assert view.output("main") == pytest.approx(points.settings["main"], rel=1e-3)
    assert view.output("second") == pytest.approx(points.settings["second"], rel=1e-3)
    heavy = points.loads["second"] > 0.05
    closed = np.abs(view.at.potential("IN") - view.at.potential("RAW2")) < 0.1
    assert (closed == (points.position >= 2.0))[heavy].all()


def switched_by_both(lower: float) -> Survey:
    """K2 goes by the sum of both outputs: from 6 V + 3 V x 18 kΩ / lower on [Ω], about."""
    more = grade("R14", "OUT2", "SENSE2", 18e3, "0 %")
    return switched(more=second_switched("OUT", lower) + more)


@pytest.mark.parametrize(
    ("lower", "told"),
    [
        (3.4e3, "K2, U5 switch with several settings at once"),
        (8e3, "K2, U5 switch with main and second"),
        (10e3, "2 comparators turn over"),
    ],
    ids=["22 V", "13 V", "11 V"],
)
def test_what_two_rails_switch_together_is_not_known(lower: float, told: str) -> None:
    """One at 12 V and the other in its middle of 7.5 V make 19.5 V, both at 12 V 24 V."""
    survey = switched_by_both(lower)
    assert any(told in each.why for each in survey.once(positions))
    assert AS_SET.points(survey).position is None


def test_where_nothing_switches_there_are_none() -> None:
    parts = [
        part("U1", "adjustable-regulator", "input = IN, output = OUT, adjust = ADJ",
             'use = "317 type 1.5 A"'),
        resistor("R1", "OUT", "ADJ", 91.0),
        part("RV1", "potentiometer", "one = ADJ, wiper = GND, two = GND",
             'use = "potentiometer ten-turn 1 kΩ"'),
        part("K1", "relay", "coil_start = IN, coil_end = GND, common = OUT, closes = X",
             'use = "relay 24 V 10 A"'),
        resistor("R2", "X", "GND", 1e4),
    ]  # fmt: skip
    text = supply(
        "\n".join(parts) + KNOB, input=(22.0, 22.0, 22.0), volts=(3.0, 12.0), amperes=(0.0, 0.3)
    )
    survey = survey_of(text)
    assert survey.once(positions) == ()
    assert AS_SET.points(survey).position is None
