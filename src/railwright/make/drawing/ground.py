"""A board as one part finds it that is to be put down: all places at once, by sums over them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.make.drawing.board import Board
from railwright.make.drawing.figure import Figure
from railwright.make.drawing.geometry import Box, Point, around
from railwright.make.drawing.prices import (
    ABOVE,
    AGAINST,
    BACKWARD,
    BEND,
    BLOCKED,
    CROSSED,
    HIGH,
    INTO,
    OUTWARD,
    RAIL,
    SHARED,
    TOGETHER,
    WIDE,
)

NEAR = 26
"""How far from a pin of its net a pin is tried, in line with it."""
REACH = 12
"""How far beyond the others a part is tried, but for its size."""
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


class Ground:
    """The board as one part finds it that is to be put down: sums over what stands there."""

    def __init__(self, board: Board, ref: str) -> None:
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


def _summed(places: NDArray[Any]) -> NDArray[Any]:
    """Sums over everything above and to the left of a place."""
    found = np.zeros((places.shape[0] + 1, places.shape[1] + 1), places.dtype)
    places.cumsum(axis=0, out=found[1:, 1:])
    return found.cumsum(axis=1)
