"""How the frames are put on the sheet: in rows along the way of the power, 0 V along the bottom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from railwright.circuit.design import Design
from railwright.make.drawing import lettering
from railwright.make.drawing.figure import Flag, lettering_box
from railwright.make.drawing.geometry import STEP, Box, Point
from railwright.make.drawing.lettering import LARGE, PLAIN, SMALL
from railwright.make.drawing.naming import named
from railwright.make.drawing.placing import NoRoomError, Placed, placed
from railwright.make.drawing.plan import COOLING, Plan, all_named, plans
from railwright.make.drawing.routing import EAST, WEST, Field, Port, Routed, routed
from railwright.make.drawing.scene import Dot, Frame, Scene, Standing, Wire, moved
from railwright.make.drawing.symbol import Lettering, Standard
from railwright.make.drawing.ways import Ways, ways

WIDEST = 170
"""A row that gets wider is broken."""
HEAD, FOOT = 3, 4
"""Room in a frame above and below its parts."""
SIDE = 3
"""Room in a frame at the sides of its parts."""
GAPS = (1, 2, 3, 4, 6, 8)
"""Free ways between parts: more where wires or names found no room."""
ATTEMPTS = 4
"""How often names without a place are made flags."""
BETWEEN_ROWS = 3
MARGIN = 3
STRIP = 5
"""Height of the title strip."""


class NothingToDrawError(ValueError):
    """A design without a circuit."""


@dataclass
class _Cell:
    """A frame on its way to the sheet."""

    plan: Plan
    stand: Placed
    room: Field
    routed: Routed
    at: Point = (0, 0)


@dataclass
class _Entry:
    """A frame before its wires are led."""

    plan: Plan
    stand: Placed
    gap: int = 0
    """Which of `GAPS` its parts keep."""
    forced: list[str] = field(default_factory=list)
    """Nets whose name found no place beside their wires: they get a flag."""


def laid_out(design: Design, standard: Standard, volts: Mapping[str, str]) -> Scene:
    """The whole drawing of a design. volts: net -> its voltage as a text.

    NothingToDrawError where the design has no circuit.
    """
    if design.is_need_only:
        raise NothingToDrawError(f"{design.title} has no parts yet, so there is nothing to draw.")
    way = ways(design.circuit, design.need)
    found = [_Entry(p, placed(p, way, standard, GAPS[0])) for p in plans(design.circuit, way)]
    groups = [[e for e in found if e.plan.rail_in], [e for e in found if not e.plan.rail_in]]
    rows = [row for group in groups if group for row in _broken(group)]
    cells = [_row(row, way, standard, volts) for row in rows]
    for _ in range(ATTEMPTS):
        scene = _scene(design, standard, volts, way, cells)
        missing = _nameless(scene)
        if not missing:
            break
        for place, row in enumerate(rows):
            wanting = [(e, net) for e in row for net in missing if net in e.plan.wired]
            for entry, net in wanting:
                if net in entry.forced:  # the flag is there, and yet no name: it lost its place
                    continue
                entry.forced.append(net)
            if wanting:
                cells[place] = _row(row, way, standard, volts)
    return scene


def _nameless(scene: Scene) -> list[str]:
    """Nets whose name stands nowhere."""
    named_ones = {flag.net for flag in scene.flags} | {name.net for name in scene.names}
    nets = {net for part in scene.parts for net in part.figure.part.pins.values()}
    return sorted(nets - named_ones - {scene.zero})


def _scene(
    design: Design,
    standard: Standard,
    volts: Mapping[str, str],
    way: Ways,
    cells: Sequence[Sequence[_Cell]],
) -> Scene:
    """Put frames whose wires are led on the sheet."""
    parts: list[Standing] = []
    wires: list[Wire] = []
    dots: list[Dot] = []
    flags: list[Flag] = []
    frames: list[Frame] = []
    y, right = MARGIN, 0
    for line in cells:
        bottom = _put_row(line, y, way, volts, wires, dots, flags, frames)
        for cell in line:
            _put_cell(cell, parts, wires, dots, flags)
        y = bottom + BETWEEN_ROWS
    right = max(
        int(box.right) for box in [f.box for f in frames] + [f.box.on_grid() for f in flags]
    )
    left = min(int(box.left) for box in [f.box for f in frames] + [f.box.on_grid() for f in flags])
    strip = _strip(design, way, standard, bool(volts))
    apart = sum(lettering_box(text).width for text in strip[:2]) + 6
    right = max(right, left + int(apart))
    box = Box(left - MARGIN, 0, right + MARGIN, y + STRIP)
    strip_box = Box(box.left + 1, y, box.right - 1, y + STRIP - 1)
    scene = Scene(
        title=design.title,
        zero=way.zero,
        box=box,
        parts=parts,
        wires=wires,
        dots=dots,
        flags=flags,
        names=(),
        frames=frames,
        strip=[moved(text, *_corner(strip_box, text)) for text in strip],
        strip_box=strip_box,
    )
    scene.names = named(scene, volts)
    return scene


def _broken(line: Sequence[_Entry]) -> list[list[_Entry]]:
    """A line of frames in as few rows as it takes, as even as they get."""
    wide = [entry.stand.box.width + 2 * SIDE + 8 for entry in line]
    best: list[tuple[int, float, list[int]]] = [(0, 0.0, [])]
    for end in range(1, len(line) + 1):
        choices = []
        for start in range(end):
            width = sum(wide[start:end])
            if width <= WIDEST or start == end - 1:
                rows, slack, breaks = best[start]
                choices.append((rows + 1, slack + (WIDEST - width) ** 2, [*breaks, start]))
        best.append(min(choices))
    breaks = best[-1][2]
    return [list(line[a:b]) for a, b in zip(breaks, [*breaks[1:], len(line)], strict=True)]


def _row(
    row: Sequence[_Entry], way: Ways, standard: Standard, volts: Mapping[str, str]
) -> list[_Cell]:
    """Lead the wires of a row of frames, with more room between the parts where it takes it."""
    grounded = [place for place, entry in enumerate(row) if entry.plan.grounded] or [len(row), -1]
    while True:
        cells: list[_Cell] = []
        top = int(min(entry.stand.box.on_grid().top for entry in row)) - HEAD
        bottom = int(max(entry.stand.box.on_grid().bottom for entry in row)) + FOOT
        for place, entry in enumerate(row):
            ports = cells[-1].routed.ports if cells else ()
            box = entry.stand.box.on_grid()
            low = bottom if entry.plan.title != COOLING else int(box.bottom) + 2
            first, last = grounded[0], grounded[-1]
            zero = first <= place <= last or (bool(entry.plan.rail_in) and place > first)
            room = Field(
                left=int(box.left) - SIDE,
                right=int(box.right) + SIDE,
                top=top,
                bottom=low,
                zero_at=bottom - 2 if zero else None,
                wanted={port.net: port.at[1] for port in ports if port.side == EAST},
                forced=entry.forced,
            )
            try:
                led = routed(entry.plan, way, entry.stand, room, volts)
            except NoRoomError:
                entry.gap += 1
                if entry.gap == len(GAPS):  # no wires at all: a name at every pin
                    if not (entry.plan.wired or entry.plan.grounded):
                        raise
                    entry.plan, entry.gap, entry.forced = all_named(entry.plan, way), 0, []
                entry.stand = placed(entry.plan, way, standard, GAPS[entry.gap])
                break
            cells.append(_Cell(entry.plan, entry.stand, room, led))
        else:
            return cells


def _put_row(
    line: Sequence[_Cell],
    y: int,
    way: Ways,
    volts: Mapping[str, str],
    wires: list[Wire],
    dots: list[Dot],
    flags: list[Flag],
    frames: list[Frame],
) -> int:
    """Put a row of frames at a height and join them; the height of its bottom comes back."""
    down = y - line[0].room.top
    x = 0
    last: _Cell | None = None
    for cell in line:
        room = cell.room
        if last is None:
            x = 0
        else:
            x += _gutter(last, cell, way.zero, volts)
        cell.at = (x - room.left, down)
        if last is None:
            for port in _ports(cell, WEST):
                flags.append(_flag(port, cell, (-1, 0), volts))
        else:
            _join(last, cell, way, volts, wires, dots, flags)
        box = Box(x, y, x + room.right - room.left, down + room.bottom)
        title = Lettering(cell.plan.title, (x + 0.8, y + 1.4), "start", PLAIN)
        frames.append(Frame(cell.plan.title, box, title))
        x = int(box.right)
        last = cell
    assert last is not None
    for port in _ports(last, EAST):
        flags.append(_flag(port, last, (1, 0), volts))
    _zero(line, way, volts, wires, dots, flags)
    return down + max(cell.room.bottom for cell in line)


def _ports(cell: _Cell, side: int) -> list[Port]:
    return [port for port in cell.routed.ports if port.side == side]


def _place(cell: _Cell, at: Point) -> Point:
    return at[0] + cell.at[0], at[1] + cell.at[1]


def _flag(port: Port, cell: _Cell, way: Point, volts: Mapping[str, str]) -> Flag:
    return Flag(port.net, _place(cell, port.at), way, volts.get(port.net, ""))


def _meeting(last: _Cell, cell: _Cell) -> list[tuple[Port, Port]]:
    """Ports of two neighbours that face each other."""
    return [
        (a, b)
        for a in _ports(last, EAST)
        for b in _ports(cell, WEST)
        if a.net == b.net and a.at[1] == b.at[1]
    ]


def _gutter(last: _Cell, cell: _Cell, zero: str, volts: Mapping[str, str]) -> int:
    """Room between two frames for the names of what goes from one to the other."""
    meeting = _meeting(last, cell)
    joined = {id(port) for pair in meeting for port in pair}
    across = [_wide(a.net, volts) for a, _ in meeting]
    out = [_wide(p.net, volts) + 1.3 for p in _ports(last, EAST) if id(p) not in joined]
    into = [_wide(p.net, volts) + 1.3 for p in _ports(cell, WEST) if id(p) not in joined]
    if cell.room.zero_at is not None and last.room.zero_at is None:
        into.append(_wide(zero, volts) + 1.3)
    need = max([3.0, *(wide + 1.5 for wide in across), max([0.0, *out]) + max([0.0, *into]) + 1.0])
    return 2 * -int(-need // 2)


def _wide(net: str, volts: Mapping[str, str]) -> float:
    return lettering.width(Lettering(net, (0, 0), more=volts.get(net, "")).whole, SMALL) / STEP


def _join(
    last: _Cell,
    cell: _Cell,
    way: Ways,
    volts: Mapping[str, str],
    wires: list[Wire],
    dots: list[Dot],
    flags: list[Flag],
) -> None:
    """Join what faces each other across a gutter, and name it; name what does not."""
    joined = set()
    for a, b in _meeting(last, cell):
        start, end = _place(last, a.at), _place(cell, b.at)
        middle = ((start[0] + end[0]) // 2, start[1])
        wires.append(Wire(a.net, start, end))
        dots.append(Dot(a.net, middle))
        flags.append(Flag(a.net, middle, (0, -1), volts.get(a.net, "")))
        joined |= {id(a), id(b)}
    for port in _ports(last, EAST):
        if id(port) not in joined:
            flags.append(_flag(port, last, (1, 0), volts))
    for port in _ports(cell, WEST):
        if id(port) not in joined:
            flags.append(_flag(port, cell, (-1, 0), volts))


def _zero(
    line: Sequence[_Cell],
    way: Ways,
    volts: Mapping[str, str],
    wires: list[Wire],
    dots: list[Dot],
    flags: list[Flag],
) -> None:
    """Lead 0 V through the gaps of a row and name it where it begins."""
    last: _Cell | None = None
    for cell in line:
        height = cell.room.zero_at
        if height is None:
            last = None
            continue
        start = _place(cell, (cell.room.left, height))
        if last is None:
            flags.append(Flag(way.zero, start, (-1, 0)))
        else:
            wires.append(Wire(way.zero, _place(last, (last.room.right, height)), start))
        last = cell


def _put_cell(
    cell: _Cell,
    parts: list[Standing],
    wires: list[Wire],
    dots: list[Dot],
    flags: list[Flag],
) -> None:
    tips: dict[Point, int] = {}
    for found, x, y in cell.stand.seats.values():
        standing = Standing(found, _place(cell, (x, y)))
        parts.append(standing)
        for tx, ty in found.tips.values():
            at = (tx + x, ty + y)
            tips[at] = tips.get(at, 0) + 1
        flags += [flag.moved(*standing.at) for flag in found.flags]
    for net, start, end in cell.routed.segments():
        wires.append(Wire(net, _place(cell, start), _place(cell, end)))
    for net, at in cell.routed.dots(tips):
        dots.append(Dot(net, _place(cell, at)))
    flags += [flag.moved(*cell.at) for flag in cell.routed.flags]


def _strip(design: Design, way: Ways, standard: Standard, volts: bool) -> list[Lettering]:
    """Texts of the title strip: title, notes, the name of 0 V; about its upper corners."""
    count = len(design.circuit.parts)
    symbols = "IEC 60617" if standard == "IEC" else "ANSI/IEEE 315 resistors, else IEC 60617"
    notes = [f"{count} parts", f"symbols: {symbols}", *(["voltages against 0 V"] if volts else [])]
    return [
        Lettering(design.title, (1, 2.6), "start", LARGE),
        Lettering(" · ".join(notes), (-1, 1.7), "end", SMALL),
        Lettering(f"0 V is {way.zero}", (-1, 3.2), "end", SMALL),
    ]


def _corner(strip: Box, text: Lettering) -> tuple[float, float]:
    """The upper corner of the title strip at which a text stands."""
    return (strip.left if text.anchor == "start" else strip.right), strip.top
