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

from railwright.bench.reading import Place, Reading

FORMAT = 1
"""Counts up when a table changes."""
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
)
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
    condition TEXT NOT NULL
);
"""


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
        elif row[0] != FORMAT:
            raise LogError(f"{path} is a log of format {row[0]}; this reads format {FORMAT}.")
        elif row[1] != title:
            raise LogError(f'{path} is the log of "{row[1]}", not of "{title}". Name another file.')

    def close(self) -> None:
        """Let go of the file."""
        self._data.close()

    def accept(self, reading: Reading) -> None:
        """Keep a reading; it is on the disk when this returns."""
        at = datetime.now(UTC).isoformat(timespec="seconds")
        self._data.execute(
            "INSERT INTO reading (at, stage, quantity, red, black, value, error, meter, condition)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                at,
                reading.stage,
                reading.place.quantity,
                reading.place.red,
                reading.place.black,
                reading.value,
                reading.error,
                reading.meter,
                reading.condition,
            ),
        )

    def readings(self) -> Sequence[Reading]:
        """All readings, the first first."""
        rows = self._data.execute(
            "SELECT stage, quantity, red, black, value, error, meter, condition"
            " FROM reading ORDER BY number"
        )
        return [
            Reading(stage, Place(quantity, red, black), value, error, meter, condition)
            for stage, quantity, red, black, value, error, meter, condition in rows
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
        rows = self._data.execute(
            "SELECT at, stage, quantity, red, black, value, error, meter, condition"
            " FROM reading ORDER BY number"
        )
        for at, stage, quantity, red, black, value, error, *rest in rows:
            unit = Place(quantity, red, black).unit
            table.writerow([at, stage, quantity, red, black, repr(value), unit, error, *rest])
        return out.getvalue()


@contextmanager
def opened(path: Path, title: str) -> Iterator[Log]:
    """A log that is closed again."""
    with closing(Log(path, title)) as log:
        yield log
