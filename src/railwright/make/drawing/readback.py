"""What a drawing says, read from its SVG as a person reads it: from lines, dots and names alone.

No id and no data attribute tells what is joined: a pin is joined to the wires that end at the tip
of its lead, wires to those that end where they end, or run through a dot there, and what bears
the same name to each other. Crossing wires are not joined.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from xml.etree import ElementTree

from railwright.circuit.circuit import Circuit
from railwright.make.drawing.geometry import STEP, Box
from railwright.make.drawing.lettering import line_box

Spot = tuple[float, float]
Line = tuple[Spot, Spot]
Pin = tuple[str, str]
SPACE = "{http://www.w3.org/2000/svg}"


@dataclass
class Seen:
    """What is on a drawing, in pixels."""

    pins: dict[Pin, Spot] = field(default_factory=dict)
    leads: list[Line] = field(default_factory=list)
    wires: list[Line] = field(default_factory=list)
    dots: list[Spot] = field(default_factory=list)
    flags: list[tuple[Spot, str]] = field(default_factory=list)
    bodies: dict[str, Box] = field(default_factory=dict)
    """Ref -> the box of its symbol."""
    own: dict[str, list[str]] = field(default_factory=dict)
    """Ref -> the texts of its symbol and label."""
    texts: list[tuple[str, Box]] = field(default_factory=list)
    frames: list[Box] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    """Names of nets that stand anywhere."""


def seen(text: str) -> Seen:
    """Read the SVG of a drawing."""
    root = ElementTree.fromstring(text)
    found = Seen()
    zero = ""
    for element in root.iter():
        kind = element.get("class", "").split()
        if element.tag == f"{SPACE}text":
            found.texts.append(_text(element))
            if "zero-net" in kind:
                zero = "".join(element.itertext()).removeprefix("0 V is ")
                found.names.add(zero)
            elif "net" in kind:
                found.names.add(element.findtext(f"{SPACE}tspan", ""))
        elif "wire" in kind:
            found.wires.append(_line(element))
        elif "dot" in kind:
            found.dots.append((float(element.get("cx", 0)), float(element.get("cy", 0))))
        elif "frame" in kind:
            found.frames.append(_box(element))
        elif "part" in kind:
            ref = element.get("data-part", "")
            found.own[ref] = ["".join(each.itertext()) for each in element.iter(f"{SPACE}text")]
            for child in element:
                if "lead" in child.get("class", "").split():
                    line = _line(child)
                    found.leads.append(line)
                    found.pins[ref, child.get("data-pin", "")] = line[1]
                elif child.get("class") == "body":
                    found.bodies[ref] = _box(child)
    for flag in root.iter(f"{SPACE}g"):
        if flag.get("class") == "flag":
            path, name = flag.find(f"{SPACE}path"), flag.find(f".//{SPACE}tspan")
            assert path is not None
            begin = _numbers(path.get("d", ""))[:2]
            told = zero if name is None else "".join(name.itertext())
            found.flags.append(((begin[0], begin[1]), told))
    return found


def joined(found: Seen) -> set[frozenset[Pin]]:
    """The sets of pins that the drawing joins."""
    groups = _Groups()
    ends: dict[Spot, list[object]] = defaultdict(list)
    for pin, at in found.pins.items():
        ends[at].append(pin)
    for line in found.wires:
        for end in line:
            ends[end].append(line)
    for place, (at, name) in enumerate(found.flags):
        ends[at].append(("flag", place))
        groups.join(("flag", place), ("name", name))
    for things in ends.values():
        for thing in things:
            groups.join(things[0], thing)
    for dot in found.dots:
        through = [line for line in found.wires if _on(dot, line)]
        for thing in [*through, *ends.get(dot, ())]:
            groups.join(("dot", dot), thing)
    sets: dict[object, set[Pin]] = defaultdict(set)
    for pin in found.pins:
        sets[groups.of(pin)].add(pin)
    return {frozenset(pins) for pins in sets.values()}


def wanted(circuit: Circuit) -> set[frozenset[Pin]]:
    """The sets of pins that a circuit joins."""
    nets: Mapping[str, Sequence[Pin]] = {**circuit.nets, **circuit.thermal_nets}
    return {frozenset(pins) for pins in nets.values()}


class _Groups:
    """Things that are joined step by step."""

    def __init__(self) -> None:
        self._parent: dict[object, object] = {}

    def of(self, thing: object) -> object:
        """What stands for the group of a thing."""
        while self._parent.setdefault(thing, thing) != thing:
            thing = self._parent[thing]
        return thing

    def join(self, one: object, other: object) -> None:
        self._parent[self.of(one)] = self.of(other)


def _on(spot: Spot, line: Line) -> bool:
    (ax, ay), (bx, by) = line
    x, y = spot
    return min(ax, bx) <= x <= max(ax, bx) and min(ay, by) <= y <= max(ay, by)


def _numbers(text: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?\d*\.?\d+(?:e-?\d+)?", text)]


def _line(element: ElementTree.Element) -> Line:
    ax, ay, bx, by = _numbers(element.get("d", ""))
    return (ax, ay), (bx, by)


def _box(element: ElementTree.Element) -> Box:
    x, y, width, height = (float(element.get(key, 0)) for key in ("x", "y", "width", "height"))
    return Box(x, y, x + width, y + height)


def _text(element: ElementTree.Element) -> tuple[str, Box]:
    """A text and what it takes up, measured in its font."""
    text = "".join(element.itertext())
    x, y, size = (float(element.get(key, 0)) for key in ("x", "y", "font-size"))
    box = line_box(text, size, x / STEP, y / STEP, element.get("text-anchor", "start"))
    return text, scaled(box)


def scaled(box: Box) -> Box:
    """A box of steps in pixels."""
    return Box(box.left * STEP, box.top * STEP, box.right * STEP, box.bottom * STEP)


def lines_of(box: Box) -> Iterable[Line]:
    """The border of a box."""
    a, b = (box.left, box.top), (box.right, box.top)
    c, d = (box.right, box.bottom), (box.left, box.bottom)
    return (a, b), (b, c), (c, d), (d, a)
