"""The log keeps what it accepted, whatever happens to the program."""

from __future__ import annotations

import csv
import io
import random
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from railwright.bench.capture import Capture
from railwright.bench.log import Log, LogError, opened
from railwright.bench.reading import At, Meter, Place, Reading
from railwright.bench.rows import of_rows

OUT = Place("voltage", "OUT", "GND")

WRITER = """
import sys
from pathlib import Path
from railwright.bench.log import Log
from railwright.bench.reading import Place, Reading
log = Log(Path(sys.argv[1]), "Bench")
for number in range(100000):
    log.accept(Reading("all", Place("voltage", f"N{number}", "GND"), float(number), 0.1))
    print(number, flush=True)
"""


def reading(value: float, stage: str = "all") -> Reading:
    return Reading(stage, OUT, value, 0.05, "multimeter")


def test_readings_come_back_in_their_order(tmp_path: Path) -> None:
    path = tmp_path / "a.readings"
    with opened(path, "Bench") as log:
        log.accept(reading(5.0))
        log.accept(reading(float("inf"), "without power"))
        log.accept(reading(5.1))
    with opened(path, "Bench") as log:
        assert [r.value for r in log.readings()] == [5.0, float("inf"), 5.1]
        last = log.last("all", OUT)
        assert last is not None
        assert last.value == 5.1
        assert log.last("other", OUT) is None


@pytest.mark.parametrize("seed", range(3))
def test_a_kill_loses_no_accepted_reading(seed: int, tmp_path: Path) -> None:
    path = tmp_path / "a.readings"
    wait = random.Random(seed).randint(1, 60)
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout is not None
        for line in writer.stdout:
            told = int(line)
            if told >= wait:
                writer.send_signal(signal.SIGKILL)
                break
        rest = [int(line) for line in writer.stdout.read().splitlines() if line.isdigit()]
    accepted = max([told, *rest])
    with opened(path, "Bench") as log:
        numbers = [r.value for r in log.readings()]
    assert numbers[: accepted + 1] == [float(n) for n in range(accepted + 1)]
    assert len(numbers) <= accepted + 2


def test_another_supplys_log_and_no_log_are_refused(tmp_path: Path) -> None:
    with opened(tmp_path / "a.readings", "Bench"):
        pass
    with pytest.raises(LogError, match='the log of "Bench", not of "Other"'):
        Log(tmp_path / "a.readings", "Other")
    notes = "my notes, which are long enough to be no data base\n"
    (tmp_path / "b.readings").write_text(notes * 9)
    with pytest.raises(LogError, match="no log of readings"):
        Log(tmp_path / "b.readings", "Bench")
    assert "my notes" in (tmp_path / "b.readings").read_text()


def test_exports_what_other_programs_read(tmp_path: Path) -> None:
    with opened(tmp_path / "a.readings", "Bench") as log:
        log.accept(reading(5.0))
        rows = list(csv.DictReader(io.StringIO(log.as_csv())))
    assert rows[0] | {"at": ""} == {
        "at": "",
        "stage": "all",
        "quantity": "voltage",
        "red": "OUT",
        "black": "GND",
        "value": "5.0",
        "unit": "V",
        "error": "0.05",
        "meter": "multimeter",
        "condition": "settled",
        "setting": "",
        "load": "",
        "input": "",
        "ambient": "",
    }


RIPPLE = Reading(
    "as a whole",
    Place("ripple", "OUT", "GND"),
    2.1e-3,
    1e-4,
    "oscilloscope",
    at=At(setting=5.0, load=0.25, ambient=298.15),
)


def test_where_something_was_read_is_kept_and_exported(tmp_path: Path) -> None:
    with opened(tmp_path / "a.readings", "Bench") as log:
        log.accept(RIPPLE)
        (found,) = log.readings()
        text = log.as_csv()
    assert found.taken
    assert replace(found, taken="") == RIPPLE
    (again,) = of_rows(csv.DictReader(io.StringIO(text)), Meter(share=0.0, counts=0.0))
    assert (again.at, again.place, again.value) == (RIPPLE.at, RIPPLE.place, RIPPLE.value)


def test_a_log_without_where_is_gone_on_with(tmp_path: Path) -> None:
    path = tmp_path / "a.readings"
    with closing(sqlite3.connect(path)) as old, old:
        old.executescript(FORMAT_1)
    with opened(path, "Bench") as log:
        log.accept(RIPPLE)
    with opened(path, "Bench") as log:
        first, second = log.readings()
    assert (first.value, first.at) == (5.0, At())
    assert second.at == RIPPLE.at


FORMAT_1 = """
CREATE TABLE supply (format INTEGER NOT NULL, title TEXT NOT NULL);
CREATE TABLE reading (
    number INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    stage TEXT NOT NULL,
    quantity TEXT NOT NULL,
    red TEXT NOT NULL,
    black TEXT NOT NULL,
    value REAL NOT NULL,
    error REAL NOT NULL,
    meter TEXT NOT NULL,
    condition TEXT NOT NULL
);
INSERT INTO supply VALUES (1, 'Bench');
INSERT INTO reading VALUES
    (1, '2026-01-01T00:00:00+00:00', 'all', 'voltage', 'OUT', 'GND', 5.0, 0.05, '', 'settled');
"""


def test_captures_lie_beside_the_readings(tmp_path: Path) -> None:
    path = tmp_path / "a.readings"
    volts = np.linspace(-1.0, 1.0, 1000)
    with opened(path, "Bench") as log:
        log.keep_capture("step", Capture(-1e-3, 1e-6, {"OUT": volts, "IN": 2.0 * volts}))
    with opened(path, "Bench") as log:
        out, into = log.captures("step")
        assert (out.start, out.step, out.count) == (-1e-3, 1e-6, 1000)
        assert out.channel("OUT") == pytest.approx(volts, abs=1e-7)
        assert into.channel("IN") == pytest.approx(2.0 * volts, abs=2e-7)
        assert log.captures("other") == []


def test_a_log_of_before_there_were_captures_is_gone_on_with(tmp_path: Path) -> None:
    path = tmp_path / "a.readings"
    with opened(path, "Bench") as log:
        log.accept(reading(5.0))
    with sqlite3.connect(path) as data:
        data.execute("DROP TABLE capture")
    data.close()
    with opened(path, "Bench") as log:
        log.keep_capture("all", Capture(0.0, 1e-6, {"OUT": np.zeros(10)}))
        assert (len(log.readings()), len(log.captures("all"))) == (1, 1)
