"""What would make a drawing hard to read or wrong, found in its SVG."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from railwright.circuit.circuit import Circuit
from railwright.make.drawing.geometry import Box
from railwright.make.drawing.readback import Line, Seen, joined, lines_of, seen, wanted

TOUCH = 0.5
"""By how many pixels things may touch."""
MARGIN = 4.5
"""Pixels at the border of a symbol on which nothing is drawn but leads."""


def flaws(text: str, circuit: Circuit) -> list[str]:
    """Sentences on what is wrong with the SVG of a circuit's drawing; none where it is sound."""
    found = seen(text)
    return [
        *_connections(found, circuit),
        *_texts(found),
        *_bodies(found),
        *_wires(found),
        *_unnamed(found, circuit),
    ]


def _connections(found: Seen, circuit: Circuit) -> Iterator[str]:
    """Where what is drawn and the circuit differ."""
    drawn, asked = joined(found), wanted(circuit)
    for pins in sorted(drawn - asked, key=sorted):
        yield f"drawn as joined, but they are no net: {_told(pins)}"
    for pins in sorted(asked - drawn, key=sorted):
        yield f"a net that is not drawn as one: {_told(pins)}"


def _told(pins: frozenset[tuple[str, str]]) -> str:
    return ", ".join(f"{ref}.{pin}" for ref, pin in sorted(pins))


def _texts(found: Seen) -> Iterator[str]:
    """Texts over texts and over lines."""
    boxes = [(text, box.grown(-TOUCH)) for text, box in found.texts]
    for (one, a), (other, b) in combinations(boxes, 2):
        if a.meets(b):
            yield f"the texts {one!r} and {other!r} overlap"
    lines = [*found.wires, *found.leads]
    borders = [line for frame in found.frames for line in lines_of(frame)]
    for text, box in boxes:
        if any(_cuts(line, box) for line in lines):
            yield f"a wire runs through the text {text!r}"
        if any(_cuts(line, box) for line in borders):
            yield f"the border of a frame runs through the text {text!r}"


def _bodies(found: Seen) -> Iterator[str]:
    """Parts over parts, and wires through parts."""
    boxes = {ref: box.grown(-TOUCH) for ref, box in found.bodies.items()}
    for (one, a), (other, b) in combinations(boxes.items(), 2):
        if a.meets(b):
            yield f"the parts {one} and {other} overlap"
    for ref, box in found.bodies.items():
        inked = box.grown(-MARGIN)
        for text, room in found.texts:
            if text not in found.own[ref] and room.grown(-TOUCH).meets(inked):
                yield f"the text {text!r} stands on {ref}"
    for ref, box in boxes.items():
        if any(_cuts(line, box) for line in found.wires):
            yield f"a wire runs through {ref}"


def _wires(found: Seen) -> Iterator[str]:
    """Wires along each other, and ends that are neither joined nor clear of another wire."""
    for a, b in combinations(found.wires, 2):
        if _shared(a, b):
            yield f"two wires run along each other from {a[0]} and from {b[0]}"
    tips = set(found.pins.values())
    dots = set(found.dots)
    for line in [*found.wires, *found.leads]:
        for other in found.wires:
            for end in line:
                inside = _within(end, other)
                if inside and end not in dots and (line not in found.leads or end in tips):
                    yield f"a wire ends at {end} on another without a dot"
    count: dict[tuple[float, float], int] = {}
    for line in found.wires:
        for end in line:
            count[end] = count.get(end, 0) + 1
    for tip in found.pins.values():
        count[tip] = count.get(tip, 0) + 1
    for dot in found.dots:
        meeting = count.get(dot, 0) + 2 * sum(_within(dot, line) for line in found.wires)
        meeting += sum(at == dot for at, _ in found.flags)
        if meeting != 3:
            yield f"at the dot {dot} there meet {meeting} ways, not three"


def _unnamed(found: Seen, circuit: Circuit) -> Iterator[str]:
    """Nets of which a reader could not say where they are."""
    for net in {**circuit.nets, **circuit.thermal_nets}:
        if net not in found.names:
            yield f"the net {net} is named nowhere"


def _cuts(line: Line, box: Box) -> bool:
    (ax, ay), (bx, by) = line
    return (
        min(ax, bx) < box.right
        and max(ax, bx) > box.left
        and min(ay, by) < box.bottom
        and max(ay, by) > box.top
    )


def _within(spot: tuple[float, float], line: Line) -> bool:
    """Whether a spot is on a line, but at none of its ends."""
    (ax, ay), (bx, by) = line
    x, y = spot
    if spot in line:
        return False
    return min(ax, bx) <= x <= max(ax, bx) and min(ay, by) <= y <= max(ay, by)


def _shared(a: Line, b: Line) -> bool:
    """Whether two lines have more than a point in common."""
    for axis in (0, 1):
        if a[0][axis] == a[1][axis] == b[0][axis] == b[1][axis]:
            other = 1 - axis
            low = max(min(p[other] for p in a), min(p[other] for p in b))
            high = min(max(p[other] for p in a), max(p[other] for p in b))
            if high > low:
                return True
    return False
