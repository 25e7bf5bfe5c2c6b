"""Where the parts of a frame stand: near what they are joined to, along the way of the power.

Parts are put down one after the other where they cost least, then taken up and put down again
with less and less noise (simulated annealing by the heat-bath rule; Metropolis et al. 1953,
Geman and Geman 1984). Then a few parts that are joined are put elsewhere and the others follow:
what is better so is kept (iterated local search; Lourenço, Martin and Stützle 2003). The cost is
the length of the wires, their bends, what stands in their way, and what a reader would stumble
over. Chance has a fixed seed: the same circuit, the same drawing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.make.drawing.figure import MIDDLE, Figure, figure
from railwright.make.drawing.geometry import (
    LYING,
    MIRRORED,
    STANDING,
    UPRIGHT,
    UPSIDE_DOWN,
    Box,
    Point,
    Turn,
    around,
)
from railwright.make.drawing.plan import COOLING, Plan, neighbours
from railwright.make.drawing.symbol import Standard, symbol_of
from railwright.make.drawing.ways import Ways

BEND, BLOCKED = 3.0, 2.5
"""What a corner of a wire costs, and a place of the grid on its way that is taken, in steps."""
NOT_DOWN = 5.0
"""What a pin on 0 V costs that does not look down."""
CROSSED, SHARED = 1.5, 1.5
"""What it costs to cross where another wire would run, and to run there."""
INTO = 6.0
"""What a wire costs that would leave a pin into its own part."""
OUTWARD = 0.3
"""What each step costs from a pin to the border at which its net leaves."""
ODD = 4.0
"""What it costs a symbol to stand as one does not expect."""
BACKWARD = 0.5
"""What each step costs by which a part stands before one that feeds it."""
ABOVE = 1.0
"""What each step costs by which something stands above the rail."""
WIDE, HIGH = 0.5, 0.9
"""What each step of the frame's size costs."""
SHIFTS = [(dx, dy) for dx in range(-3, 4) for dy in range(-3, 4) if (dx == 0) != (dy == 0)]
"""How parts are moved together, in steps."""
MOVES = 4000
"""Parts moved so, about, after which it is given up to move them together."""
RAIL, AGAINST = 8.0, 25.0
"""What a place costs that is taken where a rail would run, and a pin that bars it itself."""
TOGETHER = 6.0
"""What it costs that two pins of a net with more of them meet in one place."""
NEAR = 26
"""How far from a pin of its net a pin is tried, in line with it."""
REACH = 12
"""How far beyond the others a part is tried, but for its size."""
SEED = 1
HOT, COLD = 3.0, 0.5
SWEEPS = 3
"""How often every part is put down anew while it cools."""
KICK, NEARLY = 3.0, 8.0
"""The noise with which a few parts are put down elsewhere, and what may be lost by it at first."""
KICKS: Mapping[float, int] = {4: 4, 20: 10, math.inf: 5}
"""Parts in a frame, at most -> how often that is tried."""
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
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


class NoRoomError(Exception):
    """A part or a name for which no place was found."""


@dataclass(frozen=True)
class Placed:
    """The parts of a frame where they stand."""

    seats: Mapping[str, Seat]
    box: Box
    """What they take up, with their labels."""


def placed(plan: Plan, way: Ways, standard: Standard, gap: int) -> Placed:
    """Put the parts of a frame down, with `gap` free ways between them at least."""
    count = len(plan.parts)
    best = _Board(plan, way, standard, gap)
    best.fill()
    best.improve()
    best.polish()
    for _ in range(next(kicks for most, kicks in KICKS.items() if count <= most)):
        best.kick()
    seats = best.best
    top = min((y + tip[1] for f, _, y in seats.values() for tip in f.tips.values()), default=0)
    if not (plan.rail_in or plan.rail_out):
        seats = {ref: (f, x, y - top) for ref, (f, x, y) in seats.items()}
    boxes = [box.moved(x, y) for f, x, y in seats.values() for box in _extent(f)]
    box = around(boxes)
    if plan.rail_in:
        box = around([box, Box(box.left, 0, box.left, 0)])
    return Placed(seats, box)


def _extent(found: Figure) -> Iterator[Box]:
    yield from found.solids
    for x, y in found.tips.values():
        yield Box(x, y, x, y)


class _Board:
    """A frame while its parts are put down."""

    def __init__(self, plan: Plan, way: Ways, standard: Standard, gap: int) -> None:
        self.plan, self.way, self.gap = plan, way, gap
        self.chance = np.random.default_rng(SEED)
        self.rows: dict[int, int] = {}
        """Height -> the places taken there, as bits."""
        self.columns: dict[int, int] = {}
        self.tips: dict[Point, list[str]] = {}
        self.seats: dict[str, Seat] = {}
        self.figures = {part.ref: _figures(plan, way, part.ref, standard) for part in plan.parts}
        self.fixed = {ref for ref in plan.backbone if _lengthwise(self.figures[ref], plan, ref)}
        """Parts of the backbone that stand on the rail."""
        for ref in self.fixed:
            self.figures[ref] = _lengthwise(self.figures[ref], plan, ref)
        self.turn_cost = {
            id(f): found_cost(f, plan, way) for some in self.figures.values() for f in some
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
        self.order = _order(plan, way)
        self.feeds = _feeds(plan, way)
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
        self.best: dict[str, Seat] = {}
        self.best_cost = math.inf

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

    # Filling and improving

    def fill(self) -> None:
        for ref in self.order:
            self._settle(ref, 0.0)

    def improve(self) -> None:
        """Put every part down anew, again and again, with less and less noise."""
        self._remember()
        refs = list(self.order)
        for sweep in range(SWEEPS):
            heat = HOT * (COLD / HOT) ** (sweep / (SWEEPS - 1))
            for place in self.chance.permutation(len(refs)):
                self.take(refs[place])
                self._settle(refs[place], heat)
            self._remember()

    def polish(self) -> None:
        """Mend what little moves can mend, of one part and of several together."""
        self._restore()
        self._settle_all()
        self._remember()
        self._restore()
        self._shift()
        self._remember()

    def kick(self) -> None:
        """Put a few parts down elsewhere and let the others follow; keep it where it is better."""
        self._restore()
        first = self.order[int(self.chance.integers(len(self.order)))]
        near = sorted(self.neighbours[first])
        count = min(int(self.chance.integers(1, 4)), len(near))
        moved = [first, *(near[k] for k in self.chance.choice(len(near), count, replace=False))]
        for ref in moved:
            self.take(ref)
        for ref in moved:
            self._settle(ref, KICK)
        self._settle_all()
        cost = self.cost()
        if cost < self.best_cost + NEARLY:
            self._remember()
            self._shift()
            self._remember()

    def _settle_all(self) -> None:
        for ref in self.order:
            self.take(ref)
            self._settle(ref, 0.0)

    def _remember(self) -> None:
        cost = self.cost()
        if cost < self.best_cost:
            self.best_cost, self.best = cost, dict(self.seats)

    def _restore(self) -> None:
        for ref in list(self.seats):
            self.take(ref)
        for ref, seat in self.best.items():
            self.put(ref, seat)

    def _settle(self, ref: str, heat: float) -> None:
        """Put a part down where it costs least, give or take the heat."""
        ground = _Ground(self, ref)
        best = self._best(ref, ground, heat, anywhere=False)
        if best is None:
            best = self._best(ref, ground, heat, anywhere=True)
        if best is None:
            raise NoRoomError(f"no place for {ref}")
        self.put(ref, best)

    def _best(self, ref: str, ground: _Ground, heat: float, anywhere: bool) -> Seat | None:
        """The cheapest seat of a part, in line with its nets or anywhere."""
        best, least = None, math.inf
        for found in self.figures[ref]:
            x, y, cost = ground.tried(found, anywhere)
            if not x.size:
                continue
            if heat:  # the greatest of such draws follows Boltzmann's law
                cost = cost - heat * self.chance.gumbel(size=cost.size)
            place = int(np.argmin(cost))
            if cost[place] < least:
                best, least = (found, int(x[place]), int(y[place])), float(cost[place])
        return best

    def _shift(self) -> None:
        """Move parts together, by little, as long as that mends something."""
        least = self.cost()
        moves, mended = 0, True
        while mended and moves < MOVES:
            mended = False
            groups = self._groups()
            for place in self.chance.permutation(len(groups)):
                group = groups[place]
                for dx, dy in SHIFTS:
                    moves += 2 * len(group)
                    if self._move(group, dx, dy):
                        cost = self.cost()
                        if cost < least - 1e-9:
                            least, mended = cost, True
                        else:
                            self._move(group, -dx, -dy)
                if moves >= MOVES:
                    break

    def _groups(self) -> list[tuple[str, ...]]:
        """Parts that may be moved together: those on a net, those beyond a line."""
        found = set()
        for pins in self.plan.wired.values():
            found.add(tuple(sorted({ref for ref, _ in pins})))
        places = {ref: (x, y) for ref, (_, x, y) in self.seats.items()}
        for axis in (0, 1):
            for line in {place[axis] for place in places.values()}:
                found.add(tuple(sorted(r for r, place in places.items() if place[axis] >= line)))
        return sorted(group for group in found if 1 < len(group) < len(self.seats))

    def _move(self, group: Sequence[str], dx: int, dy: int) -> bool:
        """Move parts together, where they fit."""
        if dy and any(ref in self.fixed for ref in group):
            return False
        others = [ref for ref in self.seats if ref not in group]
        there = {ref: (f, x + dx, y + dy) for ref in group for f, x, y in [self.seats[ref]]}
        for ref, seat in there.items():
            if max(abs(seat[1]), abs(seat[2])) > EDGE:
                return False
            if not all(self.apart(ref, seat, other, self.seats[other]) for other in others):
                return False
        for ref in group:
            self.take(ref)
        for ref, seat in there.items():
            self.put(ref, seat)
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


class _Ground:
    """The board as one part finds it that is to be put down: sums over what stands there."""

    def __init__(self, board: _Board, ref: str) -> None:
        self.board, self.ref = board, ref
        plan = board.plan
        low_x, low_y, high_x, high_y = board.extent()
        boxes = [f.bounds.moved(x, y) for f, x, y in board.seats.values()]
        whole = around([*boxes, Box(low_x, low_y, high_x, high_y)])
        sizes = [max(f.bounds.width, f.bounds.height) for f in board.figures[ref]]
        reach = REACH + int(max(sizes)) + 2 * board.gap
        self.left, self.top = int(whole.left) - reach, int(whole.top) - reach
        self.right, self.bottom = int(whole.right) + reach, int(whole.bottom) + reach
        self.low_x, self.high_x, self.low_y, self.high_y = low_x, high_x, low_y, high_y
        shape = self.bottom - self.top + 1, self.right - self.left + 1
        taken, ends = np.zeros(shape, np.int32), np.zeros(shape, np.int32)
        self.owner = np.zeros(shape, np.int32)
        for other, (f, x, y) in board.seats.items():
            across, down = x - self.left, y - self.top
            for left, top, right, bottom in f.rectangles:
                taken[top + down : bottom + down + 1, left + across : right + across + 1] = 1
            for pin, (tx, ty) in f.tips.items():
                ends[ty + down, tx + across] += 1
                self.owner[ty + down, tx + across] = board.number[board.net_at[other, pin]]
        self.taken, self.counts = taken, ends
        level = np.zeros(taken.shape)
        upright = np.zeros(taken.shape)
        own = board.nets_of[ref]
        rails = dict.fromkeys((plan.rail_in, plan.rail_out))
        self.trunks = {net: trunk for net in rails if (trunk := board.trunk(net))}
        for net, (start, end) in self.trunks.items():
            if net in own and ref not in plan.backbone:
                level[self._rows(0, 0), self._columns(start + 1, end - 1)] = RAIL / BLOCKED
        for net in plan.wired:
            if net not in own:
                dear = RAIL / BLOCKED if net in (plan.rail_in, plan.rail_out) else 1.0
                for ax, ay, bx, by in board.lines(net):
                    if ay == by:
                        level[self._rows(ay, ay), self._columns(ax, bx)] = dear
                    else:
                        upright[self._rows(ay, by), self._columns(ax, ax)] = 1.0
        for other, (f, x, y) in board.seats.items():
            for pin in board.zero_pins.get(other, ()):
                tx, ty = f.tips[pin][0] + x, f.tips[pin][1] + y
                upright[self._rows(ty, self.bottom), self._columns(tx, tx)] = 1.0
        full = np.minimum(taken + ends, 1)
        self.taken_sum = _summed(taken)
        self.ends_sum = _summed(ends)
        self.wires_sum = _summed(level + upright)
        along = BLOCKED * full + CROSSED * upright + SHARED * level
        down = BLOCKED * full + CROSSED * level + SHARED * upright
        self.along = np.zeros((along.shape[0], along.shape[1] + 1))
        along.cumsum(axis=1, out=self.along[:, 1:])
        self.down = np.zeros((down.shape[0] + 1, down.shape[1]))
        down.cumsum(axis=0, out=self.down[1:])

    def _rows(self, low: int, high: int) -> slice:
        low, high = min(low, high), max(low, high)
        return slice(max(low - self.top, 0), max(high - self.top + 1, 0))

    def _columns(self, low: int, high: int) -> slice:
        low, high = min(low, high), max(low, high)
        return slice(max(low - self.left, 0), max(high - self.left + 1, 0))

    def tried(self, found: Figure, anywhere: bool) -> tuple[Ints, Ints, Floats]:
        """Where a figure may stand, and what it costs there."""
        x, y, cost = self._allowed(found, anywhere)
        if not x.size:
            return x, y, cost
        board, plan, ref = self.board, self.board.plan, self.ref
        cost += board.turn_cost[id(found)]
        box = found.solids[0]
        wide = np.maximum(self.high_x, x + int(box.right)) - np.minimum(
            self.low_x, x + int(box.left)
        )
        high = np.maximum(self.high_y, y + int(box.bottom)) - np.minimum(
            self.low_y, y + int(box.top)
        )
        cost += WIDE * wide + HIGH * high
        if plan.rail_in or plan.rail_out:
            cost += ABOVE * np.maximum(0.0, -(y + found.body.top + 1))
        for other in board.feeds.get(ref, ()):
            if other in board.seats:
                cost += BACKWARD * np.maximum(0, board.seats[other][1] - x)
        for other, fed in board.feeds.items():
            if ref in fed and other in board.seats:
                cost += BACKWARD * np.maximum(0, x - board.seats[other][1])
        for pin, (tx, ty) in found.tips.items():
            net = board.net_at[ref, pin]
            px, py = x + tx, y + ty
            if pin in board.zero_pins.get(ref, ()):
                cost += self._upright(px, py + 1, np.full(py.size, self.bottom))
            elif net in plan.wired:
                cost += self._joined(net, px, py, found.ways[pin])
        return x, y, cost

    def _allowed(self, found: Figure, anywhere: bool) -> tuple[Ints, Ints, Floats]:
        """Where nothing is in the way and a pin is in line with another of its net.

        With it comes what it costs the wires in whose way it stands.
        """
        board, plan = self.board, self.board.plan
        bounds = found.bounds.grown(board.gap + 1)
        left, top = self.left - int(bounds.left), self.top - int(bounds.top)
        wide = self.right - int(bounds.right) - left + 1
        high = self.bottom - int(bounds.bottom) - top + 1
        if wide <= 0 or high <= 0:
            nowhere = np.zeros(0, int)
            return nowhere, nowhere, np.zeros(0)
        free = np.zeros((high, wide), bool)
        some = False
        for pin, (tx, ty) in found.tips.items():
            for ox, oy in self._others(board.net_at[self.ref, pin]):
                some = True
                column, row = ox - tx - left, oy - ty - top
                if 0 <= row < high:
                    free[row, max(column - NEAR, 0) : max(column + NEAR, 0)] = True
                if 0 <= column < wide:
                    free[max(row - NEAR, 0) : max(row + NEAR, 0), column] = True
        if anywhere or not some:
            free[::2, ::2] = True
        if self.ref in board.fixed:
            free[:] = False
            row = -found.tips[plan.backbone[self.ref].enters][1] - top
            free[max(row, 0) : max(row + 1, 0)] = True

        def over(summed: Floats, box: Box) -> Floats:
            """Sums over a box about each place."""
            up, down = top + int(box.top) - self.top, top + int(box.bottom) - self.top + 1
            west, east = left + int(box.left) - self.left, left + int(box.right) - self.left + 1
            above, below = slice(up, up + high), slice(down, down + high)
            before, behind = slice(west, west + wide), slice(east, east + wide)
            found = summed[below, behind] - summed[above, behind]
            return np.asarray(found - summed[below, before] + summed[above, before])

        for box in found.solids:
            free &= over(self.taken_sum, box.grown(board.gap)) == 0
            free &= over(self.ends_sum, box) == 0
        for pin, (tx, ty) in found.tips.items():
            row, column = top + ty - self.top, left + tx - self.left
            at = slice(row, row + high), slice(column, column + wide)
            own = board.number[board.net_at[self.ref, pin]]
            free &= (self.taken[at] == 0) & (
                (self.counts[at] == 0) | ((self.counts[at] == 1) & (self.owner[at] == own))
            )
        py, px = np.nonzero(free)
        barred = np.zeros(px.size)
        for box in found.solids:
            barred += over(self.wires_sum, box)[py, px]
        return px + left, py + top, BLOCKED * barred

    def _others(self, net: str) -> list[Point]:
        """What a pin of a net may stand in line with: other pins, and where the rail runs."""
        if net not in self.board.plan.wired:
            return []
        found = self.board.points(net)
        trunk = self.trunks.get(net)
        if trunk:
            found += [(x, 0) for x in range(trunk[0], trunk[1] + 1, NEAR // 2)]
            found.append((trunk[1], 0))
        return found

    def _joined(self, net: str, px: Ints, py: Ints, way: Point) -> Floats:
        """What it costs to join a pin to its net."""
        board, plan = self.board, self.board.plan
        others = board.points(net)
        cost = np.zeros(px.size)
        trunk = self.trunks.get(net)
        joins = [self._wire(px, py, np.full(px.size, ox), oy, way) for ox, oy in set(others)]
        if trunk:
            joins.append(self._wire(px, py, np.clip(px, *trunk), 0, way))
            bars = (py == 0) & (px > trunk[0]) & (way == (1, 0))
            bars |= (py == 0) & (px < trunk[1]) & (way == (-1, 0))
            cost += AGAINST * bars
        if joins:
            cost += np.minimum.reduce(joins)
        if others and (len(others) > 2 or trunk):
            for ox, oy in set(others):
                cost += TOGETHER * ((px == ox) & (py == oy))
        first = min((x for x, _ in others), default=10**6)
        last = max((x for x, _ in others), default=-(10**6))
        west, east = px <= first, px >= last
        left = np.minimum(px, self.low_x)
        right = np.maximum(px, self.high_x)
        if net in plan.left:
            cost += west * (self._level(py, left, px - 1) + OUTWARD * (px - self.low_x))
            cost += west * 5.0 * (way == (1, 0))
        if net in plan.right:
            cost += east * (self._level(py, px + 1, right) + OUTWARD * (self.high_x - px))
            cost += east * 5.0 * (way == (-1, 0))
        return cost

    def _wire(self, px: Ints, py: Ints, ox: Ints, oy: int, way: Point) -> Floats:
        """What it costs to join pins to points: the better of two ways with one corner."""
        dx, dy = ox - px, oy - py
        far = abs(dx) + abs(dy) + BEND * ((dx != 0) & (dy != 0))
        low_x, high_x = np.minimum(px, ox), np.maximum(px, ox)
        low_y, high_y = np.minimum(py, oy), np.maximum(py, oy)
        down = np.full(px.size, oy)
        into_x, into_y = dx * way[0] < 0, dy * way[1] < 0
        if way[0]:
            level_first, upright_first = into_x, (dy == 0) & into_x
        else:
            level_first, upright_first = (dx == 0) & into_y, into_y
        one = self._level(py, low_x + 1, high_x - 1) + self._upright(ox, low_y + 1, high_y - 1)
        other = self._upright(px, low_y + 1, high_y - 1) + self._level(down, low_x + 1, high_x - 1)
        return np.asarray(far + np.minimum(one + INTO * level_first, other + INTO * upright_first))

    def _level(self, y: Ints, low: Ints, high: Ints) -> Floats:
        """What stands in the way along a row."""
        row, a, b = y - self.top, low - self.left, high - self.left + 1
        return np.asarray(np.maximum(self.along[row, b] - self.along[row, a], 0.0))

    def _upright(self, x: Ints, low: Ints, high: Ints) -> Floats:
        """What stands in the way along a column."""
        column, a, b = x - self.left, low - self.top, high - self.top + 1
        return np.asarray(np.maximum(self.down[b, column] - self.down[a, column], 0.0))


def _legs(a: Point, corner: Point, b: Point) -> list[Line]:
    """A wire with one corner, in level and upright pieces from low to high."""
    found = []
    for (ax, ay), (bx, by) in ((a, corner), (corner, b)):
        if (ax, ay) == (bx, by):
            continue
        if ay == by or ax == bx:
            found.append((min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)))
    return found


def _summed(places: NDArray[Any]) -> NDArray[Any]:
    """Sums over everything above and to the left of a place."""
    found = np.zeros((places.shape[0] + 1, places.shape[1] + 1), places.dtype)
    places.cumsum(axis=0, out=found[1:, 1:])
    return found.cumsum(axis=1)


def _order(plan: Plan, way: Ways) -> list[str]:
    """Refs as they are put down: along the way of the power first, then by distance."""

    def key(place: int) -> tuple[float, float, int]:
        part = plan.parts[place]
        nets = [net for net in part.pins.values() if net in way.distance and net != way.zero]
        on_way = sum(net in way.spine for net in nets) >= 2
        near = min((way.distance[net] for net in nets), default=0.0)
        return (0.0 if on_way else 1.0, near, place)

    return [plan.parts[place].ref for place in sorted(range(len(plan.parts)), key=key)]


def _feeds(plan: Plan, way: Ways) -> dict[str, list[str]]:
    """Ref -> refs of parts that stand before it on the way, joined to it."""
    by_ref = {part.ref: part for part in plan.parts}

    def far(ref: str) -> float:
        nets = [n for n in by_ref[ref].pins.values() if n in way.distance and n != way.zero]
        return sum(way.distance[net] for net in nets) / max(len(nets), 1)

    found: dict[str, list[str]] = {}
    for pins in plan.wired.values():
        refs = list(dict.fromkeys(ref for ref, _ in pins))
        for ref in refs:
            for other in refs:
                if far(other) < far(ref):
                    found.setdefault(ref, []).append(other)
    return found


def _figures(plan: Plan, way: Ways, ref: str, standard: Standard) -> list[Figure]:
    """The turns in which a part may stand."""
    part = next(each for each in plan.parts if each.ref == ref)
    symbol = symbol_of(part, standard)
    flagged = {pin: flag for (owner, pin), flag in plan.flagged.items() if owner == ref}
    turns: Sequence[Turn]
    if plan.title == COOLING and len(symbol.leads) == 2:
        turns = LYING
    elif symbol.name == "box":
        turns = (UPRIGHT,)
    elif symbol.upright or symbol.name.startswith("transformer"):
        turns = (UPRIGHT, UPSIDE_DOWN, MIRRORED, Turn(2))
    elif len(symbol.leads) == 2:
        turns = _turns_of_two(plan, way, ref)
    else:
        turns = [Turn(quarters, mirrored) for quarters in range(4) for mirrored in (False, True)]
    found = [figure(part, symbol, turn, flagged) for turn in turns]
    return [each for each in found if each.is_clear] or found


def _lengthwise(figures: Sequence[Figure], plan: Plan, ref: str) -> list[Figure]:
    """Those in which the power goes straight through from left to right."""
    own = plan.backbone[ref]
    return [
        found
        for found in figures
        if found.ways[own.enters] == (-1, 0)
        and found.ways[own.leaves] == (1, 0)
        and found.tips[own.enters][1] == found.tips[own.leaves][1]
    ]


def _turns_of_two(plan: Plan, way: Ways, ref: str) -> Sequence[Turn]:
    """A part of two pins hangs between its net and 0 V, or a supply and its net."""
    hanging = any(owner == ref for owner, _ in plan.grounded) or any(
        owner == ref for owner, _ in plan.flagged
    )
    return STANDING if hanging else (*LYING, *STANDING)


def found_cost(found: Figure, plan: Plan, way: Ways) -> float:
    """What it costs a part to stand in its turn, wherever that is."""
    part, total = found.part, 0.0
    grounded = {pin for ref, pin in plan.grounded if ref == part.ref}
    for pin in grounded:
        if found.ways[pin] != (0, 1):
            total += NOT_DOWN * (3 if found.ways[pin] == (0, -1) else 1)
    for flag in found.flags:
        if flag.way == (0, 1) and flag.net in way.distance:
            total += 3 * NOT_DOWN
    if len(found.tips) == 2:
        total += _two_pin_cost(found, plan, way)
    elif found.symbol.upright:
        backwards = found.turn.mirrored == (found.turn.quarters == 0)
        total += 3 * ODD * backwards + 1.0 * (found.turn.quarters == 2)
    elif found.symbol.name != "box":
        total += 1.0 * (found.turn.quarters % 2) + 0.2 * found.turn.mirrored
    total += sum(_sense(found, pin, other, way) for pin, other in _pairs(found, way))
    return total


def _pairs(found: Figure, way: Ways) -> Iterator[tuple[str, str]]:
    pins = [p for p in found.tips if found.part.pins[p] in way.height]
    for place, pin in enumerate(pins):
        for other in pins[place + 1 :]:
            yield pin, other


def _sense(found: Figure, pin: str, other: str, way: Ways) -> float:
    """What it costs that a pin of a lower net stands above one of a higher net."""
    if found.symbol.name == "box" or found.symbol.upright:
        return 0.0
    low, high = sorted((pin, other), key=lambda each: way.height[found.part.pins[each]])
    difference = way.height[found.part.pins[high]] - way.height[found.part.pins[low]]
    above = found.tips[high][1] - found.tips[low][1]
    return 0.5 * difference * max(0, above)


def _two_pin_cost(found: Figure, plan: Plan, way: Ways) -> float:
    """Along the way of the power parts lie, the side of the input to the left."""
    pins = list(found.tips)
    nets = [found.part.pins[pin] for pin in pins]
    if any(net not in way.distance for net in nets):
        return 0.0
    along = all(net in way.spine for net in nets) and nets[0] != nets[1]
    lying = found.ways[pins[0]][0] != 0
    if along:
        if not lying:
            return ODD
        first, last = sorted(pins, key=lambda pin: way.distance[found.part.pins[pin]])
        return 0.0 if found.tips[first][0] < found.tips[last][0] else 2 * ODD
    if lying:
        first, last = sorted(pins, key=lambda pin: way.distance[found.part.pins[pin]])
        far = way.distance[found.part.pins[last]] - way.distance[found.part.pins[first]]
        return 0.5 if found.tips[first][0] < found.tips[last][0] or not far else 1.5
    return 0.0
