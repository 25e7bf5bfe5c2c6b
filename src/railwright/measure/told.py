"""Measured against predicted on the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from railwright.bench.reading import Reading
from railwright.measure.compared import Compared
from railwright.measure.sheet import row
from railwright.pages.narrow import GAP, Narrow
from railwright.pages.wording import count, printable

COLUMNS = (0, 1, 2, 3, 5)
"""Of a row of the sheet: name, place, read, predicted, verdict."""


class Beside(Narrow):
    """Every comparison in a line, and how many readings are compared with nothing."""

    def __init__(self, found: Sequence[Compared], left_out: Sequence[Reading] = ()) -> None:
        self.found, self.left_out = found, left_out

    def parts(self) -> Iterator[RenderableType]:
        table = Table.grid(padding=(0, GAP, 0, 0))
        table.add_row(*(Text(head, style="bold") for head in ("", "at", "measured", "predicted")))
        for each in self.found:
            cells = row(each)
            table.add_row(*(Text(printable(cells[column])) for column in COLUMNS))
        if self.found:
            yield table
        if self.left_out:
            yield Text(
                f"{count(len(self.left_out))} more readings are at no output's terminals, or do "
                "not say at which setting or load: bringing up judged them."
            )
