"""What keeps a part off, or a supply down: a comparator, and what was put at its inputs."""

from __future__ import annotations

from pathlib import Path

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.circuit.design import Design, read, read_text
from railwright.prove.disabled import kept_off_by, needless
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


def kept_down(inputs: str = "plus = LEVEL, minus = REF", more: str = "") -> dict[str, list[str]]:
    """What keeps an emitter follower down that a comparator lets come up, and what is needless.

    Half of 10 V is above a reference of 2.5 V, so that the comparator leaves the base alone.
    """
    text = (
        part("D1", "shunt-reference", "cathode = REF, anode = GND, reference = REF",
             'use = "431 type 1 %"')
        + resistor("R1", "IN", "REF", 2200)
        + resistor("R2", "IN", "LEVEL", 10000)
        + resistor("R3", "LEVEL", "GND", 10000)
        + resistor("R4", "IN", "BASE", 1000)
        + part("U1", "comparator", f"{inputs}, output = BASE, supply = IN, ground = GND",
               'use = "391 type"')
        + part("Q1", "darlington-transistor", "collector = IN, base = BASE, emitter = OUT",
               'use = "122 type"')
    )  # fmt: skip
    survey = survey_of(supply(text + more, volts=(8.0, 8.0), amperes=(0.01, 0.01)))
    found = kept_off_by(survey)
    return {ref: needless(survey, ref, states) for ref, states in found.items()}


def test_nothing_keeps_a_supply_down_that_comes_up() -> None:
    assert kept_down() == {}


def test_exchanged_inputs_keep_it_down_and_each_part_is_needed() -> None:
    assert kept_down("plus = REF, minus = LEVEL") == {"U1": []}


def test_a_part_on_the_wrong_net_is_needless_there() -> None:
    # 10 V x 100 / 10100 = 0.1 V, below the reference; without R9 it is 5 V again. Without R2 it
    # would be nil: the divider is needed.
    assert kept_down(more=resistor("R9", "LEVEL", "GND", 100)) == {"U1": ["R9"]}
