"""Single faults as a table of the report, the gravest first."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from railwright.pages import wording
from railwright.prove.proof import SEVERITIES, FaultRow

HEADS = (
    "Severity",
    "Part",
    "Mode, share of its failures",
    "Local effect",
    "Effect on the output",
    "What acts, what is seen",
)

LEAD = (
    "Each part in each way in which its kind fails, one at a time, with all others typical and "
    "all knobs where they were set before."
)


def fault_table(rows: Sequence[FaultRow]) -> str:
    """The section of single faults; nothing where none were looked at."""
    if not rows:
        return ""
    heads = "".join(f'<th scope="col">{head}</th>' for head in HEADS)
    meanings = "".join(f"<dt>{word}</dt><dd>{meaning}</dd>" for word, meaning in SEVERITIES.items())
    body = "".join(f"<tr>{''.join(map(_cell, HEADS, row))}</tr>\n" for row in fault_cells(rows))
    return (
        f"<h2>Single faults</h2>\n<p>{LEAD}</p>\n"
        f'<div class="scroll"><table><thead><tr>{heads}</tr></thead>\n'
        f"<tbody>{body}</tbody></table></div>\n<dl>{meanings}</dl>"
    )


def fault_cells(rows: Sequence[FaultRow]) -> list[tuple[str, ...]]:
    """What stands in the table under `HEADS`, row by row, the gravest first."""
    order = list(SEVERITIES)
    ranked = sorted(rows, key=lambda row: order.index(row.severity))
    return [tuple(map(wording.printable, _texts(row))) for row in ranked]


def _texts(row: FaultRow) -> tuple[str, ...]:
    where = f" ({wording.place(row.where)})" if row.where is not None else ""
    return (
        row.severity,
        row.part,
        f"{row.mode}, {wording.percent(row.share)}",
        f"{row.local}{where}",
        row.effect,
        row.seen,
    )


def _cell(head: str, text: str) -> str:
    return f'<td data-head="{head}">{escape(text)}</td>'
