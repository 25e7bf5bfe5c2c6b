"""A template as PDF on A4 at its true size, on several sheets where it is larger than one."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from railwright.make.panel.lines import (
    BELOW,
    Circle,
    Layer,
    Line,
    Mark,
    Words,
    foot,
    template,
    title,
)
from railwright.make.panel.placed import Panel

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

LONG, SHORT = 297e-3, 210e-3
"""m, A4 (ISO 216)."""
MARGIN = 10e-3
"""m that no printer reaches (common practice, no source)."""
OVERLAP = 12e-3
"""m that two sheets have in common, with a match mark at either end of the middle."""
MATCH = 3e-3
POINT = 25.4e-3 / 72.0
STYLES: dict[Layer, tuple[float, float]] = {
    "edge": (0.35e-3, 0.0),
    "cut": (0.25e-3, 0.0),
    "mark": (0.13e-3, 0.0),
    "room": (0.13e-3, 0.55),
}
"""m of line, and how grey."""


@dataclass(frozen=True)
class Sheet:
    """One sheet: its size, and the part of the template on it by its lower left corner [m]."""

    width: float
    height: float
    left: float
    bottom: float
    tile: tuple[float, float]


def sheets(panel: Panel) -> tuple[Sheet, ...]:
    """The fewest sheets that hold a panel, from left to right and from below."""
    across = [_tiles(panel, LONG, SHORT), _tiles(panel, SHORT, LONG)]
    return min(across, key=len)


def _tiles(panel: Panel, width: float, height: float) -> tuple[Sheet, ...]:
    room = width - 2.0 * MARGIN, height - 2.0 * MARGIN - BELOW
    columns, rows = _starts(panel.width, room[0]), _starts(panel.height, room[1])
    tile = min(room[0], panel.width), min(room[1], panel.height)
    return tuple(Sheet(width, height, left, bottom, tile) for bottom in rows for left in columns)


def _starts(length: float, room: float) -> list[float]:
    """Where tiles begin that cover a length with what they have in common."""
    if length <= room:
        return [0.0]
    count = math.ceil((length - OVERLAP) / (room - OVERLAP) - 1e-9)
    step = (length - room) / (count - 1)
    return [step * each for each in range(count)]


def pdf(panel: Panel) -> bytes:
    """The template; the same bytes for the same panel."""
    from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, pageCompression=0)
    canvas.setTitle(title(panel))
    pages = sheets(panel)
    for number, sheet in enumerate(pages, 1):
        canvas.setPageSize((sheet.width / POINT, sheet.height / POINT))
        _tile(canvas, panel, sheet)
        told = title(panel)
        told += f", sheet {number} of {len(pages)}" if len(pages) > 1 else ""
        for mark in foot(sheet.width / 2.0, MARGIN, told):
            _draw(canvas, mark)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _tile(canvas: Canvas, panel: Panel, sheet: Sheet) -> None:
    """The part of a template that is on a sheet, in its middle, with match marks."""
    corner = (sheet.width - sheet.tile[0]) / 2.0, sheet.height - MARGIN - sheet.tile[1]
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(*_points(corner), *_points(sheet.tile))
    if sheet.tile != (panel.width, panel.height):
        canvas.clipPath(window, stroke=0)
    canvas.translate(*_points((corner[0] - sheet.left, corner[1] - sheet.bottom)))
    for mark in (*template(panel), *_matches(panel, sheet)):
        _draw(canvas, mark)
    canvas.restoreState()


def _matches(panel: Panel, sheet: Sheet) -> Iterator[Mark]:
    """Crosses at the same places of the panel on both sheets that have them in common."""
    for right in _common(panel.width, sheet.tile[0]):
        for share in (0.2, 0.8):
            yield from _match(right, share * panel.height)
    for up in _common(panel.height, sheet.tile[1]):
        for share in (0.2, 0.8):
            yield from _match(share * panel.width, up)


def _common(length: float, room: float) -> list[float]:
    starts = _starts(length, room)
    return [(one + room + other) / 2.0 for one, other in pairwise(starts)]


def _match(right: float, up: float) -> Iterator[Mark]:
    yield Line("mark", (right - MATCH, up), (right + MATCH, up))
    yield Line("mark", (right, up - MATCH), (right, up + MATCH))
    yield Circle("mark", (right, up), MATCH)


def _draw(canvas: Canvas, mark: Mark) -> None:
    width, grey = STYLES[mark.layer]
    canvas.setLineWidth(width / POINT)
    canvas.setStrokeGray(grey)
    if isinstance(mark, Line):
        canvas.line(*_points(mark.start), *_points(mark.end))
    elif isinstance(mark, Circle):
        canvas.circle(*_points(mark.middle), mark.diameter / 2.0 / POINT)
    elif isinstance(mark, Words):
        canvas.setFont("Helvetica", mark.height / POINT)
        canvas.drawCentredString(*_points(mark.foot), mark.text)


def _points(place: tuple[float, float]) -> tuple[float, float]:
    return place[0] / POINT, place[1] / POINT
