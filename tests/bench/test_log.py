"""The log keeps what it accepted, whatever happens to the program."""

from __future__ import annotations

import csv
import io
import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from railwright.bench.log import Log, LogError, opened
from railwright.bench.reading import Place, Reading

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
    }
