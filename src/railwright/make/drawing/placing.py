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

import numpy as np

from railwright.make.drawing.board import EDGE, Board, Seat
from railwright.make.drawing.figure import Figure
from railwright.make.drawing.geometry import Box, around
from railwright.make.drawing.ground import Ground
from railwright.make.drawing.plan import Plan
from railwright.make.drawing.symbol import Standard
from railwright.make.drawing.ways import Ways

SEED = 1
HOT, COLD = 3.0, 0.5
"""The noise at first and at last, in steps of wire."""
SWEEPS = 3
"""How often every part is put down anew while it cools."""
KICK, NEARLY = 3.0, 8.0
"""The noise with which a few parts are put down elsewhere, and what may be lost by it at first."""
KICKS: Mapping[float, int] = {4: 4, 20: 10, math.inf: 5}
"""Parts in a frame, at most -> how often that is tried."""
SHIFTS = [(dx, dy) for dx in range(-3, 4) for dy in range(-3, 4) if (dx == 0) != (dy == 0)]
"""How parts are moved together, in steps."""
MOVES = 4000
"""Parts moved so, about, after which it is given up to move them together."""


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
    search = _Search(Board(plan, way, standard, gap))
    search.fill()
    search.improve()
    search.polish()
    for _ in range(next(kicks for most, kicks in KICKS.items() if count <= most)):
        search.kick()
    seats = search.best
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


class _Search:
    """A board, its best state so far, and chance."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.chance = np.random.default_rng(SEED)
        self.best: dict[str, Seat] = {}
        self.best_cost = math.inf

    def fill(self) -> None:
        for ref in self.board.order:
            self._settle(ref, 0.0)

    def improve(self) -> None:
        """Put every part down anew, again and again, with less and less noise."""
        self._remember()
        refs = list(self.board.order)
        for sweep in range(SWEEPS):
            heat = HOT * (COLD / HOT) ** (sweep / (SWEEPS - 1))
            for place in self.chance.permutation(len(refs)):
                self.board.take(refs[place])
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
        first = self.board.order[int(self.chance.integers(len(self.board.order)))]
        near = sorted(self.board.neighbours[first])
        count = min(int(self.chance.integers(1, 4)), len(near))
        moved = [first, *(near[k] for k in self.chance.choice(len(near), count, replace=False))]
        for ref in moved:
            self.board.take(ref)
        for ref in moved:
            self._settle(ref, KICK)
        self._settle_all()
        cost = self.board.cost()
        if cost < self.best_cost + NEARLY:
            self._remember()
            self._shift()
            self._remember()

    def _settle_all(self) -> None:
        for ref in self.board.order:
            self.board.take(ref)
            self._settle(ref, 0.0)

    def _remember(self) -> None:
        cost = self.board.cost()
        if cost < self.best_cost:
            self.best_cost, self.best = cost, dict(self.board.seats)

    def _restore(self) -> None:
        for ref in list(self.board.seats):
            self.board.take(ref)
        for ref, seat in self.best.items():
            self.board.put(ref, seat)

    def _settle(self, ref: str, heat: float) -> None:
        """Put a part down where it costs least, give or take the heat."""
        ground = Ground(self.board, ref)
        best = self._best(ref, ground, heat, anywhere=False)
        if best is None:
            best = self._best(ref, ground, heat, anywhere=True)
        if best is None:
            raise NoRoomError(f"no place for {ref}")
        self.board.put(ref, best)

    def _best(self, ref: str, ground: Ground, heat: float, anywhere: bool) -> Seat | None:
        """The cheapest seat of a part, in line with its nets or anywhere."""
        best, least = None, math.inf
        for found in self.board.figures[ref]:
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
        least = self.board.cost()
        moves, mended = 0, True
        while mended and moves < MOVES:
            mended = False
            groups = self._groups()
            for place in self.chance.permutation(len(groups)):
                group = groups[place]
                for dx, dy in SHIFTS:
                    moves += 2 * len(group)
                    if self._move(group, dx, dy):
                        cost = self.board.cost()
                        if cost < least - 1e-9:
                            least, mended = cost, True
                        else:
                            self._move(group, -dx, -dy)
                if moves >= MOVES:
                    break

    def _groups(self) -> list[tuple[str, ...]]:
        """Parts that may be moved together: those on a net, those beyond a line."""
        found = set()
        for pins in self.board.plan.wired.values():
            found.add(tuple(sorted({ref for ref, _ in pins})))
        places = {ref: (x, y) for ref, (_, x, y) in self.board.seats.items()}
        for axis in (0, 1):
            for line in {place[axis] for place in places.values()}:
                found.add(tuple(sorted(r for r, place in places.items() if place[axis] >= line)))
        return sorted(group for group in found if 1 < len(group) < len(self.board.seats))

    def _move(self, group: Sequence[str], dx: int, dy: int) -> bool:
        """Move parts together, where they fit."""
        if dy and any(ref in self.board.fixed for ref in group):
            return False
        others = [ref for ref in self.board.seats if ref not in group]
        there = {ref: (f, x + dx, y + dy) for ref in group for f, x, y in [self.board.seats[ref]]}
        for ref, seat in there.items():
            if max(abs(seat[1]), abs(seat[2])) > EDGE:
                return False
            if not all(
                self.board.apart(ref, seat, other, self.board.seats[other]) for other in others
            ):
                return False
        for ref in group:
            self.board.take(ref)
        for ref, seat in there.items():
            self.board.put(ref, seat)
        return True
