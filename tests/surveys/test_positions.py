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
    found = survey.once(positions)
    assert found is not None
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


def test_of_two_rails_that_are_set_it_is_said_that_it_is_not_known() -> None:
    survey = switched(more=SECOND)
    found = survey.once(positions)
    assert found is not None
    assert set(found.moving) == {"K1", "U2"}
    assert found.why.startswith("main and second are set")


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
    assert survey.once(positions) is None
    assert AS_SET.points(survey).position is None
