"""A part of the catalogue on a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from railwright.catalogue.entry import Entry
from railwright.pages.narrow import Narrow
from railwright.pages.part import (
    Row,
    rating_rows,
    terminals,
    unstated,
    value_rows,
    window_rows,
)
from railwright.pages.wording import printable


class PartSheet(Narrow):
    """A part for `rich` to print: what it is, its pins, every value with its provenance."""

    def __init__(self, entry: Entry) -> None:
        self._entry = entry

    def parts(self) -> Iterator[RenderableType]:
        entry = self._entry
        what = f": {entry.kind}, trade type {entry.trade}, package {entry.package}"
        yield Text.assemble((printable(entry.name), "bold"), printable(what))
        if entry.warning:
            yield Text(printable(f"Caution: {entry.warning}"), style="bold yellow")
        if entry.options:
            told = (f"{option} {choice}" for option, choice in entry.options.items())
            yield Text(printable(f"Made as: {', '.join(told)}"))
        pins = ", ".join(f"{terminal} {pin}" for terminal, pin in terminals(entry))
        yield Text(printable(f"Pins: {pins or 'no order is stated'}"))
        if entry.price:
            yield Text(f"Price of one piece: {entry.price}")
        for title, rows in (
            ("Values", value_rows(entry)),
            ("Ratings", rating_rows(entry)),
            ("Asked of parts outside", window_rows(entry)),
        ):
            if rows:
                yield Text(f"\n{title}")
                yield _listed(rows)
        if missing := unstated(entry):
            yield Text(f"\nNot stated: {'; '.join(missing)}.")


def _listed(rows: Sequence[Row]) -> Table:
    table = Table.grid(padding=(0, 2), expand=True)
    table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    for row in rows:
        at = f", at: {row.at}" if row.at else ""
        told = Text.assemble(
            printable(row.value + at),
            (f"\n{row.meaning}", "dim"),
            printable(f"; from: {row.source}"),
        )
        table.add_row(Text(f"  {row.name}"), told)
    return table
