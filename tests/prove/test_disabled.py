"""What keeps a part switched off: the comparator that was put in the wrong way round."""

from __future__ import annotations

from pathlib import Path

import pytest

from railwright.circuit.design import Design, read, read_text
from railwright.prove.disabled import kept_off_by
from railwright.prove.run import prove
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey

GOOD = Path(__file__).parents[2] / "examples" / "radio-bench-rail.toml"
RIGHT = 'plus = "LEVEL", minus = "LIMIT"'
TURNED = 'plus = "LIMIT", minus = "LEVEL"'


def off(design: Design) -> set[str]:
    return set(kept_off_by(Survey(Fixture.of(design)), "U1"))


@pytest.fixture(scope="module")
def turned() -> Design:
    """U5 takes the input for too low while it is right, and so sets the latch for ever."""
    text = GOOD.read_text("utf-8")
    assert text.count(RIGHT) == 1
    return read_text(text.replace(RIGHT, TURNED), "turned.toml")


def test_nothing_keeps_a_part_off_that_works() -> None:
    assert off(read(GOOD)) == set()


def test_a_wrong_sense_is_no_matter_of_what_drives_it() -> None:
    """The first board's enable works while the latch is set, and that lasts."""
    assert off(read(GOOD.with_name("radio-bench-rail-first-board.toml"))) == set()


def test_a_comparator_with_exchanged_inputs_and_the_latch_behind_it(turned: Design) -> None:
    assert off(turned) == {"U5", "U6A"}


def test_it_is_told(turned: Design) -> None:
    told = [f for f in prove(turned, only=["wiring"]).findings if f.id == "design.drive"]
    assert [f.subject for f in told] == ["U5", "U6A"]
    assert all(f.verdict == "falls short" and "U1 would work" in f.because for f in told)
