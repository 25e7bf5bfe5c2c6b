"""The log of a supply: readings and captures, in one SQLite file that survives a crash.

Each of them is a transaction of its own, written through to the disk before it counts as accepted.
Captures lie in the same file, so that none is ever without its row, or a row without it.
"""

from __future__ import annotations

import csv
import io
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from railwright.bench.capture import Capture
from railwright.bench.reading import At, Place, Reading
from railwright.quantity import show

FORMAT = 2
"""Counts up when a table changes."""
AT = ("setting", "load", "input", "ambient")
"""Columns of where in the operating range something was read, in V, A, V and K; none of them has to
be known. Format 1 had none."""
HEADING = (
    "at",
    "stage",
    "quantity",
    "red",
    "black",
    "value",
    "unit",
    "error",
    "meter",
    "condition",
    *AT,
)
AT_UNITS = ("V", "A", "V", "°C")
DIGITS = 6
_TABLES = """
CREATE TABLE IF NOT EXISTS supply (format INTEGER NOT NULL, title TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS reading (
    number INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    stage TEXT NOT NULL,
    quantity TEXT NOT NULL,
    red TEXT NOT NULL,
    black TEXT NOT NULL,
    value REAL NOT NULL,
    error REAL NOT NULL,
    meter TEXT NOT NULL,
    condition TEXT NOT NULL,
    setting REAL,
    load REAL,
    input REAL,
    ambient REAL
);
CREATE TABLE IF NOT EXISTS capture (
    number INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    stage TEXT NOT NULL,
    channel TEXT NOT NULL,
    start REAL NOT NULL,
    step REAL NOT NULL,
    volts BLOB NOT NULL
);
"""
_SAMPLES = "<f4"
"""Captures are kept with the digits of a scope: little-endian, 4 bytes each."""
_KNOWN = (
    "stage, quantity, red, black, value, error, meter, condition, setting, load, input, ambient"
)


class LogError(ValueError):
    """A file that is no log of this supply: what was found, what to do."""


class Log:
    """The readings of one supply."""

    def __init__(self, path: Path, title: str) -> None:
        """Open a log, or begin one. LogError where the file is something else's."""
        self.path = path
        try:
            self._data = sqlite3.connect(path, isolation_level=None)
            self._data.execute("PRAGMA journal_mode = WAL")
            self._data.execute("PRAGMA synchronous = FULL")
            self._data.executescript(_TABLES)
            row = self._data.execute("SELECT format, title FROM supply").fetchone()
        except sqlite3.DatabaseError as error:
            raise LogError(f"{path} is no log of readings: {error}. Name another file.") from error
        if row is None:
            self._data.execute("INSERT INTO supply VALUES (?, ?)", (FORMAT, title))
        elif row == (1, title):
            self._upgrade()
        elif row[0] != FORMAT:
            raise LogError(f"{path} is a log of format {row[0]}; this reads format {FORMAT}.")
        elif row[1] != title:
            raise LogError(f'{path} is the log of "{row[1]}", not of "{title}". Name another file.')

    def _upgrade(self) -> None:
        """Make a log of format 1 one of this format, as a whole or not at all."""
        self._data.execute("BEGIN IMMEDIATE")
        for column in AT:
            self._data.execute(f"ALTER TABLE reading ADD COLUMN {column} REAL")
        self._data.execute("UPDATE supply SET format = ?", (FORMAT,))
        self._data.execute("COMMIT")

    def close(self) -> None:
        """Let go of the file."""
        self._data.close()

    def accept(self, reading: Reading) -> None:
        """Keep a reading; it is on the disk when this returns."""
        taken = datetime.now(UTC).isoformat(timespec="seconds")
        place, at = reading.place, reading.at
        self._data.execute(
            f"INSERT INTO reading (at, {_KNOWN}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                taken,
                reading.stage,
                place.quantity,
                place.red,
                place.black,
                reading.value,
                reading.error,
                reading.meter,
                reading.condition,
                *(at.setting, at.load, at.input, at.ambient),
            ),
        )

    def keep_capture(self, stage: str, capture: Capture) -> None:
        """Keep the channels of a capture; they are on the disk when this returns."""
        taken = datetime.now(UTC).isoformat(timespec="seconds")
        for name, volts in capture.channels.items():
            self._data.execute(
                "INSERT INTO capture (at, stage, channel, start, step, volts)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                (
                    taken,
                    stage,
                    name,
                    capture.start,
                    capture.step,
                    volts.astype(_SAMPLES).tobytes(),
                ),
            )

    def captures(self, stage: str) -> Sequence[Capture]:
        """The captures of a stage, one for each channel, the first first."""
        rows = self._data.execute(
            "SELECT channel, start, step, volts FROM capture WHERE stage = ? ORDER BY number",
            (stage,),
        )
        return [
            Capture(start, step, {name: np.frombuffer(volts, _SAMPLES).astype(np.float64)})
            for name, start, step, volts in rows
        ]

    def readings(self) -> Sequence[Reading]:
        """All readings, the first first."""
        return self._read("ORDER BY number")

    def last(self, stage: str, place: Place) -> Reading | None:
        """The last reading of a place at a stage; None where there is none."""
        found = self._read(
            "WHERE stage = ? AND quantity = ? AND red = ? AND black = ?"
            " ORDER BY number DESC LIMIT 1",
            (stage, place.quantity, place.red, place.black),
        )
        return found[0] if found else None

    def _read(self, which: str, known: Sequence[str] = ()) -> Sequence[Reading]:
        rows = self._data.execute(f"SELECT at, {_KNOWN} FROM reading {which}", known)
        return [
            Reading(stage, Place(*place), value, error, meter, condition, At(*at), taken)
            for taken, stage, *place, value, error, meter, condition, at in map(_split, rows)
        ]

    def as_csv(self) -> str:
        """All readings with their times, for other programs (RFC 4180)."""
        out = io.StringIO(newline="")
        table = csv.writer(out)
        table.writerow(HEADING)
        for each in self.readings():
            place, at = each.place, each.at
            known = (at.setting, at.load, at.input, at.ambient)
            texts = [
                "" if value is None else show(value, unit, DIGITS)
                for value, unit in zip(known, AT_UNITS, strict=True)
            ]
            read = (repr(each.value), place.unit, each.error, each.meter, each.condition)
            where = (each.taken, each.stage, place.quantity, place.red, place.black)
            table.writerow([*where, *read, *texts])
        return out.getvalue()


def _split(row: Sequence[Any]) -> Sequence[Any]:
    """A row with its last columns, of where it was read, in one."""
    return [*row[: -len(AT)], row[-len(AT) :]]


def log_of(design: Path, simulated: bool = False) -> Path:
    """Where the log of the supply that a design file describes stands, unless another is named."""
    return design.with_suffix(".simulated.readings" if simulated else ".readings")


@contextmanager
def opened(path: Path, title: str) -> Iterator[Log]:
    """A log that is closed again."""
    with closing(Log(path, title)) as log:
        yield log
