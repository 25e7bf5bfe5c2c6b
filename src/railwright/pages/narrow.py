"""What everything that is printed on a terminal shares: how wide it is, lists, rows of three."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.table import Table
from rich.text import Text

from railwright.pages import wording

WIDEST = 112
"""Columns beyond which a row only gets harder to follow."""
GAP = 2
"""Columns between those of a row."""


class Narrow:
    """Something for `rich` to print, at any width from about 60 columns."""

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        narrowed = options.update(width=min(options.max_width, WIDEST))
        for part in self.parts():
            yield from console.render(part, narrowed)

    def parts(self) -> Iterator[RenderableType]:
        """What is printed, from top to bottom."""
        raise NotImplementedError(type(self).__name__)


def listed(heading: str, lines: Sequence[str]) -> Iterator[RenderableType]:
    """Texts under a heading; nothing where there are none."""
    if lines:
        yield Text(f"{heading}:", style="bold")
    for text in lines:
        item = Table.grid(padding=(0, 1))
        item.add_row(" -", Text(wording.printable(text)))
        yield item


def row_of_three(left: int, right: int, cells: Sequence[Text]) -> Table:
    """A row whose outer columns are so wide; the middle one gets the rest."""
    row = Table.grid(expand=True, padding=(0, GAP, 0, 0), pad_edge=False)
    row.add_column(width=left, overflow="fold")
    row.add_column(ratio=1, overflow="fold")
    row.add_column(width=right, overflow="fold")
    row.add_row(*cells)
    return row
