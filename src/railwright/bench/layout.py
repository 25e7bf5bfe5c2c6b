"""How the numbers of a capture are laid out in its file: found from its first lines.

Oscilloscopes write what they like above, and some beside, the numbers: settings as pairs, one or
two lines of names and units, any delimiter, a decimal comma. What counts is the longest run of
lines with the same number of fields in which the same columns are numbers, up to the end of what
was looked at; all above is told, and searched for names, units and the step of time.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from railwright.bench.capture import CaptureError
from railwright.quantity import QuantityError, parse

LOOKED_AT = 65536
"""Bytes of a file from which its layout is found."""
LEAST_ROWS = 8
"""Lines of numbers that make a capture."""
DELIMITERS = (";", "\t", ",", " ")
COMMENTS = "#% "
"""What may lead a line that is not of numbers."""
_NUMBER = re.compile(r"[+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?")
_STEP = re.compile(
    r"(?:sample|horizontal|time|x)?[ _-]*(?:interval|increment|step|period|inc|resolution|delta)",
    re.I,
)
_RATE = re.compile(r"sampl\w*[ _-]*(?:rate|frequency)", re.I)
_TIME = re.compile(r"\b(?:time|t|x|zeit|second|seconds)\b", re.I)
_UNIT = re.compile(r"[\[(]([^\])]*)[\])]|^\s*([munpµk]?[sVA]|Volt|volt|second|Second)s?\s*$")
_WORDS = {"volt": "V", "volts": "V", "second": "s", "seconds": "s", "ampere": "A", "amps": "A"}


@dataclass(frozen=True)
class Layout:
    """Where the numbers of a capture are, and what stands above them."""

    skip: int
    """Lines above the numbers."""
    delimiter: str
    comma: bool
    """Whether a decimal is marked by a comma."""
    columns: tuple[int, ...]
    """Those that are numbers."""
    names: tuple[str, ...]
    """Of those columns; empty where none is told."""
    units: tuple[str, ...]
    """Of those columns; empty where none is told."""
    step: float | None
    """Between samples [s], where the lines above say so."""
    encoding: str


def layout_of(head: bytes) -> Layout:
    """The layout of a file from its first bytes. CaptureError where there are no numbers in it."""
    encoding = _encoding(head)
    text = head.decode(encoding, errors="replace")
    lines = text.splitlines()
    if len(head) >= LOOKED_AT:
        lines = lines[:-1]  # it was cut off anywhere
    while lines and not lines[-1].strip():
        lines.pop()
    found = max(
        (_run(lines, delimiter, comma) for delimiter in DELIMITERS for comma in (False, True)),
        key=lambda run: (run.digits * run.rows, len(run.columns), -run.comma),
    )
    if found.rows < LEAST_ROWS or not found.columns:
        raise CaptureError(
            f"no {LEAST_ROWS} lines with the same columns of numbers were found. A capture is a "
            "text of numbers in columns: save it as CSV, with all its samples."
        )
    above = lines[: found.first]
    names, units = _titles(above, found)
    return Layout(
        found.first,
        found.delimiter,
        found.comma,
        found.columns,
        names,
        units,
        _told_step(above, found),
        encoding,
    )


def _encoding(head: bytes) -> str:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    try:
        head[: -4 or None].decode("utf-8")
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8-sig"


@dataclass(frozen=True)
class _Run:
    first: int
    rows: int
    delimiter: str
    comma: bool
    columns: tuple[int, ...]
    digits: int = 0
    """In the numbers of a line: of two ways to read it the one that leaves less out is right."""


def _run(lines: Sequence[str], delimiter: str, comma: bool) -> _Run:
    """The lines at the end that have the same columns of numbers."""
    nothing = _Run(len(lines), 0, delimiter, comma, ())
    if (comma and delimiter == ",") or not lines:
        return nothing
    last = split(lines[-1], delimiter)
    columns = {i for i, cell in enumerate(last) if _is(cell, comma)}
    digits = sum(letter.isdigit() for i in columns for letter in last[i])
    first = len(lines)
    for index in range(len(lines) - 1, -1, -1):
        cells = split(lines[index], delimiter)
        kept = {i for i in columns if i < len(cells) and _is(cells[i], comma)}
        # A column may end, as settings beside the first numbers do; the others go on above.
        if len(cells) != len(last) or not kept or len(kept) < len(columns):
            break
        first = index
    return _Run(first, len(lines) - first, delimiter, comma, tuple(sorted(columns)), digits)


def split(line: str, delimiter: str) -> list[str]:
    """The fields of a line."""
    if delimiter == " ":
        return line.split()
    return [cell.strip().strip('"') for cell in line.split(delimiter)]


def _is(cell: str, comma: bool) -> bool:
    """Whether a field is a number, with this mark of its decimals."""
    found = _NUMBER.fullmatch(cell)
    return found is not None and ("," not in cell if not comma else "." not in cell)


def _titles(above: Sequence[str], run: _Run) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names and units in the one or two lines above the numbers."""
    names: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    for line in reversed(above[-3:]):
        cells = split(line.lstrip(COMMENTS), run.delimiter)
        if len(cells) <= max(run.columns) or all(not cells[i] for i in run.columns):
            continue
        own = [cells[i] for i in run.columns]
        if any(_is(cell, run.comma) for cell in own):
            break
        told = [_unit(cell) for cell in own]
        if not units and all(told):
            units = tuple(told)
        bare = tuple(_UNIT.sub("", cell).strip() for cell in own)
        if all(bare):
            names = bare
            break
    return names, units


def _unit(cell: str) -> str:
    found = _UNIT.search(cell)
    if found is None:
        return ""
    unit = (found[1] or found[2] or "").strip()
    return _WORDS.get(unit.lower(), unit.replace("u", "µ") if unit[:1] == "u" else unit)


def _told_step(above: Sequence[str], run: _Run) -> float | None:
    """The step of time that a line of settings tells, as an interval or as a rate."""
    for line in above:
        for delimiter in (run.delimiter, ",", ";", "\t", ":", "="):
            cells = [cell for cell in split(line, delimiter) if cell]
            for name, value in pairwise(cells):
                if _STEP.search(name) and (found := _quantity(value, "s")):
                    return found
                if _RATE.search(name) and (found := _quantity(value, "Hz")):
                    return 1.0 / found
    return None


def _quantity(text: str, unit: str) -> float | None:
    """A positive value with or without its unit; None where it is none."""
    cleaned = text.strip().rstrip(",;")
    try:
        found = float(cleaned.replace(",", "."))
    except ValueError:
        try:
            found = parse(cleaned.replace("Sa/s", "Hz").replace("S/s", "Hz"), unit)
        except QuantityError:
            return None
    return found if found > 0 else None


def is_time(name: str) -> bool:
    """Whether a column's name says that it is time."""
    return bool(_TIME.search(name))
