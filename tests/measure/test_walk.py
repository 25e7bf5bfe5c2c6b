"""Bringing up step by step: what is kept, what is asked again, where it ends."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from surveys.supplies import resistor, supply

from railwright import cli
from railwright.bench.log import Log, opened
from railwright.bench.reading import Meter, Place
from railwright.bench.steps import UNPOWERED, Course, Step, course
from railwright.circuit.design import read_text
from railwright.measure.walk import Outcome, from_rows, walk
from railwright.surveys.windows import Window

METER = Meter(share=0.01, counts=0)
OHMS = Step(UNPOWERED, Place("resistance", "IN", "GND"), (Window(1e3, 2e3, 3e3),), ("Look.",))
TAKES = Step("first", Place("current", "IN", "GND"), (Window(0.0, 0.01, 0.02),), ("Fit R1.",))
OUT = Step("first", Place("voltage", "OUT", "GND"), (Window(4.9, 5.0, 5.1),))
ON_OFF = (Window(4.9, 5.0, 5.1), Window(0.0, 0.0, 0.1))
LATCHED = Step("second", Place("voltage", "Q", "GND"), ON_OFF, ("Fit U1.",))
OTHER = Step("second", Place("voltage", "NOT_Q", "GND"), ON_OFF[::-1])
COURSE = Course((OHMS, TAKES, OUT, LATCHED, OTHER))


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with opened(tmp_path / "a.readings", "Bench") as found:
        yield found


def walked(log: Log, *said: str, on: Course = COURSE) -> tuple[Outcome, list[str]]:
    """A walk with these answers, and all that was told."""
    answers, told = iter(said), list[str]()
    outcome = walk(on, log, lambda step: next(answers), told.append, METER)
    assert next(answers, None) is None
    return outcome, told


def test_all_readings_inside_their_windows(log: Log) -> None:
    outcome, told = walked(log, "2 kΩ", "10 mA", "5.02 V", "5 V", "20 mV")
    assert outcome.status == 0
    assert [verdict for _, _, verdict in outcome.read] == ["inside"] * 5
    assert "Fit R1." in told
    assert "voltage of OUT from GND 5.02 V: inside (4.9 V to 5.1 V)" in told
    assert len(log.readings()) == 5


def test_what_was_read_is_not_asked_for_again(log: Log) -> None:
    outcome, _ = walked(log, "2 kΩ", "10 mA", "leave")
    assert outcome.status == 3
    assert "left by you" in outcome.ended
    assert len(outcome.left_open) == 3
    outcome, told = walked(log, "5 V", "0 V", "5 V")
    assert outcome.status == 0
    assert "Look." not in told
    assert len(outcome.read) == 5


def test_a_shorted_rail_is_never_connected(log: Log) -> None:
    outcome, told = walked(log, "2 Ω")
    assert outcome.status == 1
    assert "do not connect a source" in outcome.ended
    assert outcome.ended in told
    assert len(outcome.left_open) == 4


def test_more_than_its_window_of_resistance_says_nothing(log: Log) -> None:
    outcome, _ = walked(log, "OL", "leave")
    assert outcome.read[0][2] == "inside"


def test_too_much_current_ends_it_at_once(log: Log) -> None:
    outcome, _ = walked(log, "2 kΩ", "0.1 A")
    assert outcome.ended.startswith("Switch off")


def test_a_voltage_far_above_its_window_ends_it_at_once(log: Log) -> None:
    outcome, _ = walked(log, "2 kΩ", "10 mA", "9 V")
    assert "OUT is far above its window" in outcome.ended


def test_a_stage_with_a_reading_outside_is_the_last(log: Log) -> None:
    outcome, _ = walked(log, "2 kΩ", "10 mA", "4.5 V")
    assert outcome.status == 1
    assert outcome.ended == "first: OUT outside: find that before the next stage is fitted"


def test_the_meters_own_error_is_no_fault(log: Log) -> None:
    outcome, _ = walked(log, "2 kΩ", "10 mA", "5.14 V", "5 V", "0 V")
    assert outcome.status == 0
    assert outcome.read[2][2] == "doubtful"


def test_readings_have_to_fit_one_state_together(log: Log) -> None:
    outcome, _ = walked(log, "2 kΩ", "10 mA", "5 V", "5 V", "5 V")
    assert "no state fits all of them" in outcome.ended


def test_what_is_no_reading_is_asked_for_again(log: Log) -> None:
    outcome, told = walked(log, "19 V", "two", "2 kΩ", "leave")
    assert any("it is a voltage" in text for text in told)
    assert len(log.readings()) == 1
    assert outcome.status == 3


def test_readings_of_a_file_are_found_by_their_nets(log: Log) -> None:
    text = (
        "stage,quantity,red,value,unit\n"
        "without power,resistance,IN,2,kΩ\n"
        "first,current,IN,10,mA\n"
        ",voltage,OUT,5.0 V,\n"
    )
    asked = from_rows(csv.DictReader(io.StringIO(text)))
    outcome = walk(COURSE, log, asked, lambda text: None, METER)
    assert [reading.value for _, reading, _ in outcome.read] == [2000.0, 0.01, 5.0]
    assert outcome.left_open == [LATCHED, OTHER]
    assert outcome.status == 3


DIVIDER = resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 3e3)


def test_the_steps_of_a_design_begin_without_power() -> None:
    steps = course(read_text(supply(DIVIDER), "small.toml")).steps
    assert steps[0].stage == UNPOWERED
    first = next(step for step in steps if step.stage != UNPOWERED)
    assert first.place.quantity == "current"
    assert any("Bench source: plus to IN, minus to GND, 10 V" in text for text in first.todo)


def test_the_command_walks_and_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(supply(DIVIDER), encoding="utf-8")
    first = CliRunner().invoke(cli.commands, ["measure", str(path)], input="4 kΩ\nleave\n")
    assert first.exit_code == 3
    assert "resistance of IN from GND" in first.stdout
    rest = "3 kΩ\n2.5 mA\n7.5 V\n"
    table = tmp_path / "all.csv"
    words = ["measure", str(path), "--csv", str(table)]
    done = CliRunner().invoke(cli.commands, words, input=rest)
    assert done.exit_code == 0, done.stdout
    assert "0 outside, 0 open" in done.stdout
    assert len(table.read_text(encoding="utf-8").splitlines()) == 5
    assert (tmp_path / "small.readings").is_file()


def test_the_command_refuses_an_accuracy_that_is_none(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(supply(DIVIDER), encoding="utf-8")
    done = CliRunner().invoke(cli.commands, ["measure", str(path), "--meter", "good"])
    assert done.exit_code == 2
    assert "--meter" in done.stderr
