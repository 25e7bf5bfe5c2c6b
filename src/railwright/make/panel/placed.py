"""Items on a panel: where the design has them, or arranged from what the circuit has.

Without items in the design, those parts of the circuit that stand on panels are put in rows:
meters on top, what is turned and pressed below, then terminals; a fuse and the inlet last.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from railwright.circuit.circuit import Part
from railwright.circuit.design import Design
from railwright.make.document import Unmakeable
from railwright.standards.panel_items import PanelItemSize, item_of, panel_item

EDGE = 5e-3
"""m from the room of an item to the edge of the panel, where the box has its walls (common
practice, no source)."""
GAP = 6e-3
"""m between items that are arranged, for a label and a nut's key."""
ROW = 12e-3
"""m between rows that are arranged, for a line of text."""
ROUND_UP = 10e-3
"""m; a panel that is arranged is a multiple of this."""
ORDER = ("panel-meter", "potentiometer", "switch", "light-emitting-diode", "terminal", "fuse")
"""Kinds in the order of their rows; those of one row side by side."""
TERMINAL, INLET, SOCKET = "terminal, 4 mm", "mains inlet, C14", "barrel socket"
ROWS = ({"panel-meter"}, {"potentiometer", "switch", "light-emitting-diode"}, {"terminal", "fuse"})


@dataclass(frozen=True)
class Placed:
    """An item with its middle to the right of and above the lower left corner [m]."""

    item: str
    size: PanelItemSize
    right: float
    up: float
    label: str
    does: str = ""
    """What a person finds it for: the net of a terminal, what a knob sets."""

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top of the room that it takes up [m]."""
        width, height = self.size.width / 2.0, self.size.height / 2.0
        return self.right - width, self.up - height, self.right + width, self.up + height


@dataclass(frozen=True)
class Panel:
    """A panel that can be drilled."""

    title: str
    width: float
    height: float
    items: tuple[Placed, ...]
    is_arranged: bool
    """Whether the design says nothing of it."""


def panel_of(design: Design) -> Panel:
    """The panel of a design. Unmakeable where items collide, leave it, or are unknown."""
    panel = _stated(design) if design.panel else _arranged(design)
    wrong = [*_beyond(panel), *_colliding(panel)]
    if wrong:
        raise Unmakeable(" ".join(wrong))
    return panel


def _stated(design: Design) -> Panel:
    box = design.enclosure
    if box is None:
        raise Unmakeable(
            "the design has panel items and no enclosure. Write [enclosure] with width, height "
            "and depth."
        )
    items = []
    for each in design.panel:
        try:
            size = panel_item(each.item)
        except ValueError as error:
            raise Unmakeable(f"panel: {error}.") from error
        part = design.circuit.part(each.part) if each.part else None
        does = each.net or (_does(design, part) if part else "")
        right, up = each.at
        items.append(Placed(each.item, size, right, up, each.part or "", does))
    return Panel(design.title, box.width, box.height, tuple(items), is_arranged=False)


def _arranged(design: Design) -> Panel:
    rows = [row for row in _rows(design) if row]
    box = design.enclosure
    width = box.width if box else _up(max(_width(row) for row in rows) + 2.0 * EDGE)
    heights = [max(each.size.height for each in row) for row in rows]
    tall = sum(heights) + ROW * (len(rows) + 1)
    height = box.height if box else _up(tall)
    items: list[Placed] = []
    top = height - ROW
    for row, high in zip(rows, heights, strict=True):
        items += _spread(row, width, top - high / 2.0)
        top -= high + ROW
    return Panel(design.title, width, height, tuple(items), is_arranged=True)


def _rows(design: Design) -> Iterator[list[Placed]]:
    parts = sorted(_on_panel(design), key=lambda each: ORDER.index(each.kind))
    for kinds in ROWS:
        yield [
            *(
                _placed(_item(each), each.ref, _does(design, each))
                for each in parts
                if each.kind in kinds
            ),
            *(_without_part(design) if "terminal" in kinds else ()),
        ]


def _placed(item: str, label: str, does: str) -> Placed:
    return Placed(item, panel_item(item), 0.0, 0.0, label, does)


def _on_panel(design: Design) -> Iterator[Part]:
    """Parts on the panel, an item of several contacts once: a box has one inlet."""
    seen: set[str] = set()
    for part in design.circuit.parts:
        item = _item(part)
        if not item or part.kind not in ORDER or (item == INLET and item in seen):
            continue
        seen.add(item)
        yield part


def _without_part(design: Design) -> Iterator[Placed]:
    """What every box has, where the circuit has no part for it: ends of the rails, the input."""
    parts = [part for part in design.circuit.parts if part.kind == "terminal" and _item(part)]
    taken = {net for part in parts for net in part.pins.values()}
    outputs = [output.nets for output in design.need.output if output.nets]
    for net in dict.fromkeys(net for each in outputs for net in (each.plus, each.minus)):
        if net not in taken:
            yield _placed(TERMINAL, "", net)
    source = design.need.input
    if source.nets is None or source.nets.plus in taken:
        return
    if source.kind == "ac":
        yield _placed(INLET, "", "mains")
    elif source.kind == "dc":
        yield _placed(SOCKET, "", source.nets.plus)
    else:
        yield from (_placed(TERMINAL, "", f"battery {end}") for end in ("plus", "minus"))


def _item(part: Part) -> str:
    return "indicator, 5 mm" if part.kind == "light-emitting-diode" else item_of(part.package)


def _does(design: Design, part: Part) -> str:
    sets = [control.sets for control in design.controls if control.part == part.ref]
    if sets:
        return sets[0].replace(".", " ")
    if part.kind != "terminal":
        return part.block
    nets = [design.need.input.nets, *(output.nets for output in design.need.output)]
    outside = [net for each in nets if each for net in (each.plus, each.minus)]
    return next((net for net in part.pins.values() if net in outside), "")


def _width(row: Sequence[Placed]) -> float:
    return sum(each.size.width for each in row) + GAP * (len(row) + 1)


def _up(length: float) -> float:
    return ROUND_UP * math.ceil(length / ROUND_UP - 1e-9)


def _spread(row: Sequence[Placed], width: float, up: float) -> Iterator[Placed]:
    """A row over the width of the panel, with even gaps."""
    gap = (width - sum(each.size.width for each in row)) / (len(row) + 1)
    at = 0.0
    for each in row:
        at += gap
        yield replace(each, right=at + each.size.width / 2.0, up=up)
        at += each.size.width


def _beyond(panel: Panel) -> Iterator[str]:
    for each in panel.items:
        left, bottom, right, top = each.box
        least = min(left, bottom, panel.width - right, panel.height - top)
        if least < EDGE - 1e-9:
            yield (
                f"{_told(each)} comes within {least * 1e3:.1f} mm of the edge of the panel; "
                f"{EDGE * 1e3:.0f} mm are wanted. Move it, or take a larger enclosure."
            )


def _colliding(panel: Panel) -> Iterator[str]:
    for one, other in combinations(panel.items, 2):
        apart = _apart(one.box, other.box)
        if apart < -1e-9:
            yield (
                f"{_told(one)} and {_told(other)} overlap by {-apart * 1e3:.1f} mm. Move one of "
                "them."
            )


def _apart(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    """Distance of two boxes along the axis where it is greater; negative where they overlap."""
    across = max(one[0] - other[2], other[0] - one[2])
    upright = max(one[1] - other[3], other[1] - one[3])
    return max(across, upright)


def _told(each: Placed) -> str:
    name = each.label or each.does
    named = f" ({name})" if name else ""
    return f"{each.item}{named} at {each.right * 1e3:g} mm, {each.up * 1e3:g} mm"
