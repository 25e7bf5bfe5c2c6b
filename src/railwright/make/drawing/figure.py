"""A part as it stands: symbol, turn, the names at its pins that are led nowhere, and its label."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

from railwright.circuit.circuit import Part
from railwright.make.drawing import lettering
from railwright.make.drawing.geometry import STEP, Box, Point, Spot, Turn, around
from railwright.make.drawing.lettering import PITCH, PLAIN, SMALL
from railwright.make.drawing.symbol import Anchor, Lettering, Symbol
from railwright.pages.wording import printable
from railwright.quantity import UNITS, show

SHOWN: Mapping[str, Sequence[str]] = {
    "resistor": ("resistance",),
    "potentiometer": ("resistance",),
    "capacitor": ("capacitance", "rated_voltage"),
    "inductor": ("inductance",),
    "zener": ("zener_voltage",),
    "fuse": ("rated_current",),
    "wire": ("resistance",),
    "heat-sink": ("resistance",),
    "insulator": ("resistance",),
    "lamp": ("rated_voltage",),
}
"""Symbol -> values and ratings in the label; every other part shows the catalogue's name."""
BROAD = 78.0
"""Width [px] at which a label is broken."""
NEAR, NEAR_BOX = 0.1, 0.4
"""Between a body and the label beside it, in steps: a symbol does not fill its body, a box does."""
PAST_A_NAME = 1.5
"""From the middle of a lead to a label beside it, in steps: a short name on the lead finds room."""
Label = tuple[Lettering, ...]
"""The lines beside a part."""
LINE = PITCH * PLAIN / STEP
"""From one line of a label to the next, in steps."""

MIDDLE = 100
"""The bit of a figure's own middle."""
Masks = tuple[Mapping[int, int], Mapping[int, int]]
"""Places taken as bits: row -> columns, column -> rows."""


@dataclass(frozen=True, slots=True)
class Flag:
    """The name of a net at the end of a wire: where the wire ends, and to which side it stands."""

    net: str
    at: Point
    way: Point
    volts: str = ""
    ground: bool = False
    """Whether it is drawn as the bar of 0 V."""

    @property
    def box(self) -> Box:
        """What it takes up."""
        x, y = self.at
        wide = lettering.width(self._lettered((0, 0)).whole, SMALL) / STEP
        if self.way == (0, -1):
            return Box(x - wide / 2, y - 1.65, x + wide / 2, y - 0.6)
        if self.way == (0, 1):
            return Box(x - wide / 2, y + 0.6, x + wide / 2, y + 1.95)
        tag = wide + 1.1
        return (
            Box(x, y - 0.65, x + tag, y + 0.65)
            if self.way[0] > 0
            else Box(x - tag, y - 0.65, x, y + 0.65)
        )

    @property
    def solid(self) -> Box:
        """Places of the grid that it takes, but for the end of its wire."""
        x, y = self.at
        box = self.box.on_grid()
        if self.way == (0, -1):
            return Box(box.left, y - 2, box.right, y - 1)
        if self.way == (0, 1):
            return Box(box.left, y + 1, box.right, y + 2)
        if self.way[0] > 0:
            return Box(x + 1, y - 1, box.right, y + 1)
        return Box(box.left, y - 1, x - 1, y + 1)

    @property
    def lettering(self) -> Lettering:
        """Its text."""
        x, y = self.at
        if self.way == (0, -1):
            return self._lettered((x, y - 0.85))
        if self.way == (0, 1):
            return self._lettered((x, y + 1.65))
        lift = 0.28 * SMALL / STEP
        if self.way[0] > 0:
            return self._lettered((x + 0.75, y + lift), "start")
        return self._lettered((x - 0.75, y + lift), "end")

    def _lettered(self, at: Spot, anchor: Anchor = "middle") -> Lettering:
        return Lettering(self.net, at, anchor, SMALL, self.volts)

    def moved(self, x: int, y: int) -> Flag:
        """This flag elsewhere."""
        return Flag(self.net, (self.at[0] + x, self.at[1] + y), self.way, self.volts, self.ground)


@dataclass(frozen=True)
class Figure:
    """A part as it stands, about its own middle."""

    part: Part
    symbol: Symbol
    turn: Turn
    tips: Mapping[str, Point]
    """Pin -> where a wire meets it."""
    ways: Mapping[str, Point]
    """Pin -> the direction in which its lead leaves the part."""
    leads: Mapping[str, tuple[Point, Spot]]
    """Pin -> its lead from the tip to the symbol."""
    flags: Sequence[Flag]
    label: Sequence[Lettering]
    body: Box
    solids: Sequence[Box]
    """Boxes of whole steps that nothing else may enter: body, label, flags, leads."""

    @cached_property
    def places(self) -> frozenset[Point]:
        """Places of the grid that it takes, but for the ends of its leads."""
        return frozenset(place for box in self.solids for place in box.places())

    @property
    def is_clear(self) -> bool:
        """Whether nothing of it stands on anything else of it."""
        return not any(a.meets(b) for a, b in combinations(self.solids, 2))

    @cached_property
    def rectangles(self) -> tuple[tuple[int, int, int, int], ...]:
        """The solids, as left, top, right and bottom."""
        return tuple(
            (int(box.left), int(box.top), int(box.right), int(box.bottom)) for box in self.solids
        )

    @cached_property
    def bounds(self) -> Box:
        """What it takes up."""
        tips = [Box(x, y, x, y) for x, y in self.tips.values()]
        return around([*self.solids, *tips])

    @cached_property
    def masks(self) -> Masks:
        """The same with the ends of its leads, as bits."""
        rows: dict[int, int] = {}
        columns: dict[int, int] = {}
        for x, y in {*self.places, *self.tips.values()}:
            rows[y] = rows.get(y, 0) | 1 << (x + MIDDLE)
            columns[x] = columns.get(x, 0) | 1 << (y + MIDDLE)
        return rows, columns


def label_lines(part: Part) -> list[str]:
    """What stands beside a part: ref, and value or type."""
    values = []
    for name in SHOWN.get(part.device.symbol, ()):
        if name in part.values:
            value = part.values[name]
            values.append(_shown(value.spread.typical, value.unit))
        elif name in part.ratings:
            values.append(_shown(part.ratings[name], part.device.ratings[name].unit))
    if not values:
        values = lettering.wrapped(printable(part.use) or part.kind.replace("-", " "), BROAD, PLAIN)
    return [part.ref, *values]


def _shown(value: float, unit: str) -> str:
    return show(value, unit) if unit in UNITS else f"{value:.3g} {unit}"


def figure(part: Part, symbol: Symbol, turn: Turn, flagged: Mapping[str, Flag]) -> Figure:
    """A part in a turn. flagged: pin -> a flag in its place, wherever it says to stand."""
    tips = {pin: turn.place(*lead.tip) for pin, lead in symbol.leads.items()}
    leads = {pin: (tips[pin], turn.spot(*lead.inner)) for pin, lead in symbol.leads.items()}
    ways = {pin: _way(tip, inner) for pin, (tip, inner) in leads.items()}
    body = turn.box(symbol.body)
    flags = [
        Flag(flag.net, tips[pin], ways[pin], flag.volts, flag.ground)
        for pin, flag in flagged.items()
        if pin in tips
    ]
    solids = [body, *(flag.solid for flag in flags)]
    blocked = [*solids, *(_lane(tips[pin], ways[pin]) for pin in tips)]
    gap = NEAR_BOX if symbol.name == "box" else NEAR
    label = _label(label_lines(part), body, gap, blocked)
    solids.append(_grid_box(label))
    return Figure(part, symbol, turn, tips, ways, leads, flags, label, body, tuple(solids))


def _way(tip: Point, inner: Spot) -> Point:
    """Direction from the inner end of a lead to its tip."""
    across, down = tip[0] - inner[0], tip[1] - inner[1]
    if abs(across) > abs(down):
        return (1, 0) if across > 0 else (-1, 0)
    return (0, 1) if down > 0 else (0, -1)


def _lane(tip: Point, way: Point) -> Box:
    """Where the wire of a pin goes: no label may stand there."""
    x, y = tip
    near, far = (x - way[0], y - way[1]), (x + way[0], y + way[1])
    return Box(
        min(near[0], far[0]) - 0.3,
        min(near[1], far[1]) - 0.3,
        max(near[0], far[0]) + 0.3,
        max(near[1], far[1]) + 0.3,
    )


def _label(lines: Sequence[str], body: Box, gap: float, blocked: Sequence[Box]) -> Label:
    """The label at the first side of the body where nothing stands."""
    best: Label = ()
    for found in _labels(lines, body, gap):
        if not any(_label_box(found).meets(box) for box in blocked):
            return found
        best = found
    return best


def _labels(lines: Sequence[str], body: Box, gap: float) -> Iterator[Label]:
    """Places for a label, the best first, the last one clear of everything."""
    tall = LINE * len(lines)
    first = 0.8 * PLAIN / STEP  # from the top of a label to the line on which its first row stands
    x, middle = (body.left + body.right) / 2, (body.top + body.bottom - tall) / 2
    up, down = body.top - tall - 0.1 + first, body.bottom + 0.1 + first
    right, left = body.right + gap, body.left - gap
    if body.width > body.height:  # a symbol of two pins is narrower than its body
        yield _block(lines, x, up + 0.2, "middle")
    for top in (middle, body.top - 0.4, body.bottom - tall + 0.4):
        yield _block(lines, right, top + first, "start")
    yield _block(lines, left, middle + first, "end")
    for height in (up, down):
        yield _block(lines, x, height, "middle")
        yield _block(lines, x + PAST_A_NAME, height, "start")
        yield _block(lines, x - PAST_A_NAME, height, "end")
    yield _block(lines, right, up, "start")
    yield _block(lines, right + 1.4, up - 2.0, "start")
    yield _block(lines, x, up - 4.0, "middle")


def _block(lines: Sequence[str], x: float, y: float, anchor: Anchor) -> Label:
    return tuple(
        Lettering(line, (x, y + LINE * row), anchor, PLAIN) for row, line in enumerate(lines)
    )


def lettering_box(text: Lettering) -> Box:
    """What a text takes up."""
    return lettering.line_box(text.whole, text.size, *text.at, text.anchor)


def _label_box(label: Sequence[Lettering]) -> Box:
    boxes = [lettering_box(line) for line in label]
    return Box(
        min(b.left for b in boxes),
        boxes[0].top,
        max(b.right for b in boxes),
        boxes[-1].bottom,
    )


def _grid_box(label: Sequence[Lettering]) -> Box:
    """The box of a label in whole steps."""
    return _label_box(label).on_grid()
