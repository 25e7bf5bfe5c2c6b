"""Readings of a file, as mending takes them."""

from __future__ import annotations

from collections.abc import Iterable

from railwright.bench.reading import Meter, Place, Reading, ReadingError
from railwright.quantity import QuantityError, parse

QUANTITIES = ("voltage", "current")


def of_rows(rows: Iterable[dict[str, str]], meter: Meter) -> list[Reading]:
    """Readings from rows with quantity, red, black, value and unit, and stage if there are several.

    ReadingError with the number of the line where one is none.
    """
    found = []
    for number, row in enumerate(rows, 2):
        quantity = (row.get("quantity") or "voltage").strip()
        red, black = (row.get("red") or "").strip(), (row.get("black") or "").strip()
        if quantity not in QUANTITIES or not red:
            raise ReadingError(
                f"line {number}: {quantity} of {red or 'no net'}. A line has quantity "
                f"({' or '.join(QUANTITIES)}), red, black, value and unit."
            )
        place = Place("voltage" if quantity == "voltage" else "current", red, black)
        text = f"{(row.get('value') or '').strip()} {(row.get('unit') or '').strip()}".strip()
        try:
            value = parse(text, place.unit)
        except QuantityError as error:
            raise ReadingError(f"line {number}: {error}") from error
        stage = (row.get("stage") or "").strip()
        found.append(Reading(stage, place, value, meter.error(value), meter.name))
    return found
