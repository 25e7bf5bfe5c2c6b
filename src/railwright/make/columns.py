"""Tables for other programs: CSV after RFC 4180."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence


def csv_of(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    r"""A heading and rows as CSV, UTF-8 with the mark by which spreadsheets know that.

    A text that a spreadsheet would take for a formula is led by an apostrophe (OWASP, CSV
    injection).

    >>> csv_of(["net", "pins"], [["OUT", 'R1 "one", C1'], ["-V", "x"]])[3:].decode()
    'net,pins\r\nOUT,"R1 ""one"", C1"\r\n\'-V,x\r\n'
    """
    out = io.StringIO(newline="")
    table = csv.writer(out)
    table.writerow(heading)
    table.writerows([_harmless(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def _harmless(cell: str) -> str:
    leads = len(cell) > 1 and cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    return f"'{cell}" if leads else cell
