"""What a panel meter measures beside the terminals: Ohm's and Kirchhoff's laws."""

from __future__ import annotations

import pytest
from surveys.supplies import EXACT, part, resistor, supply, survey_of

from railwright.checks.check import Check
from railwright.checks.meter import MeterCurrent, MeterVoltage
from railwright.surveys.extremes import Extreme, explore
from railwright.surveys.situations import AS_SET

METER = 'use = "panel meter 100 V 10 A"'
SHUNT = f'shunt_resistance = {{ typical = "10 mΩ", {EXACT} }}'
OWN = f'supply_current = {{ typical = "20 mA", {EXACT} }}'
REGULATOR = part("U1", "fixed-regulator", "input = IN, output = OUT, ground = GND",
                 'use = "7805 type 1 A"')  # fmt: skip


def meter(pins: str) -> str:
    return part("M1", "panel-meter", pins, f"{METER}\n{SHUNT}\n{OWN}")


def found(check: Check, parts: str, minus: str = "BACK") -> Extreme:
    text = supply(parts, amperes=(1.0, 1.0), policy='resistor_tolerance = "0 %"')
    text = text.replace('plus = "OUT", minus = "GND"', f'plus = "OUT", minus = "{minus}"')
    survey = survey_of(text)
    assert check.subjects(survey) == ["M1"]
    question = {"": lambda view: check.answer(view, "M1")}
    return explore(survey, AS_SET, question, 1)[""]


IN_RETURN = "supply = IN, ground = GND, input = OUT, shunt = BACK"


def test_in_the_return_of_the_load_it_shows_the_load() -> None:
    """3 % of 1 A and 20 mA of zero; the shunt's 10 mV come between it and the terminals."""
    current = found(MeterCurrent(), REGULATOR + meter(IN_RETURN))
    assert current.margin == pytest.approx(0.02 + 0.03 * 1.0, rel=1e-3)
    voltage = found(MeterVoltage(), REGULATOR + meter(IN_RETURN))
    assert voltage.value == pytest.approx(0.010, rel=1e-3)
    assert voltage.margin > 0


def test_what_else_returns_through_its_shunt_is_too_much() -> None:
    """5 V on 50 Ω return by the shunt beside the load's ampere."""
    more = resistor("R1", "OUT", "BACK", 50.0).replace("0.25 W", "2 W")
    current = found(MeterCurrent(), REGULATOR + meter(IN_RETURN) + more)
    assert current.value == pytest.approx(0.1, rel=0.06)
    assert current.margin == pytest.approx(0.02 + 0.03 * 1.1 - 0.1, abs=6e-3)


def test_a_load_that_returns_past_the_shunt_is_not_shown() -> None:
    past = part("W1", "wire", "one = BACK, two = GND",
                f'use = "wire AWG 18"\nresistance = {{ typical = "1 mΩ", {EXACT} }}')  # fmt: skip
    current = found(MeterCurrent(), REGULATOR + meter(IN_RETURN) + past)
    assert current.value == pytest.approx(10.0 / 11.0, rel=1e-3)
    assert current.margin < 0


def test_of_two_rails_it_is_about_that_of_the_nearer_terminal() -> None:
    """Both returns are within milliohms; the second rail's is at its shunt."""
    second = '[[need.output]]\nname = "aux"\nnets = { plus = "OUT", minus = "BACK" }\n'
    second += 'reference = "common with input"\nvoltage = { min = "5 V", max = "5 V" }\n'
    second += 'current = { min = "0.5 A", max = "0.5 A" }\n[need.surroundings]\n'
    joined = part("W1", "wire", "one = BACK, two = GND",
                  f'use = "wire AWG 18"\nresistance = {{ typical = "1 mΩ", {EXACT} }}')  # fmt: skip
    text = supply(REGULATOR + meter(IN_RETURN) + joined)
    survey = survey_of(text.replace("[need.surroundings]\n", second))
    assert MeterCurrent().rail(survey, "M1") == "aux"


def test_a_voltage_ahead_of_a_lead() -> None:
    """0.5 Ω between meter and terminal at 1 A; 1 % and 0.1 V of its own."""
    lead = resistor("R1", "MID", "OUT", 0.5).replace("0.25 W", "2 W")
    ahead = REGULATOR.replace('output = "OUT"', 'output = "MID"')
    pins = "supply = IN, ground = GND, input = MID"
    voltage = found(MeterVoltage(), ahead + lead + meter(pins), "GND")
    assert voltage.value == pytest.approx(0.5, rel=1e-3)
    assert voltage.margin == pytest.approx(0.1 + 0.01 * 5.0 - 0.5, abs=5e-3)
