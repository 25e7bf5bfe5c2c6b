"""A frame while its parts are put down: what stands where, and what it all costs."""

from __future__ import annotations

from collections.abc import Sequence

from railwright.make.drawing.figure import MIDDLE, Figure
from railwright.make.drawing.geometry import Point
from railwright.make.drawing.plan import Plan, neighbours
from railwright.make.drawing.prices import (
    ABOVE,
    BACKWARD,
    BEND,
    BLOCKED,
    CROSSED,
    HIGH,
    OUTWARD,
    RAIL,
    TOGETHER,
    WIDE,
)
from railwright.make.drawing.symbol import Standard
from railwright.make.drawing.turns import feeds_of, figures_of, lengthwise, order_of, turn_cost
from railwright.make.drawing.ways import Ways

EDGE = 200
"""How far from the middle of a frame a part may stand, so that a rail runs on for ever."""
_SHIFT = 600
"""Added to places so that none is negative."""
_GUEST = _SHIFT - MIDDLE
"""Of that, what a figure about its own middle has not."""

Seat = tuple[Figure, int, int]
"""A figure and where its middle stands."""
Line = tuple[int, int, int, int]
"""A straight piece of wire: from where to where."""


class Board:
    """A frame while its parts are put down."""

    def __init__(self, plan: Plan, way: Ways, standard: Standard, gap: int) -> None:
        self.plan, self.way, self.gap = plan, way, gap
        self.rows: dict[int, int] = {}
        """Height -> the places taken there, as bits."""
        self.columns: dict[int, int] = {}
        self.tips: dict[Point, list[str]] = {}
        self.seats: dict[str, Seat] = {}
        self.figures = {part.ref: figures_of(plan, way, part.ref, standard) for part in plan.parts}
        self.fixed = {ref for ref in plan.backbone if lengthwise(self.figures[ref], plan, ref)}
        """Parts of the backbone that stand on the rail."""
        for ref in self.fixed:
            self.figures[ref] = lengthwise(self.figures[ref], plan, ref)
        self.turn_cost = {
            id(f): turn_cost(f, plan, way) for some in self.figures.values() for f in some
        }
        """What each figure costs by its turn."""
        self.nets_of: dict[str, list[str]] = {part.ref: [] for part in plan.parts}
        for net, pins in plan.wired.items():
            for ref, _ in pins:
                if net not in self.nets_of[ref]:
                    self.nets_of[ref].append(net)
        self.zero_pins: dict[str, list[str]] = {}
        for ref, pin in plan.grounded:
            self.zero_pins.setdefault(ref, []).append(pin)
        self.order = order_of(plan, way)
        self.feeds = feeds_of(plan, way)
        self.neighbours = neighbours(plan)
        self.net_at = {
            (part.ref, pin): f"{part.ref} {pin}" if (part.ref, pin) in plan.flagged else net
            for part in plan.parts
            for pin, net in part.pins.items()
        }
        """A flagged pin has no net in common with another."""
        self.number = {
            net: place for place, net in enumerate(dict.fromkeys(self.net_at.values()), 1)
        }
        self.known: dict[str, list[Line]] = {}

    # Putting down and taking up

    def put(self, ref: str, seat: Seat) -> None:
        found, x, y = seat
        self.seats[ref] = seat
        for net in self.nets_of[ref]:
            self.known.pop(net, None)
        for pin, (tx, ty) in found.tips.items():
            at = (tx + x, ty + y)
            self.tips.setdefault(at, []).append(self.net_at[ref, pin])
        self._mark(seat, 1)

    def take(self, ref: str) -> None:
        seat = self.seats.pop(ref)
        found, x, y = seat
        for net in self.nets_of[ref]:
            self.known.pop(net, None)
        self._mark(seat, -1)
        for pin, (tx, ty) in found.tips.items():
            at = (tx + x, ty + y)
            self.tips[at].remove(self.net_at[ref, pin])
            if self.tips[at]:
                self.rows[at[1]] |= 1 << (at[0] + _SHIFT)
                self.columns[at[0]] |= 1 << (at[1] + _SHIFT)
            else:
                del self.tips[at]

    def _mark(self, seat: Seat, by: int) -> None:
        """Keep what is taken, as bits in each row and column."""
        found, x, y = seat
        for lines, masks, along, across in (
            (self.rows, found.masks[0], x, y),
            (self.columns, found.masks[1], y, x),
        ):
            for line, mask in masks.items():
                bits = mask << (along + _GUEST)
                if by > 0:
                    lines[line + across] = lines.get(line + across, 0) | bits
                else:
                    lines[line + across] &= ~bits

    def apart(self, ref: str, seat: Seat, other: str, there: Seat) -> bool:
        """Whether two parts may stand so beside each other."""
        (one, x, y), (two, u, v) = seat, there
        gap = self.gap
        u, v = u - x, v - y  # of the other, as the first sees it
        for left, top, right, bottom in one.rectangles:
            for west, north, east, south in two.rectangles:
                if (
                    left - gap <= east + u
                    and west + u <= right + gap
                    and top - gap <= south + v
                    and north + v <= bottom + gap
                ):
                    return False
            for tx, ty in two.tips.values():
                if left <= tx + u <= right and top <= ty + v <= bottom:
                    return False
        for west, north, east, south in two.rectangles:
            for tx, ty in one.tips.values():
                if west <= tx - u <= east and north <= ty - v <= south:
                    return False
        for pin, (tx, ty) in one.tips.items():
            for far, (ox, oy) in two.tips.items():
                if (
                    tx == ox + u
                    and ty == oy + v
                    and self.net_at[ref, pin] != self.net_at[other, far]
                ):
                    return False
        return True

    def points(self, net: str) -> list[Point]:
        """Ends of leads of a net that are down already."""
        found = []
        for ref, pin in self.plan.wired.get(net, ()):
            if ref in self.seats:
                f, x, y = self.seats[ref]
                tx, ty = f.tips[pin]
                found.append((tx + x, ty + y))
        return found

    def lines(self, net: str) -> list[Line]:
        """How the wires of a net would run; as of when one of its parts was moved last."""
        if net not in self.known:
            self.known[net] = self.wires(net)[1]
        return self.known[net]

    # What it costs

    def cost(self) -> float:
        """The cost of everything."""
        runs = {net: self.wires(net) for net in self.plan.wired}
        total = sum(cost for cost, _ in runs.values())
        total += sum(self._own_cost(ref) for ref in self.seats)
        low_x, low_y, high_x, high_y = self.extent()
        total += WIDE * (high_x - low_x) + HIGH * (high_y - low_y)
        lines = [(net, *line) for net, (_, lines) in runs.items() for line in lines]
        level = [line for line in lines if line[2] == line[4]]
        upright = [line for line in lines if line[1] == line[3]]
        for net, ax, ay, bx, _ in level:
            for other, cx, cy, _, dy in upright:
                if ax < cx < bx and cy < ay < dy and net != other:
                    total += CROSSED
        return total

    def extent(self) -> tuple[int, int, int, int]:
        """What the bodies take up."""
        if not self.seats:
            return 0, 0, 0, 0
        boxes = [(f.solids[0], x, y) for f, x, y in self.seats.values()]
        return (
            min(int(box.left) + x for box, x, _ in boxes),
            min(int(box.top) + y for box, _, y in boxes),
            max(int(box.right) + x for box, x, _ in boxes),
            max(int(box.bottom) + y for box, _, y in boxes),
        )

    def _own_cost(self, ref: str) -> float:
        found, x, y = self.seats[ref]
        total = self.turn_cost[id(found)]
        for pin in self.zero_pins.get(ref, ()):
            tx, ty = found.tips[pin][0] + x, found.tips[pin][1] + y
            taken = self.columns.get(tx, 0) >> (ty + 1 + _SHIFT)
            total += BLOCKED * taken.bit_count()
        if self.plan.rail_in or self.plan.rail_out:
            total += ABOVE * max(0.0, -(y + found.body.top + 1))
        for other in self.feeds.get(ref, ()):
            total += BACKWARD * max(0, self.seats[other][1] - x)
        return total

    def wires(self, net: str) -> tuple[float, list[Line]]:
        """The cost of the wires of a net, and how they would run."""
        points = self.points(net)
        if not points:
            return 0.0, []
        plan = self.plan
        rails = (plan.rail_in, plan.rail_out)
        trunk = self.trunk(net)
        total, lines = self._tree(points, trunk)
        if len(points) > 3 or net in rails:
            total += TOGETHER * (len(points) - len(set(points)))
        if trunk:
            own = {x for x, y in points if y == 0 and trunk[0] < x < trunk[1]}
            total += RAIL * (self._along(0, trunk[0] + 1, trunk[1] - 1) - len(own))
            lines.append((trunk[0], 0, trunk[1], 0))
        if not (net in plan.left or net in plan.right):
            return total, lines
        low_x, _, high_x, _ = self.extent()
        if net in plan.left:
            x, y = min(points)
            total += self._along(y, low_x, x - 1) * BLOCKED + OUTWARD * (x - low_x)
            lines.append((low_x - 3, y, x, y))
        if net in plan.right:
            x, y = max(points)
            total += self._along(y, x + 1, high_x) * BLOCKED + OUTWARD * (high_x - x)
            lines.append((x, y, high_x + 3, y))
        return total, lines

    def trunk(self, net: str) -> tuple[int, int] | None:
        """From where to where the rail of a net runs along the top."""
        plan = self.plan
        if net not in (plan.rail_in, plan.rail_out):
            return None
        start, end = -EDGE, EDGE
        for ref, own in plan.backbone.items():
            if ref in self.seats:
                f, x, _ = self.seats[ref]
                if own.source == net == plan.rail_in:
                    end = x + f.tips[own.enters][0]
                if own.goal == net == plan.rail_out:
                    start = x + f.tips[own.leaves][0]
        return (start, end) if start < end else (end, start)

    def _tree(
        self, points: Sequence[Point], trunk: tuple[int, int] | None
    ) -> tuple[float, list[Line]]:
        """Length of the wires that join points: the least tree, corners and hindrances counted."""
        total = 0.0
        lines: list[Line] = []
        if trunk:
            left = set(range(len(points)))
            feet = [(min(max(x, trunk[0]), trunk[1]), 0) for x, _ in points]
            near = {k: (self._wire(feet[k], points[k]), feet[k]) for k in left}
        else:
            left = set(range(1, len(points)))
            near = {k: (self._wire(points[0], points[k]), points[0]) for k in left}
        while left:
            k = min(left, key=lambda k: (near[k][0][0], k))
            left.remove(k)
            (cost, corner), other = near[k]
            total += cost
            lines += _legs(other, corner, points[k])
            for j in left:
                wire = self._wire(points[k], points[j])
                if wire[0] < near[j][0][0]:
                    near[j] = wire, points[k]
        return total, lines

    def _wire(self, a: Point, b: Point) -> tuple[float, Point]:
        """What it costs to join two points, and where the wire would turn."""
        (ax, ay), (bx, by) = a, b
        far = abs(ax - bx) + abs(ay - by)
        if ay == by:
            low, high = (ax, bx) if ax < bx else (bx, ax)
            return far + BLOCKED * self._along(ay, low + 1, high - 1), a
        if ax == bx:
            low, high = (ay, by) if ay < by else (by, ay)
            return far + BLOCKED * self._down(ax, low + 1, high - 1), a
        one = self._leg(ax, ay, bx, by)
        other = self._leg(bx, by, ax, ay)
        if one <= other:
            return far + BEND + BLOCKED * one, (bx, ay)
        return far + BEND + BLOCKED * other, (ax, by)

    def _leg(self, ax: int, ay: int, bx: int, by: int) -> int:
        """What stands in the way along from a, then up or down to b."""
        across = self._along(ay, ax + 1, bx) if ax < bx else self._along(ay, bx, ax - 1)
        down = self._down(bx, ay + 1, by - 1) if ay < by else self._down(bx, by + 1, ay - 1)
        return across + down

    def _along(self, y: int, low: int, high: int) -> int:
        row = self.rows.get(y, 0)
        if not row or high < low:
            return 0
        return ((row >> (low + _SHIFT)) & ((1 << (high - low + 1)) - 1)).bit_count()

    def _down(self, x: int, low: int, high: int) -> int:
        column = self.columns.get(x, 0)
        if not column or high < low:
            return 0
        return ((column >> (low + _SHIFT)) & ((1 << (high - low + 1)) - 1)).bit_count()


def _legs(a: Point, corner: Point, b: Point) -> list[Line]:
    """A wire with one corner, in level and upright pieces from low to high."""
    found = []
    for (ax, ay), (bx, by) in ((a, corner), (corner, b)):
        if (ax, ay) == (bx, by):
            continue
        if ay == by or ax == bx:
            found.append((min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)))
    return found
