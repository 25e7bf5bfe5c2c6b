"""Single faults as a table of the report, the gravest first."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from railwright.pages import wording
from railwright.prove.proof import SEVERITIES, FaultRow

_HEADS = (
    "Severity",
    "Part",
    "Mode, share of its failures",
    "Local effect",
    "Effect on the output",
    "What acts, what is seen",
)


def fault_table(rows: Sequence[FaultRow]) -> str:
    """The section of single faults; nothing where none were looked at."""
    if not rows:
        return ""
    order = list(SEVERITIES)
    ranked = sorted(rows, key=lambda row: order.index(row.severity))
    heads = "".join(f'<th scope="col">{head}</th>' for head in _HEADS)
    meanings = "".join(f"<dt>{word}</dt><dd>{meaning}</dd>" for word, meaning in SEVERITIES.items())
    return (
        "<h2>Single faults</h2>\n<p>Each part in each way in which its kind fails, one at a time, "
        "with all others typical and all knobs where they were set before.</p>\n"
        f'<div class="scroll"><table><thead><tr>{heads}</tr></thead>\n'
        f"<tbody>{''.join(map(_row, ranked))}</tbody></table></div>\n<dl>{meanings}</dl>"
    )


def _row(row: FaultRow) -> str:
    where = f" ({wording.place(row.where)})" if row.where is not None else ""
    cells = (
        row.severity,
        row.part,
        f"{row.mode}, {wording.percent(row.share)}",
        f"{row.local}{where}",
        row.effect,
        row.seen,
    )
    return f"<tr>{''.join(f'<td>{escape(wording.printable(c))}</td>' for c in cells)}</tr>\n"
