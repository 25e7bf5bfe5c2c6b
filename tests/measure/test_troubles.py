"""Instruments that lie, stay silent or leave: it ends off, is told, and can be gone on with.

Time-outs, late answers and closed lines behave here as they do over VISA; the supply is simulated.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from surveys.supplies import resistor, supply

from railwright.bench.hidden import Hidden
from railwright.bench.instruments.line import InstrumentError
from railwright.bench.instruments.profile import Kind
from railwright.bench.log import opened
from railwright.bench.reading import Meter, ReadingError
from railwright.bench.simulated.bench import SimulatedBench, simulated_bench
from railwright.bench.simulated.serving import Trouble
from railwright.bench.steps import Step, course
from railwright.circuit.design import read_text
from railwright.measure.by_instruments import on_the_bench
from railwright.measure.walk import Outcome, walk

TEXT = supply(resistor("R1", "IN", "OUT", 1e3, "1 %") + resistor("R2", "OUT", "GND", 3e3, "1 %"))
DESIGN = read_text(TEXT, "small.toml")
COURSE = course(DESIGN)
METER = Meter()
TIMEOUT = 0.4
"""s"""
MOST = ("12 V", "0.1 A")
READ_CURRENT, READ_VOLTAGE = "MEASure:CURRent", "MEASure:VOLTage"


@pytest.fixture
def bench() -> Iterator[SimulatedBench]:
    with simulated_bench(DESIGN, Hidden(1), METER) as found:
        yield found


def walked(
    bench: SimulatedBench, log: Path, person: Callable[[Step], str] | None = None
) -> Outcome:
    with (
        on_the_bench(
            person or bench.hands.read, bench.hands.ready, bench.addresses, MOST, timeout=TIMEOUT
        ) as by,
        opened(log, DESIGN.title) as kept,
    ):
        return walk(COURSE, kept, by, lambda text: None, METER, by.off)


def kept(log: Path) -> int:
    with opened(log, DESIGN.title) as found:
        return len(found.readings())


TROUBLES: list[tuple[str, Kind, Trouble, str]] = [
    ("hangs up in a query", "supply", Trouble("hangs up", READ_CURRENT), "no answer to MEAS"),
    ("hangs up when it is switched on", "supply", Trouble("hangs up", "OUTPut ON"), "no answer"),
    ("answers late", "multimeter", Trouble("late", READ_VOLTAGE, 2 * TIMEOUT), "no answer to MEAS"),
    ("answers late, source", "supply", Trouble("late", READ_CURRENT, 2 * TIMEOUT), "no answer"),
    ("is silent", "multimeter", Trouble("silent", READ_VOLTAGE), "no answer to MEAS"),
    ("says words", "multimeter", Trouble("wrong", READ_VOLTAGE, text="HELLO"), "a number is due"),
    ("says nan", "multimeter", Trouble("wrong", READ_VOLTAGE, text="nan"), "a number is due"),
    ("says SCPI's", "multimeter", Trouble("wrong", READ_VOLTAGE, text="9.91E37"), "none can be"),
    ("beyond any range", "multimeter", Trouble("wrong", READ_VOLTAGE, text="5E20"), "none can be"),
    ("beyond any range, source", "supply", Trouble("wrong", READ_CURRENT, text="1E9"), "none can"),
    ("is one behind", "supply", Trouble("stale", READ_CURRENT), "a number is due"),
    ("does not take what it is set to", "supply", Trouble("wrong", "SOURce:VOLTage?", text="3"),
     "it was set to 10 and says 3"),
    ("has no name", "supply", Trouble("wrong", "*IDN?", text="1.25E+00"), "its name is due"),
    ("cannot say whether it is on", "supply", Trouble("wrong", "OUTPut?", text="WHAT", after=2),
     "asked whether it is on"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "trouble", "told"), [row[1:] for row in TROUBLES], ids=[row[0] for row in TROUBLES]
)
def test_it_ends_off_is_told_and_goes_on(
    kind: Kind, trouble: Trouble, told: str, bench: SimulatedBench, tmp_path: Path
) -> None:
    log = tmp_path / "a.readings"
    bench.instruments[kind].troubles.append(Trouble(**vars(trouble)))
    with pytest.raises(InstrumentError, match=told) as error:
        walked(bench, log)
    assert bench.addresses[kind] in str(error.value)
    assert not bench.stand.on
    before = kept(log) if log.exists() else 0
    assert before < len(COURSE.steps)
    # Nothing of it is left: the same once more, and what was read is not read again.
    bench.instruments["multimeter"].said.clear()
    outcome = walked(bench, log)
    assert outcome.status == 0
    assert kept(log) == len(COURSE.steps)
    asked = [text for text in bench.instruments["multimeter"].said if text.startswith("MEAS")]
    powered = sum(step.place.quantity == "current" for step in COURSE.steps)
    assert len(asked) <= len(COURSE.steps) - powered - max(0, before - powered)
    assert not bench.stand.on


def test_another_instrument_after_a_time_out_is_found_out(
    bench: SimulatedBench, tmp_path: Path
) -> None:
    troubles = bench.instruments["supply"].troubles
    troubles.append(Trouble("silent", READ_CURRENT))
    # It asked who is there once at the beginning; then again on the line that it opened anew.
    troubles.append(Trouble("wrong", "*IDN?", text="OTHER,LOAD,9,1.0", after=1, times=9))
    with pytest.raises(InstrumentError, match=r"SWITCH IT OFF BY HAND.*'OTHER,LOAD,9,1\.0'"):
        walked(bench, tmp_path / "a.readings")


def test_an_instrument_that_keeps_a_late_answer_is_not_believed(
    bench: SimulatedBench, tmp_path: Path
) -> None:
    troubles = bench.instruments["supply"].troubles
    troubles.append(Trouble("silent", READ_CURRENT))
    troubles.append(Trouble("wrong", "*IDN?", text="2.5E-3", after=1))
    with pytest.raises(InstrumentError, match="no answer to MEASure:CURRent"):
        walked(bench, tmp_path / "a.readings")
    assert not bench.stand.on  # in the next try it said who it is


def test_gone_for_good_it_says_to_switch_off_by_hand(bench: SimulatedBench, tmp_path: Path) -> None:
    for message in (READ_CURRENT, "OUTPut OFF", "*IDN?"):
        after = 2 if message != READ_CURRENT else 0
        bench.instruments["supply"].troubles.append(
            Trouble("hangs up", message, after=after, times=99)
        )
    with pytest.raises(InstrumentError, match="SWITCH IT OFF BY HAND, NOW"):
        walked(bench, tmp_path / "a.readings")


def test_overrange_in_the_middle_of_a_walk_is_asked_for_again(
    bench: SimulatedBench, tmp_path: Path
) -> None:
    bench.instruments["multimeter"].troubles.append(
        Trouble("wrong", READ_VOLTAGE, text="9.9E+37", times=1)
    )
    with pytest.raises(ReadingError, match="over its range"):
        walked(bench, tmp_path / "a.readings")
    assert not bench.stand.on


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_signal_between_readings_leaves_it_off(
    name: str, bench: SimulatedBench, tmp_path: Path
) -> None:
    log, was_on = tmp_path / "a.readings", []

    def person(step: Step) -> str:
        if bench.stand.on:
            was_on.append(True)
            signal.raise_signal(getattr(signal, name))
        return bench.hands.read(step)

    before = signal.getsignal(getattr(signal, name))
    with pytest.raises((KeyboardInterrupt, SystemExit)):
        walked(bench, log, person)
    assert was_on
    assert not bench.stand.on
    assert signal.getsignal(getattr(signal, name)) is before
    assert kept(log) == 3
    assert walked(bench, log).status == 0


def test_impatience_does_not_keep_it_from_switching_off(
    bench: SimulatedBench, tmp_path: Path
) -> None:
    # It is told to stop again while the source takes its time to say that it is off.
    bench.instruments["supply"].troubles.append(Trouble("late", "OUTPut?", 0.2, after=2, times=9))
    again = threading.Timer(0.1, lambda: os.kill(os.getpid(), signal.SIGINT))

    def person(step: Step) -> str:
        if bench.stand.on:
            again.start()
            signal.raise_signal(signal.SIGINT)
        return bench.hands.read(step)

    with pytest.raises(KeyboardInterrupt):
        walked(bench, tmp_path / "a.readings", person)
    again.join()
    assert not bench.stand.on


CHILD = """
import sys
from railwright.bench.instruments.instrument import BenchSupply, Limits, in_charge
from railwright.bench.instruments.line import Line
from railwright.bench.instruments.profile import standard
supply = BenchSupply(Line(sys.argv[1], 5.0), standard("supply"), Limits(12.0, 0.1))
with in_charge(supply):
    supply.on(10.0, 0.05)
    print("on", flush=True)
    supply.read("current")
"""


@pytest.mark.parametrize(("name", "status"), [("SIGINT", -2), ("SIGTERM", 143)])
def test_a_program_that_is_stopped_in_a_query_leaves_it_off(
    name: str, status: int, bench: SimulatedBench
) -> None:
    bench.hands.stand.stage = ""
    bench.instruments["supply"].troubles.append(Trouble("late", READ_CURRENT, 1.0))
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, bench.addresses["supply"]],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ},
    )
    assert child.stdout is not None
    assert child.stdout.readline() == b"on\n"
    time.sleep(0.2)
    assert bench.stand.on
    child.send_signal(getattr(signal, name))
    _, said = child.communicate(timeout=20)
    assert not bench.stand.on
    assert child.returncode in (status, 130), said


def test_after_a_kill_the_next_program_switches_off_first(
    bench: SimulatedBench, tmp_path: Path
) -> None:
    # Nothing can be done by a program that is killed at once: what it left on stays within its
    # limits, and is off before anybody is asked to touch it.
    bench.stand.change(volts=10.0, amperes=0.05, on=True)

    def person(step: Step) -> str:
        assert not bench.stand.on
        return "leave"

    walked(bench, tmp_path / "a.readings", person)
