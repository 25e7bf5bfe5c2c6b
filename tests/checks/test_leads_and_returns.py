"""Leads, and where returns meet: what their drops do at the terminals, and who is named for it.

They are asked by the questions that are put at the terminals; each has its own here.
"""

from __future__ import annotations

import pytest
from surveys.supplies import EXACT, part, resistor, supply, survey_of

from railwright.checks.output import LoadRegulation
from railwright.surveys.extremes import Extreme, explore
from railwright.surveys.situations import HELD

CHECK = LoadRegulation()
STEADY = "\n".join(
    f'{name} = {{ typical = "{value}", {EXACT} }}'
    for name, value in (("load_regulation", "0.001 %"), ("output_voltage", "5 V"),
                        ("line_regulation", "0 %/V"), ("quiescent_current", "5 mA"))
)  # fmt: skip


def wire(ref: str, one: str, two: str, milliohms: float) -> str:
    value = f'resistance = {{ typical = "{milliohms} mΩ", tolerance = "10 %" }}'
    return part(ref, "wire", f"one = {one}, two = {two}", f'use = "wire AWG 18"\n{value}')


def regulator(ground: str) -> str:
    pins = f"input = IN, output = LOCAL, ground = {ground}"
    return part("U1", "fixed-regulator", pins, f'use = "7805 type 1 A"\n{STEADY}')


def moved(parts: str) -> Extreme:
    text = supply(parts, output='load_regulation = "100 mV"', amperes=(0.0, 1.0))
    text = text.replace('plus = "OUT", minus = "GND"', 'plus = "OUT", minus = "RETURN"')
    survey = survey_of(text)
    return explore(survey, HELD, {"": lambda view: CHECK.answer(view, "main")}, 1)[""]


def first_cause(extreme: Extreme) -> str:
    largest = max(range(len(extreme.shares)), key=lambda place: extreme.shares[place])
    return extreme.quantities[largest].moves[0][0]


def test_a_lead_and_its_return_drop_what_the_load_takes() -> None:
    """1 A through 30 mΩ and 20 mΩ, each 10 % more at most."""
    parts = regulator("GND") + wire("W1", "LOCAL", "OUT", 30) + wire("W2", "RETURN", "GND", 20)
    extreme = moved(parts)
    assert extreme.value == pytest.approx(1.1 * 0.050, abs=1e-3)
    assert first_cause(extreme) == "W1"


@pytest.mark.parametrize(("meets", "drop"), [("STAR", 0.0), ("RETURN", 0.0), ("GND", 1.1 * 0.2)])
def test_what_holds_the_output_must_meet_the_load_s_return_at_the_star(
    meets: str, drop: float
) -> None:
    """The load's ampere goes on through 200 mΩ to the source; a reference there is that far off."""
    parts = (
        regulator(meets)
        + wire("W1", "LOCAL", "OUT", 1)
        + wire("W2", "RETURN", "STAR", 1)
        + wire("W3", "STAR", "GND", 200)
    )
    extreme = moved(parts)
    assert extreme.value == pytest.approx(drop, abs=4e-3)
    assert (extreme.margin < 0) == (drop > 0.1)
    if drop:
        assert first_cause(extreme) == "W3"


def test_another_current_in_the_return_is_no_matter_of_this_load() -> None:
    parts = (
        regulator("GND")
        + wire("W1", "LOCAL", "OUT", 1)
        + wire("W2", "RETURN", "GND", 1)
        + resistor("R1", "IN", "RETURN", 100.0)
    )
    assert moved(parts).value == pytest.approx(1.1 * 0.002, abs=1e-3)
