"""The log of a supply: every accepted reading, in one SQLite file that survives a crash.

Each reading is a transaction of its own, written through to the disk before it counts as
accepted.
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
"""
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

    def readings(self) -> Sequence[Reading]:
        """All readings, the first first."""
        rows = self._data.execute(f"SELECT at, {_KNOWN} FROM reading ORDER BY number")
        return [
            Reading(stage, Place(*place), value, error, meter, condition, At(*at), taken)
            for taken, stage, *place, value, error, meter, condition, at in map(_split, rows)
        ]

    def last(self, stage: str, place: Place) -> Reading | None:
        """The last reading of a place at a stage; None where there is none."""
        found = [r for r in self.readings() if r.stage == stage and r.place == place]
        return found[-1] if found else None

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


@contextmanager
def opened(path: Path, title: str) -> Iterator[Log]:
    """A log that is closed again."""
    with closing(Log(path, title)) as log:
        yield log
