"""Who needs a pull-up: open collectors and discharge transistors, no push-pull output."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.wiring import PullUp

COMPARED = "plus = IN, minus = OUT, output = ALARM, supply = IN, ground = GND"
TIMED = (
    "trigger = T, threshold = T, reset = IN, discharge = D, output = ALARM, supply = IN, "
    "ground = GND"
)
LOAD = resistor("R8", "ALARM", "GND", 1e6) + resistor("R6", "IN", "OUT", 1e3)


def faults(parts: str) -> list[tuple[str, str]]:
    answer = PullUp().look(survey_of(supply(parts + LOAD)))
    return [cause for fault in answer.faults for cause in fault.causes]


@pytest.mark.parametrize(("name", "wanted"), [
    ("393 type", [("U1", "output")]),
    ("3702 type", []),
])  # fmt: skip
def test_an_open_collector_needs_one_and_a_push_pull_output_none(
    name: str, wanted: list[tuple[str, str]]
) -> None:
    assert faults(part("U1", "comparator", COMPARED, f'use = "{name}"')) == wanted


def test_the_discharge_transistor_of_a_timer_needs_one() -> None:
    timer = part("U1", "timer", TIMED, 'use = "7555 type"') + resistor("R9", "D", "T", 1e5)
    assert faults(timer) == [("U1", "discharge")]
    assert faults(timer + resistor("R7", "IN", "D", 1e5)) == []
