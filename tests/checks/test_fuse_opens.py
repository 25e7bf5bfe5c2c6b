"""Whether a short circuit behind a transformer opens the fuse before it, by hand."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from surveys.supplies import survey_of

from railwright.checks.check import Worst
from railwright.checks.fuse_opens import FuseOpens
from railwright.surveys.switch_on import SWITCH_ON

TEXT = (Path(__file__).parents[2] / "examples" / "workshop-twelve-volts.toml").read_text("utf-8")
CHECK = FuseOpens()


def answer(rated: str) -> tuple[float, float]:
    """Current of the short circuit, and what melts the fuse at most [A]."""
    survey = survey_of(re.sub(r'use = "fuse T [^"]*"', f'use = "fuse T {rated}"', TEXT))
    (subject,) = CHECK.subjects(survey)
    assert subject == "F1"
    assert CHECK.missing(survey, subject) == ""
    points = SWITCH_ON.points(survey).take(slice(0, 1))
    within = survey.within(SWITCH_ON.scope)
    found = CHECK.answer(SWITCH_ON.view(within, points, within.typical(1), None), subject)
    worst = Worst(found.value[0], found.limit[0], found.margin[0], "there")
    assert "F1" in CHECK.because(survey, subject, worst)
    return float(found.value[0]), float(found.limit[0])


def test_the_current_is_what_warm_windings_let_through() -> None:
    """V / |Z| at the lowest mains; both secondaries side by side, half of the leakage with them."""
    survey = survey_of(TEXT)
    values = survey.fixture.circuit.part("T1").values
    first, own, ratio, leakage = (
        values[name].spread.high
        for name in ("primary_resistance", "secondary_resistance", "turns_ratio",
                     "leakage_inductance")
    )  # fmt: skip
    need = survey.fixture.design.need.input
    ohms = need.resistance + 1.3 * (first + ratio**2 * own / 2)
    assert need.frequency is not None
    reactance = 2 * math.pi * need.frequency.max * leakage * 0.75
    by_hand = need.voltage.min / math.hypot(ohms, reactance)
    # IEC 60127-2, sheet 3: between 1.5 and 2.1 times its rating melts a time-lag fuse.
    current, melts = answer("0.2 A")
    assert current == pytest.approx(by_hand, rel=1e-9)
    assert 1.5 * 0.2 <= melts <= 2.1 * 0.2
    assert current > melts


@pytest.mark.parametrize("rated", ["2 A", "6.3 A"])
def test_a_fuse_that_a_short_circuit_does_not_open_falls_short(rated: str) -> None:
    current, melts = answer(rated)
    assert current < 1.5 * float(rated.split()[0]) <= melts


BESIDE = """
[[part]]
ref = "F2"
kind = "fuse"
use = "fuse T 0.2 A"
pins = { one = "ENTERS", two = "LEAVES" }

[[part]]
ref = "T2"
kind = "transformer"
use = "mains transformer 230 V, 2 x 15 V, 30 VA"
pins = { primary_start = "LEAVES", primary_end = "N", secondary_start = "A2", secondary_end = "N2", second_start = "A2", second_end = "N2" }

[[part]]
ref = "R9"
kind = "resistor"
resistance = "1 kΩ"
pins = { one = "A2", two = "N2" }
"""  # noqa: E501


@pytest.mark.parametrize("enters", ["L", "L1"], ids=["beside", "behind"])
def test_each_transformer_is_asked_of_the_fuse_that_is_its_own(enters: str) -> None:
    """Fuses that share a side of the mains, or stand one behind the other, protect each its own."""
    strong = re.sub(r'use = "fuse T [^"]*"', 'use = "fuse T 2 A"', TEXT)
    survey = survey_of(strong + BESIDE.replace("ENTERS", enters).replace("LEAVES", "L2"))
    assert CHECK.subjects(survey) == ["F1", "F2"]
    points = SWITCH_ON.points(survey).take(slice(0, 1))
    within = survey.within(SWITCH_ON.scope)
    view = SWITCH_ON.view(within, points, within.typical(1), None)
    assert [CHECK.answer(view, ref).margin[0] > 0.0 for ref in ("F1", "F2")] == [False, True]


def test_a_fuse_with_no_transformer_of_its_own_is_not_asked() -> None:
    apart = BESIDE.replace('"ENTERS"', '"L1"').replace('"LEAVES"', '"L2"')
    moved = TEXT.replace('primary_start = "L1"', 'primary_start = "L2"')
    assert CHECK.subjects(survey_of(moved + apart)) == ["F2"]


def test_without_a_transformer_there_is_nothing_to_ask() -> None:
    text = (Path(__file__).parents[2] / "examples" / "panel-five-volts.toml").read_text("utf-8")
    assert CHECK.subjects(survey_of(text)) == []
