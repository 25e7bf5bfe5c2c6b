"""How the frames are put on the sheet: in rows along the way of the power, 0 V along the bottom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from railwright.circuit.design import Design
from railwright.make.drawing.assembly import Assembly, Cell
from railwright.make.drawing.figure import lettering_box
from railwright.make.drawing.geometry import Box
from railwright.make.drawing.lettering import LARGE, SMALL
from railwright.make.drawing.naming import named
from railwright.make.drawing.placing import NoRoomError, Placed, placed
from railwright.make.drawing.plan import COOLING, Plan, all_named, plans
from railwright.make.drawing.routing import EAST, Field, routed
from railwright.make.drawing.scene import Scene, moved
from railwright.make.drawing.symbol import Lettering, Standard
from railwright.make.drawing.ways import Ways, ways
from railwright.pages.wording import printable

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
class _Entry:
    """A frame before its wires are led."""

    plan: Plan
    stand: Placed
    gap: int = 0
    """Which of `GAPS` its parts keep."""
    forced: list[str] = field(default_factory=list)
    """Nets whose name found no place beside their wires: they get a flag."""


def laid_out(design: Design, standard: Standard, volts: Mapping[str, str], at: str = "") -> Scene:
    """The whole drawing of a design. volts: net -> its voltage as a text; at: where, in words.

    NothingToDrawError where the design has no circuit.
    """
    if design.is_need_only:
        raise NothingToDrawError(f"{design.title} has no parts yet, so there is nothing to draw.")
    way = ways(design)
    found = [_Entry(p, placed(p, way, standard, GAPS[0])) for p in plans(design.circuit, way)]
    groups = [[e for e in found if e.plan.rail_in], [e for e in found if not e.plan.rail_in]]
    rows = [row for group in groups if group for row in _broken(group)]
    cells = [_row(row, way, standard, volts) for row in rows]
    for _ in range(ATTEMPTS):
        scene = _scene(design, standard, volts, at, way, cells)
        missing = _nameless(scene)
        if not missing:
            break
        for place, row in enumerate(rows):
            wanting = [(e, net) for e in row for net in missing if net in e.plan.wired]
            for entry, net in wanting:
                entry.forced = sorted({*entry.forced, net})
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
    at: str,
    way: Ways,
    rows: Sequence[Sequence[Cell]],
) -> Scene:
    """Put frames whose wires are led on the sheet."""
    found = Assembly(way.zero, volts)
    y = MARGIN
    for row in rows:
        y = found.put(row, y) + BETWEEN_ROWS
    extent = found.extent()
    strip = _strip(design, way, standard, volts, at)
    least = sum(lettering_box(text).width for text in strip[:2]) + 6
    right = max(extent.right, extent.left + int(least))
    box = Box(extent.left - MARGIN, 0, right + MARGIN, y + STRIP)
    strip_box = Box(box.left + 1, y, box.right - 1, y + STRIP - 1)
    scene = Scene(
        title=printable(design.title),
        zero=way.zero,
        box=box,
        parts=found.parts,
        wires=found.wires,
        dots=found.dots,
        flags=found.flags,
        names=(),
        frames=found.frames,
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
) -> list[Cell]:
    """Lead the wires of a row of frames, with more room between the parts where it takes it."""
    grounded = [place for place, entry in enumerate(row) if entry.plan.grounded] or [len(row), -1]
    while True:
        cells: list[Cell] = []
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
            cells.append(Cell(entry.plan, entry.stand, room, led))
        else:
            return cells


def _strip(
    design: Design, way: Ways, standard: Standard, volts: Mapping[str, str], at: str
) -> list[Lettering]:
    """Texts of the title strip: title, notes, the name of 0 V; about its upper corners."""
    count = len(design.circuit.parts)
    symbols = "IEC 60617" if standard == "IEC" else "ANSI/IEEE 315 resistors, else IEC 60617"
    where = f"voltages against 0 V{f' at {printable(at)}' if at else ''}"
    notes = [f"{count} parts", f"symbols: {symbols}", *([where] if volts else [])]
    return [
        Lettering(printable(design.title), (1, 2.6), "start", LARGE),
        Lettering(" · ".join(notes), (-1, 1.7), "end", SMALL),
        Lettering(f"0 V is {way.zero}", (-1, 3.2), "end", SMALL),
    ]


def _corner(strip: Box, text: Lettering) -> tuple[float, float]:
    """The upper corner of the title strip at which a text stands."""
    return (strip.left if text.anchor == "start" else strip.right), strip.top
