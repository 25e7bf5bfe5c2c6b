"""Names beside wires, for nets that no flag names: where nothing else stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from railwright.make.drawing.figure import lettering_box
from railwright.make.drawing.geometry import Box, Spot
from railwright.make.drawing.lettering import SMALL
from railwright.make.drawing.scene import Name, Scene
from railwright.make.drawing.symbol import Lettering

AWAY = 0.3
"""Between a wire and its name, in steps."""
LIFTS = (-AWAY - 0.2, AWAY + 0.75)
"""Where a name stands above and below a level wire."""
Line = tuple[Spot, Spot]


def named(scene: Scene, volts: Mapping[str, str]) -> list[Name]:
    """A name for every net that has none yet, as far as there is room."""
    told = {flag.net for flag in scene.flags} | {scene.zero}
    obstacles = obstacles_of(scene)
    found: list[Name] = []
    leads = _leads(scene)
    nets = dict.fromkeys([*(wire.net for wire in scene.wires), *leads])
    for net in nets:
        if net in told:
            continue
        lines: list[Line] = [(wire.start, wire.end) for wire in scene.wires if wire.net == net]
        lines += leads.get(net, [])
        for place in _places(net, volts.get(net, ""), lines):
            box = lettering_box(place)
            if not any(box.meets(other) for other in obstacles):
                found.append(Name(net, place))
                obstacles.append(box)
                break
    return found


def obstacles_of(scene: Scene) -> list[Box]:
    """Where no name may stand."""
    found = [*scene.text_boxes()]
    found += [part.inked() for part in scene.parts]
    for part in scene.parts:
        found += [_line(*tip, *inner) for tip, inner in part.leads().values()]
    found += [_line(*wire.start, *wire.end) for wire in scene.wires]
    found += [flag.box for flag in scene.flags]
    for frame in scene.frames:
        box = frame.box
        found += [
            _line(box.left, box.top, box.right, box.top),
            _line(box.left, box.bottom, box.right, box.bottom),
            _line(box.left, box.top, box.left, box.bottom),
            _line(box.right, box.top, box.right, box.bottom),
        ]
    return found


def _line(ax: float, ay: float, bx: float, by: float) -> Box:
    """What a line takes up."""
    return Box(min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)).grown(0.12)


def _leads(scene: Scene) -> dict[str, list[Line]]:
    """Net -> the leads of pins on it that no flag stands at."""
    flagged = {flag.at for flag in scene.flags}
    found: dict[str, list[Line]] = {}
    for part in scene.parts:
        for pin, (tip, inner) in part.leads().items():
            if tip not in flagged:
                found.setdefault(part.figure.part.pins[pin], []).append((tip, inner))
    return found


def _places(net: str, volts: str, lines: Sequence[Line]) -> Iterator[Lettering]:
    """Above and below level lines, the longest first, then beside upright ones, then at ends."""
    sorted_lines = sorted(lines, key=lambda line: (-_length(line), line))
    for (ax, ay), (bx, by) in sorted_lines:
        if ay == by:
            left, right = min(ax, bx), max(ax, bx)
            halves = range(int(2 * (right - left)) + 1)
            for lift in LIFTS:
                for x in [(left + right) / 2, *(left + 0.5 * half for half in halves)]:
                    yield Lettering(net, (x, ay + lift), "middle", SMALL, volts)
    for (ax, ay), (bx, by) in sorted_lines:
        if ax == bx:
            top, bottom = min(ay, by), max(ay, by)
            for half in range(int(2 * (bottom - top)) + 1):
                y = top + 0.5 * half + 0.3
                yield Lettering(net, (ax + AWAY, y), "start", SMALL, volts)
                yield Lettering(net, (ax - AWAY, y), "end", SMALL, volts)
    for x, y in [spot for line in sorted_lines for spot in line]:
        for lift in (*LIFTS, 0.3):
            yield Lettering(net, (x + AWAY, y + lift), "start", SMALL, volts)
            yield Lettering(net, (x - AWAY, y + lift), "end", SMALL, volts)


def _length(line: Line) -> float:
    (ax, ay), (bx, by) = line
    return abs(ax - bx) + abs(ay - by)
