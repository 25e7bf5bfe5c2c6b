"""A template in lines, circles and texts, in metres, that every format writes alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from railwright.make.panel.placed import Panel, Placed

Layer = Literal["edge", "cut", "mark", "room"]
"""Edge of the panel; what is cut; centre marks and texts; the room that an item takes up."""
BAR = 0.1
"""m; printed at its true size it measures just that."""
BELOW = 18e-3
"""m that bar and title take up below the panel."""
CROSS = 3e-3
"""m that a centre mark stands over its hole."""
TEXT = 2.6e-3
"""m, height of letters."""
TICK = 2e-3


@dataclass(frozen=True)
class Line:
    """From one place to another."""

    layer: Layer
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True)
class Circle:
    """About a place."""

    layer: Layer
    middle: tuple[float, float]
    diameter: float


@dataclass(frozen=True)
class Words:
    """A text centred on its place, standing on it."""

    layer: Layer
    foot: tuple[float, float]
    text: str
    height: float = TEXT


Mark = Line | Circle | Words


def template(panel: Panel) -> tuple[Mark, ...]:
    """The panel itself; its lower left corner is the origin."""
    return (
        *_box("edge", 0.0, 0.0, panel.width, panel.height),
        *(mark for each in panel.items for mark in _item(each)),
    )


def title(panel: Panel) -> str:
    """What the sheet is called."""
    told = f"{panel.title}, {panel.width * 1e3:g} × {panel.height * 1e3:g} mm, seen from the front"
    return f"{told}, arranged: the design names no items" if panel.is_arranged else told


def _box(layer: Layer, left: float, bottom: float, right: float, top: float) -> Iterator[Line]:
    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    for start, end in zip(corners, [*corners[1:], corners[0]], strict=True):
        yield Line(layer, start, end)


def _item(placed: Placed) -> Iterator[Mark]:
    yield from _box("room", *placed.box)
    for cut in placed.size.cuts:
        right, up = placed.right + cut.right, placed.up + cut.up
        high = cut.height or cut.width
        if cut.is_round:
            yield Circle("cut", (right, up), cut.width)
        else:
            half = cut.width / 2.0, cut.height / 2.0
            yield from _box("cut", right - half[0], up - half[1], right + half[0], up + half[1])
        yield from _cross(right, up, cut.width / 2.0 + CROSS, high / 2.0 + CROSS)
    yield Words("mark", (placed.right, placed.box[3] + 0.4 * TEXT), _label(placed))
    if placed.does:
        yield Words("mark", (placed.right, placed.box[1] - 1.2 * TEXT), placed.does)


def _label(placed: Placed) -> str:
    """Its ref and what is drilled: the greatest opening."""
    cut = max(placed.size.cuts, key=lambda each: each.width)
    high = f" × {cut.height * 1e3:g}" if cut.height else ""
    size = f"{'Ø ' if cut.is_round else ''}{cut.width * 1e3:g}{high}"
    return f"{placed.label} {size}".strip()


def _cross(right: float, up: float, across: float, high: float) -> Iterator[Line]:
    yield Line("mark", (right - across, up), (right + across, up))
    yield Line("mark", (right, up - high), (right, up + high))


def foot(middle: float, up: float, text: str) -> Iterator[Mark]:
    """A title on a line at a height, and above it the bar by which one sees whether a printer
    scaled the sheet, both about a middle."""
    left, right, level = middle - BAR / 2.0, middle + BAR / 2.0, up + 0.55 * BELOW
    yield Line("mark", (left, level), (right, level))
    for end in (left, right):
        yield Line("mark", (end, level - TICK), (end, level + TICK))
    yield Words("mark", (middle, level + 0.4 * TICK), "100 mm: measure it before drilling")
    yield Words("mark", (middle, up), text)
