"""Current limits that take over, against their sum by hand."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import pytest

from railwright.checks.check import Check
from railwright.checks.limiting import OVERLOADED, LimitActs, LimitCarries
from railwright.circuit.design import read_text
from railwright.surveys.extremes import Extreme, explore
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey

LIMITED = Path(__file__).parents[2] / "examples" / "bench-twelve-volts-limited.toml"
TEXT = LIMITED.read_text("utf-8")


def found(text: str, check: Check) -> Extreme:
    survey = Survey(Fixture.of(read_text(text, "limited.toml")))
    question = partial(_asked, check)
    return explore(survey, OVERLOADED, {"limit": question}, 1)["limit"]


def _asked(check: Check, view: object) -> object:
    return check.answer(view, "main")  # type: ignore[arg-type]


def amperes(sense: int) -> float:
    """The limit by hand with every part at one end of its guaranteed spread [A].

    431 type: 1 % at 25 °C, 145 ppm/K over 15 K; resistors 1 %, the shunt 1 %; gain 1.6 %;
    amplifiers 7 mV, 562 µV/V of 16 V more supply than where that is stated and of 1.7 V of common
    mode, and 0.15 mV. What bias currents and drifts add stays below 1 %.
    """
    reference = 2.495 * (1 + sense * (0.01 + 145e-6 * 15))
    upper, lower = 4.3 * (1 - 0.01 * sense), 10 * (1 + 0.01 * sense)
    threshold = reference * lower / (lower + upper) + sense * (7e-3 + 562e-6 * 17.7)
    shunt = 0.05 * (1 - 0.01 * sense)
    return threshold / (50 * (1 - 0.016 * sense) * shunt) + sense * 0.15e-3 / shunt


@pytest.mark.parametrize(("check", "sense"), [(LimitActs(), 1), (LimitCarries(), -1)])
def test_a_limit_holds_at_what_its_parts_make_it(check: Check, sense: int) -> None:
    extreme = found(TEXT, check)
    assert extreme.margin > 0
    assert extreme.value == pytest.approx(amperes(sense), rel=0.015)
    assert extreme.unsolved == 0


@pytest.mark.parametrize(
    ("check", "old", "new"),
    [
        (LimitActs(), 'resistance = "50 mΩ"', 'resistance = "5 mΩ"'),
        (LimitCarries(), 'resistance = "50 mΩ"', 'resistance = "75 mΩ"'),
        (LimitActs(), 'resistance = "4k3"', 'resistance = "430 Ω"'),
    ],
)
def test_a_limit_of_another_current_is_found(check: Check, old: str, new: str) -> None:
    assert TEXT.count(old) == 1
    assert found(TEXT.replace(old, new), check).margin < 0


def test_a_drive_that_cannot_come_low_enough_does_not_limit_a_short() -> None:
    """A hot Darlington transistor needs less than 1.4 V, by hand.

    The amplifier comes down to 0.65 V, and its diode takes 0.6 V more (datasheet figure of the 358
    type; a silicon junction at some milliamperes, common practice). What is left conducts, and the
    hotter it gets the more.
    """
    other = TEXT.replace('"field-effect-transistor"', '"darlington-transistor"')
    other = other.replace('"n-channel 100 V 30 A"', '"122 type"').replace('"1N5819"', '"1N4148"')
    other = other.replace("drain =", "collector =").replace("source =", "emitter =")
    other = other.replace('gate = "DRIVE"', 'base = "DRIVE"')
    assert found(other, LimitActs()).margin < -0.5
