"""Readings of a file: rows with quantity, red, black, value and unit, and what else is known."""

from __future__ import annotations

from collections.abc import Iterable
from typing import get_args

from railwright.bench.log import AT, AT_UNITS
from railwright.bench.reading import ALONE, At, Meter, Place, Quantity, Reading, ReadingError
from railwright.quantity import QuantityError, parse

QUANTITIES: tuple[Quantity, ...] = get_args(Quantity)
UNDER = ("", "load")


def of_rows(rows: Iterable[dict[str, str]], meter: Meter) -> list[Reading]:
    """Readings from rows with quantity, red, black, value and unit.

    A row may have a stage, and where in the operating range it was read: setting, load, input and
    ambient, each with its unit. ReadingError with the number of the line where one is none.
    """
    return [_reading(f"line {number}", row, meter) for number, row in enumerate(rows, 2)]


def _reading(line: str, row: dict[str, str], meter: Meter) -> Reading:
    name = _cell(row, "quantity") or "voltage"
    quantity = next((each for each in QUANTITIES if each == name), None)
    red = _cell(row, "red")
    if quantity is None or not red:
        raise ReadingError(
            f"{line}: {name} of {red or 'no net'}. A line has quantity "
            f"({' or '.join(QUANTITIES)}), red, black, value and unit."
        )
    under = _cell(row, "under")
    if under not in UNDER and not (under.endswith(ALONE) and quantity == "resistance"):
        raise ReadingError(
            f'{line}: {red} is read under {under}. Write "load" where the load is connected that '
            'was asked for, "R4 alone" where a lead of R4 was lifted to read its resistance, and '
            "nothing where neither is so."
        )
    place = Place(quantity, red, _cell(row, "black"), under)
    try:
        value = parse(f"{_cell(row, 'value')} {_cell(row, 'unit')}".strip(), place.unit)
        known = [
            parse(text, unit) if (text := _cell(row, column)) else None
            for column, unit in zip(AT, AT_UNITS, strict=True)
        ]
    except QuantityError as error:
        raise ReadingError(f"{line}: {error}") from error
    own = meter.error(value)
    return Reading(
        _cell(row, "stage"), place, value, own, _cell(row, "meter") or meter.name, at=At(*known)
    )


def _cell(row: dict[str, str], column: str) -> str:
    return (row.get(column) or "").strip()
