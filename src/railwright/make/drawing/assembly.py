"""Frames whose wires are led, put together in rows: what faces each other is joined and named."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from railwright.make.drawing import lettering
from railwright.make.drawing.figure import Flag
from railwright.make.drawing.geometry import STEP, Box, Point
from railwright.make.drawing.lettering import PLAIN, SMALL
from railwright.make.drawing.placing import Placed
from railwright.make.drawing.plan import Plan
from railwright.make.drawing.routing import EAST, WEST, Field, Port, Routed
from railwright.make.drawing.scene import Dot, Frame, Standing, Wire
from railwright.make.drawing.symbol import Lettering
from railwright.pages.wording import printable

TAG = 1.3
"""What a flag takes up beside its text, in steps."""
LEAST = 3.0
"""Between two frames, at least."""


@dataclass
class Cell:
    """A frame on its way to the sheet."""

    plan: Plan
    stand: Placed
    room: Field
    routed: Routed
    at: Point = (0, 0)

    def ports(self, side: int) -> list[Port]:
        """Where nets leave it at a side."""
        return [port for port in self.routed.ports if port.side == side]

    def place(self, at: Point) -> Point:
        """Where a place of the frame is on the sheet."""
        return at[0] + self.at[0], at[1] + self.at[1]


@dataclass
class Assembly:
    """What stands on the sheet so far. volts: net -> its voltage as a text."""

    zero: str
    volts: Mapping[str, str]
    parts: list[Standing] = field(default_factory=list)
    wires: list[Wire] = field(default_factory=list)
    dots: list[Dot] = field(default_factory=list)
    flags: list[Flag] = field(default_factory=list)
    frames: list[Frame] = field(default_factory=list)

    def put(self, row: Sequence[Cell], y: int) -> int:
        """Put a row of frames at a height; the height of its bottom comes back."""
        down = y - row[0].room.top
        x = 0
        last: Cell | None = None
        for cell in row:
            room = cell.room
            x += self._gutter(last, cell) if last else 0
            cell.at = (x - room.left, down)
            box = Box(x, y, x + room.right - room.left, down + room.bottom)
            title = printable(cell.plan.title)
            most = (box.width - 1.6) * STEP
            told = lettering.shortened(title, most, PLAIN)
            lettered = Lettering(told, (x + 0.8, y + 1.4), "start", PLAIN)
            self.frames.append(Frame(title, box, lettered))
            self._join(last, cell)
            self._fill(cell)
            x = int(box.right)
            last = cell
        self._join(last, None)
        self._lead_zero(row)
        return down + max(cell.room.bottom for cell in row)

    def extent(self) -> Box:
        """What frames and flags take up across."""
        boxes = [f.box for f in self.frames] + [f.box.on_grid() for f in self.flags]
        return Box(min(b.left for b in boxes), 0, max(b.right for b in boxes), 0)

    def _join(self, last: Cell | None, cell: Cell | None) -> None:
        """Join what faces each other across a gutter, and name it; name what does not."""
        joined = set()
        for a, b in _meeting(last, cell) if last and cell else ():
            assert last is not None
            assert cell is not None
            start, end = last.place(a.at), cell.place(b.at)
            middle = ((start[0] + end[0]) // 2, start[1])
            self.wires.append(Wire(a.net, start, end))
            self.dots.append(Dot(a.net, middle))
            self.flags.append(Flag(a.net, middle, (0, -1), self.volts.get(a.net, "")))
            joined |= {id(a), id(b)}
        for one, side, way in ((last, EAST, 1), (cell, WEST, -1)):
            for port in one.ports(side) if one else ():
                if one and id(port) not in joined:
                    at, volts = one.place(port.at), self.volts.get(port.net, "")
                    self.flags.append(Flag(port.net, at, (way, 0), volts))

    def _gutter(self, last: Cell, cell: Cell) -> int:
        """Room between two frames for the names of what goes from one to the other."""
        meeting = _meeting(last, cell)
        joined = {id(port) for pair in meeting for port in pair}
        out = [port for port in last.ports(EAST) if id(port) not in joined]
        into = [port for port in cell.ports(WEST) if id(port) not in joined]
        apart = [max([0.0, *(self._wide(p.net) + TAG for p in ports)]) for ports in (out, into)]
        if cell.room.zero_at is not None and last.room.zero_at is None:
            apart[1] = max(apart[1], self._wide(self.zero) + TAG)
        need = max(LEAST, sum(apart) + 1.0)
        for a, _ in meeting:
            above = [self._wide(p.net) + TAG for p in (*out, *into) if p.at[1] == a.at[1] - 2]
            need = max(need, self._wide(a.net) + 1.5 + 2 * max(above, default=0.0))
        return 2 * -int(-need // 2)

    def _wide(self, net: str) -> float:
        """Width of the name of a net with its voltage, in steps."""
        told = Lettering(net, (0, 0), more=self.volts.get(net, ""))
        return lettering.width(told.whole, SMALL) / STEP

    def _lead_zero(self, row: Sequence[Cell]) -> None:
        """Lead 0 V through the gaps of a row and name it where it begins."""
        last: Cell | None = None
        for cell in row:
            height = cell.room.zero_at
            if height is None:
                last = None
                continue
            start = cell.place((cell.room.left, height))
            if last is None:
                self.flags.append(Flag(self.zero, start, (-1, 0)))
            else:
                self.wires.append(Wire(self.zero, last.place((last.room.right, height)), start))
            last = cell

    def _fill(self, cell: Cell) -> None:
        """Put down what is in a frame."""
        tips: dict[Point, int] = {}
        for found, x, y in cell.stand.seats.values():
            standing = Standing(found, cell.place((x, y)))
            self.parts.append(standing)
            for tx, ty in found.tips.values():
                at = (tx + x, ty + y)
                tips[at] = tips.get(at, 0) + 1
            self.flags += [flag.moved(*standing.at) for flag in found.flags]
        for net, start, end in cell.routed.segments():
            self.wires.append(Wire(net, cell.place(start), cell.place(end)))
        for net, at in cell.routed.dots(tips):
            self.dots.append(Dot(net, cell.place(at)))
        self.flags += [flag.moved(*cell.at) for flag in cell.routed.flags]


def _meeting(last: Cell, cell: Cell) -> list[tuple[Port, Port]]:
    """Ports of two neighbours that face each other."""
    return [
        (a, b)
        for a in last.ports(EAST)
        for b in cell.ports(WEST)
        if a.net == b.net and a.at[1] == b.at[1]
    ]
