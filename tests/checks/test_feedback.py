"""Whose rail a regulator sees: its own, through resistors or other parts; another; none."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.feedback import Feedback, following
from railwright.surveys.survey import Survey

ADJUSTABLE = part(
    "U1", "adjustable-regulator", "input = IN, output = OUT, adjust = ADJ", 'use = "317 type 1.5 A"'
)
GROUNDED = ADJUSTABLE.replace('"ADJ"', '"GND"')
UPPER, LOWER = resistor("R1", "OUT", "ADJ", 100), resistor("R2", "ADJ", "GND", 300)
DROPPING = part(
    "U1",
    "adjustable-low-dropout-regulator",
    "input = IN, output = OUT, ground = GND, feedback = FB",
    'use = "1763 type adjustable 0.5 A"',
)
TOP, BOTTOM = resistor("R1", "OUT", "FB", 31e3), resistor("R2", "FB", "GND", 10e3)
LOAD = resistor("R9", "OUT", "GND", 100)
FIVE = part(
    "U2", "fixed-regulator", "input = IN, output = V5, ground = GND", 'use = "7805 type 1 A"'
)
STAGE = (
    part(
        "U1",
        "step-down-regulator",
        "input = IN, switch = SW, ground = GND, feedback = FB",
        'use = "step-down 150 kHz 3 A"',
    )
    + part("L1", "inductor", "one = SW, two = OUT", 'use = "inductor 68 µH 3 A"')
    + part("D1", "diode", "anode = GND, cathode = SW", 'use = "1N5822"')
    + resistor("R2", "FB", "GND", 1e3)
)
BUFFER = (
    resistor("R3", "OUT", "HALF", 20e3)
    + resistor("R4", "HALF", "GND", 20e3)
    + part(
        "U3",
        "operational-amplifier",
        "plus = HALF, minus = BUF, output = BUF, supply = IN, ground = GND",
        'use = "358 type"',
    )
    + resistor("R1", "BUF", "FB", 1e3)
)


def survey(parts: str) -> Survey:
    return survey_of(supply(parts + LOAD))


CASES = {
    "a divider": (ADJUSTABLE + UPPER + LOWER, []),
    "the upper resistor is missing": (ADJUSTABLE + LOWER, ["U1"]),
    "adjust at ground": (GROUNDED, []),
    "adjust at the output": (GROUNDED.replace('adjust = "GND"', 'adjust = "OUT"'), ["U1"]),
    "a divider at a feedback pin": (DROPPING + TOP + BOTTOM, []),
    "driven by an amplifier": (ADJUSTABLE + BUFFER.replace("FB", "ADJ"), []),
    "only a diode": (
        ADJUSTABLE + LOWER + part("D2", "diode", "anode = ADJ, cathode = OUT", 'use = "1N4002"'),
        ["U1"],
    ),
    "a divider from the input": (DROPPING + resistor("R1", "IN", "FB", 31e3) + BOTTOM, ["U1"]),
    "feedback at ground": (DROPPING.replace('"FB"', '"GND"'), ["U1"]),
    "feedback at the output": (DROPPING.replace('"FB"', '"OUT"'), []),
    "feedback at another rail": (DROPPING.replace('"FB"', '"V5"') + FIVE, ["U1"]),
    "a divider from another rail": (
        DROPPING + FIVE + resistor("R1", "V5", "FB", 31e3) + BOTTOM,
        ["U1"],
    ),
    "behind the coil": (STAGE + resistor("R1", "OUT", "FB", 3e3), []),
    "before the coil": (STAGE.replace('feedback = "FB"', 'feedback = "SW"'), ["U1"]),
    "through an amplifier": (STAGE + BUFFER, []),
    "an amplifier on another rail": (
        STAGE + BUFFER.replace('one = "OUT", two = "HALF"', 'one = "IN", two = "HALF"'),
        ["U1"],
    ),
}


@pytest.mark.parametrize(("parts", "wanted"), CASES.values(), ids=CASES)
def test_who_sees_the_wrong_net(parts: str, wanted: list[str]) -> None:
    faults = Feedback().look(survey(parts)).faults
    assert [fault.subject for fault in faults] == wanted
    assert all(fault.proven and "U1" in dict(fault.causes) for fault in faults)


def test_the_resistor_that_is_meant_is_told_first() -> None:
    """One that the feedback pin has from elsewhere, or that the output has to the return."""
    elsewhere = DROPPING + resistor("R1", "IN", "FB", 31e3) + BOTTOM
    astray = DROPPING + resistor("R1", "OUT", "GND", 31e3) + BOTTOM
    for parts in (elsewhere, astray):
        (fault,) = Feedback().look(survey(parts)).faults
        assert fault.causes[0][0] == "R1"


@pytest.mark.parametrize(("parts", "gain"), [
    (ADJUSTABLE + UPPER + LOWER, 1 + 300 / 100),
    (DROPPING + TOP + BOTTOM, 1 + 31 / 10),
    (STAGE + BUFFER, 2 * (1 + 1 / 1)),
], ids=["adjust", "feedback", "buffered"])  # fmt: skip
def test_a_rail_follows_its_reference_as_its_divider_says(parts: str, gain: float) -> None:
    assert following(survey(parts))["U1"] == pytest.approx(gain, rel=0.03)
