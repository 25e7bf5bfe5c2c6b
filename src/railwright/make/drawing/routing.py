"""How the wires of a frame run: at right angles, on the grid, clear of everything.

Each net is a tree that grows pin by pin along the cheapest way (A*; Hart, Nilsson and Raphael
1968). Wires of two nets meet only where they cross straight. What finds no way, or none worth
drawing, gets its name at the pin instead. A net that finds no way is routed earlier the next time.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from railwright.make.drawing.figure import Flag
from railwright.make.drawing.geometry import Point
from railwright.make.drawing.placing import NoRoomError, Placed
from railwright.make.drawing.plan import Ends, Plan
from railwright.make.drawing.ways import Ways

EAST, SOUTH, WEST, NORTH = 1, 2, 4, 8
AHEAD: Mapping[int, Point] = {EAST: (1, 0), SOUTH: (0, 1), WEST: (-1, 0), NORTH: (0, -1)}
BACK = {EAST: WEST, WEST: EAST, NORTH: SOUTH, SOUTH: NORTH}
STRAIGHT = {EAST | WEST: NORTH | SOUTH, NORTH | SOUTH: EAST | WEST}
"""How a wire runs -> how another may cross it."""
CORNER, CROSSING = 2.5, 5.0
"""What a corner and a crossing cost, in steps."""
BESIDE = 0.15
"""What it costs to run one step beside another wire."""
BARRING = 4.0
"""What it costs to run across where the wire of another net would leave its pin."""
FAR, FARTHER = 40.0, 3.0
"""A way is not worth drawing that costs more than this and so many times the distance."""
SHORT = 9
"""Steps of a wire that only leads to a name, at most."""
ROUNDS = 16


@dataclass
class Port:
    """Where a net leaves the frame."""

    net: str
    at: Point
    side: int
    """EAST or WEST."""


@dataclass
class Routed:
    """The wires of a frame."""

    wires: dict[str, dict[Point, int]] = field(default_factory=dict)
    """Net -> place -> the directions in which wires leave it, as bits."""
    flags: list[Flag] = field(default_factory=list)
    """Names where a wire would have been too much."""
    ports: list[Port] = field(default_factory=list)

    def segments(self) -> Iterator[tuple[str, Point, Point]]:
        """Straight pieces of wire, as long as they get."""
        for net, places in self.wires.items():
            for start, bits in places.items():
                for way in (EAST, SOUTH):
                    if bits & way and not bits & BACK[way]:
                        yield net, start, _end(places, start, way)

    def dots(self, tips: Mapping[Point, int]) -> Iterator[tuple[str, Point]]:
        """Where three wires, pins and flags meet. tips: how many pins are at a place."""
        named = Counter(flag.at for flag in self.flags)
        for net, places in self.wires.items():
            for place, bits in places.items():
                if bits.bit_count() + tips.get(place, 0) + named[place] > 2:
                    yield net, place


def _end(places: Mapping[Point, int], place: Point, way: int) -> Point:
    dx, dy = AHEAD[way]
    while places[place] & way:
        place = place[0] + dx, place[1] + dy
    return place


@dataclass(frozen=True)
class Field:
    """The room of a frame: its border columns, the line of 0 V, and what may be used."""

    left: int
    right: int
    top: int
    bottom: int
    zero_at: int | None
    """Height of the line of 0 V."""
    wanted: Mapping[str, int]
    """Net -> height at which it should come in at the left, so that it meets the frame before."""
    forced: Sequence[str] = ()
    """Nets that get a flag, whatever way their wires find."""

    @property
    def lowest(self) -> int:
        """The height below which no wire runs."""
        return self.bottom - 1 if self.zero_at is None else self.zero_at


def routed(plan: Plan, way: Ways, stand: Placed, room: Field, volts: Mapping[str, str]) -> Routed:
    """Lead the wires of a frame. NoRoomError where a name finds no place at its pin."""
    first: list[str] = []
    named: list[tuple[str, Point]] = []
    best: Routed | None = None
    for _ in range(ROUNDS):
        router = _Router(plan, way, stand, room, first, volts)
        try:
            router.run(named)
        except NoRoomError:
            if router.stuck is None or router.stuck in named:
                break
            named.append(router.stuck)
            continue
        if best is None or len(router.result.flags) < len(best.flags):
            best = router.result
        fresh = [net for net in dict.fromkeys(router.failed) if net not in first]
        if not fresh:
            break
        first = [*fresh, *first]
    if best is None:
        raise NoRoomError(f"no room for the wires of {plan.title}")
    return best


class _Router:
    def __init__(
        self,
        plan: Plan,
        way: Ways,
        stand: Placed,
        room: Field,
        first: Sequence[str],
        volts: Mapping[str, str],
    ) -> None:
        self.plan, self.way, self.room, self.first, self.volts = plan, way, room, first, volts
        self.result = Routed()
        self.solid: set[Point] = set()
        self.tips: dict[Point, list[tuple[str, tuple[str, str]]]] = {}
        """Place -> nets and pins there."""
        self.at: dict[tuple[str, str], Point] = {}
        self.facing: dict[tuple[str, str], Point] = {}
        self.failed: list[str] = []
        self.stuck: tuple[str, Point] | None = None
        """The net and the place at which no name found room."""
        self.early: set[Point] = set()
        """Places whose name stands already, and is enough."""
        self.use: dict[Point, dict[str, int]] = {}
        """Place -> net -> directions of its wires."""
        for ref, (found, x, y) in stand.seats.items():
            self.solid |= {(px + x, py + y) for px, py in found.places}
            for pin, (tx, ty) in found.tips.items():
                net = found.part.pins[pin]
                own = f"{ref} {pin}" if (ref, pin) in plan.flagged else net
                at = (tx + x, ty + y)
                self.at[ref, pin] = at
                self.facing[ref, pin] = found.ways[pin]
                self.tips.setdefault(at, []).append((own, (ref, pin)))
        self.solid -= set(self.tips)
        self.escapes = {
            (x + self.facing[end][0], y + self.facing[end][1]): net
            for (x, y), ends in self.tips.items()
            for net, end in ends
        }
        """Where wires leave pins -> the net of the pin: nothing else should bar it."""

    def run(self, named: Sequence[tuple[str, Point]]) -> None:
        """Lead all wires. named: nets and places of pins that get their name before all wires."""
        plan, room = self.plan, self.room
        for net, at in named:
            self._name(net, at)
            self.early.add(at)
        if room.zero_at is not None:
            for x in range(room.left, room.right):
                self._join(self.way.zero, (x, room.zero_at), EAST)
        rails = [net for net in dict.fromkeys((plan.rail_in, plan.rail_out)) if net in plan.wired]
        others = sorted((n for n in plan.wired if n not in rails), key=self._span)
        jobs = [*self.first, *rails, *(net for net in others)]
        drops_done = False
        for net in dict.fromkeys(jobs):
            if net == self.way.zero:
                self._drops()
                drops_done = True
            elif net in plan.wired:
                self._net(net, plan.wired[net])
        if not drops_done:
            self._drops()
        for net in room.forced:
            if all(flag.net != net for flag in self.result.flags):
                tree = self._tree(net) | {self.at[end] for end in plan.wired[net]}
                self._name(net, *sorted(tree))

    def _span(self, net: str) -> tuple[int, str]:
        points = [self.at[end] for end in self.plan.wired[net]]
        wide = max(x for x, _ in points) - min(x for x, _ in points)
        return wide + max(y for _, y in points) - min(y for _, y in points), net

    # Nets

    def _net(self, net: str, pins: Ends) -> None:
        """Grow the tree of a net over its pins and to where it leaves the frame."""
        plan, room = self.plan, self.room
        wired = tuple(end for end in pins if self.at[end] not in self.early)
        if not wired:
            return
        start = self._start(net, wired)
        tree = {self.at[start]}
        for side, rail in ((WEST, plan.rail_in), (EAST, plan.rail_out)):
            if net == rail:
                self._leave(net, tree, side, 0)
        waiting = [end for end in wired if self.at[end] not in tree]
        while waiting:
            end = min(waiting, key=lambda end: (_distance(self.at[end], tree), end))
            waiting.remove(end)
            if self.at[end] in tree:
                continue
            found = self._search(net, [self.at[end]], tree, ())
            if found is None:
                self._fail(net, end)
            else:
                tree |= set(found)
                self._lay(net, found)
        for side, nets in ((WEST, plan.left), (EAST, plan.right)):
            if net in nets:
                wanted = room.wanted.get(net) if side == WEST else None
                if wanted is None or not self._leave(net, tree, side, wanted, strict=False):
                    self._leave(net, tree, side, None)
        if len(wired) < len(pins) and not self._leaves(net):
            self._name(net, *sorted(tree))

    def _leaves(self, net: str) -> bool:
        """Whether the net goes to the border, where its name stands."""
        plan = self.plan
        return net in (*plan.left, *plan.right, plan.rail_in, plan.rail_out)

    def _start(self, net: str, pins: Ends) -> tuple[str, str]:
        """The pin from which the tree of a net grows: that of the backbone, else the leftmost."""
        for ref, own in self.plan.backbone.items():
            if net == own.goal == self.plan.rail_out and (ref, own.leaves) in pins:
                return ref, own.leaves
            if net == own.source == self.plan.rail_in and (ref, own.enters) in pins:
                return ref, own.enters
        return min(pins, key=lambda end: (abs(self.at[end][1]), self.at[end][0]))

    def _leave(
        self, net: str, tree: set[Point], side: int, height: int | None, strict: bool = True
    ) -> bool:
        """Lead a net to the border of the frame."""
        x = self.room.left if side == WEST else self.room.right
        rows = [height] if height is not None else range(self.room.top + 2, self.room.bottom - 1)
        goals = {(x, y) for y in rows if self._free_port(y, side, net)}
        found = self._search(net, sorted(tree), goals, (side,)) if goals else None
        if found is None:
            if strict:
                at = min(tree, key=lambda at: (abs(at[0] - x), at))
                self.failed.append(net)
                self._name(net, at)
            return False
        tree |= set(found)
        self._lay(net, found)
        self.result.ports.append(Port(net, found[-1], side))
        return True

    def _free_port(self, y: int, side: int, net: str) -> bool:
        if y == 0 and net not in (self.plan.rail_in, self.plan.rail_out):
            rail = self.plan.rail_in if side == WEST else self.plan.rail_out
            if rail:
                return False
        if self.room.zero_at is not None and abs(y - self.room.zero_at) < 2:
            return False
        return all(port.side != side or abs(port.at[1] - y) >= 2 for port in self.result.ports)

    def _drops(self) -> None:
        """Lead pins on 0 V down to its line, the shortest way; else they get a bar of their own."""
        net, zero_at = self.way.zero, self.room.zero_at
        ends = sorted(self.plan.grounded, key=lambda end: (-self.at[end][1], self.at[end][0]))
        for end in ends:
            at = self.at[end]
            if at in self.early:
                continue
            if zero_at is None:
                self._name(net, at)
                continue
            if self.use.get(at, {}).get(net) and at in self._tree(net):
                continue
            straight = zero_at - at[1]
            line = {place for place in self._tree(net) if place[1] == zero_at}
            found = self._search(net, [at], line, ())
            if found is None or _cost_of(found) > straight + 2 * CORNER + 3:
                found = self._search(net, [at], self._tree(net), ())
            if found is None or _cost_of(found) > straight + 12:
                self.failed += [net] if found is None else []
                self._name(net, at)
            else:
                self._lay(net, found)

    def _tree(self, net: str) -> set[Point]:
        return set(self.result.wires.get(net, ()))

    def _fail(self, net: str, end: tuple[str, str]) -> None:
        """Name a net at a pin, and where the rest of it is."""
        self.failed.append(net)
        self._name(net, self.at[end])
        named = {flag.net for flag in self.result.flags[:-1]}
        if net not in named and not self._leaves(net):
            self._name(net, self.at[self._start(net, self.plan.wired[net])])

    # Names at pins

    def _name(self, net: str, *places: Point) -> None:
        """Put the name of a net at one of some places, or at the end of a short wire from there."""
        ground = net == self.way.zero
        for found in self._near(net, places):
            last = found[-1]
            bits = self.use.get(last, {}).get(net, 0)
            arrived = BACK[_way(found[-2], found[-1])] if len(found) > 1 else 0
            count = (bits | arrived).bit_count() + len(self.tips.get(last, ()))
            if count > 2 or len(self.use.get(last, {})) > (1 if bits else 0):
                continue
            for way in ((0, 1),) if ground else ((1, 0), (-1, 0), (0, -1)):
                flag = Flag(net, last, way, self.volts.get(net, ""), ground)
                if self._has_room(flag, found, bits | arrived):
                    self._lay(net, found)
                    self.result.flags.append(flag)
                    self.solid |= set(flag.solid.places())
                    return
        self.stuck = net, places[0]
        raise NoRoomError(f"no room for the name {net}")

    def _has_room(self, flag: Flag, path: Sequence[Point], bits: int) -> bool:
        ahead = next(way for way, step in AHEAD.items() if step == flag.way)
        if bits & ahead:
            return False
        box = flag.solid
        room = self.room
        if not (
            room.left < box.left
            and box.right < room.right
            and room.top + 1 < box.top
            and box.bottom < room.bottom
        ):
            return False
        taken = set(path)
        for place in flag.solid.places():
            if place in self.solid or place in self.tips or place in self.use or place in taken:
                return False
        x, y = flag.at
        facing = {
            (fx, fy)
            for end in (e for _, e in self.tips.get(flag.at, ()))
            for fx, fy in [self.facing[end]]
        }
        return (-flag.way[0], -flag.way[1]) not in facing or (x, y) not in self.tips

    def _near(self, net: str, places: Sequence[Point]) -> Iterator[list[Point]]:
        """Short wires from places of a net, the shortest first."""
        queue = [(0, place, [place]) for place in places if self._joinable(net, place)]
        seen = {place for _, place, _ in queue}
        while queue:
            far, place, path = heapq.heappop(queue)
            yield path
            if far >= SHORT:
                continue
            for way, (dx, dy) in AHEAD.items():
                step = (place[0] + dx, place[1] + dy)
                if step in seen or step in self.solid or step in self.use or step in self.tips:
                    continue
                if not self._within(step):
                    continue
                if len(path) == 1 and (
                    self._own_lead(place, (dx, dy))
                    or self.result.wires.get(net, {}).get(place, 0) & way
                ):
                    continue
                seen.add(step)
                heapq.heappush(queue, (far + 1, step, [*path, step]))

    def _own_lead(self, place: Point, way: Point) -> bool:
        """Whether a way leads from a pin back over its own lead."""
        return any(self.facing[end] == (-way[0], -way[1]) for _, end in self.tips.get(place, ()))

    def _within(self, place: Point) -> bool:
        room = self.room
        return room.left < place[0] < room.right and room.top + 1 < place[1] < room.lowest

    # Ways

    def _search(
        self, net: str, starts: Sequence[Point], goals: Collection[Point], through: tuple[int, ...]
    ) -> list[Point] | None:
        """The cheapest way from any start to any goal, both on the net or free."""
        aims = {goal for goal in goals if self._joinable(net, goal)}
        begins = [start for start in starts if self._joinable(net, start)]
        if not aims or not begins:
            return None
        if any(start in aims for start in begins):
            return [next(start for start in begins if start in aims)]
        low_x, high_x = min(x for x, _ in aims), max(x for x, _ in aims)
        low_y, high_y = min(y for _, y in aims), max(y for _, y in aims)
        straight = min(_distance(start, aims) for start in begins)
        most = FAR + FARTHER * straight

        def rest(x: int, y: int) -> int:
            across = low_x - x if x < low_x else x - high_x if x > high_x else 0
            down = low_y - y if y < low_y else y - high_y if y > high_y else 0
            return across + down

        own = self.result.wires.get(net, {})
        queue: list[tuple[float, float, Point, int]] = []
        cost: dict[tuple[Point, int], float] = {}
        came: dict[tuple[Point, int], tuple[Point, int]] = {}
        for start in begins:
            cost[start, 0] = 0.0
            heapq.heappush(queue, (float(rest(*start)), 0.0, start, 0))
        border = {self.room.left, self.room.right}
        while queue:
            _, far, place, arrived = heapq.heappop(queue)
            if far > cost[place, arrived]:
                continue
            if place in aims and arrived:
                return _path(came, place, arrived)
            for way, (dx, dy) in AHEAD.items():
                if arrived and way == BACK[arrived]:
                    continue
                step = (place[0] + dx, place[1] + dy)
                use = self.use.get(place, {})
                if not arrived and (own.get(place, 0) & way or self._own_lead(place, (dx, dy))):
                    continue
                if arrived and use and way != arrived:
                    continue  # on another wire: straight across only
                if step in self.solid or not self._on_field(step):
                    continue
                if step[0] in border and step not in aims:
                    continue
                extra = self._toll(net, step, way, aims)
                if extra is None:
                    continue
                turn = CORNER if arrived and way != arrived else 0.0
                total = far + 1.0 + turn + extra
                if total < cost.get((step, way), most):
                    cost[step, way] = total
                    came[step, way] = place, arrived
                    heapq.heappush(queue, (total + rest(*step), total, step, way))
        return None

    def _on_field(self, place: Point) -> bool:
        room = self.room
        return room.left <= place[0] <= room.right and room.top + 1 < place[1] <= room.lowest

    def _toll(self, net: str, step: Point, way: int, aims: Collection[Point]) -> float | None:
        """What it costs to enter a place beside the step; None where it may not be entered."""
        if step in aims:
            return 0.0
        use = self.use.get(step)
        if step in self.tips:  # a wire may run on over a pin of its own net
            own = len(self.tips[step]) == 1 and self.tips[step][0][0] == net and not use
            return 0.0 if own and not self._own_lead(step, AHEAD[way]) else None
        if use:
            if net in use or len(use) > 1:
                return None
            bits = next(iter(use.values()))
            return CROSSING if STRAIGHT.get(bits, 0) & way else None
        x, y = step
        dx, dy = AHEAD[way]
        sides = ((x + dy, y + dx), (x - dy, y - dx))
        barred = self.escapes.get(step, net) != net
        return BESIDE * sum(side in self.use for side in sides) + BARRING * barred

    def _joinable(self, net: str, place: Point) -> bool:
        """Whether a wire of a net may end here: on its own wires and pins, three at most."""
        if place in self.solid:
            return False
        tips = self.tips.get(place, ())
        if any(own != net for own, _ in tips):
            return False
        use = self.use.get(place, {})
        if any(other != net for other in use):
            return False
        named = sum(flag.at == place for flag in self.result.flags)
        return use.get(net, 0).bit_count() + len(tips) + named <= 2

    def _lay(self, net: str, path: Sequence[Point]) -> None:
        for a, b in pairwise(path):
            self._join(net, a, _way(a, b))

    def _join(self, net: str, place: Point, way: int) -> None:
        dx, dy = AHEAD[way]
        other = (place[0] + dx, place[1] + dy)
        wires = self.result.wires.setdefault(net, {})
        for at, bit in ((place, way), (other, BACK[way])):
            wires[at] = wires.get(at, 0) | bit
            self.use.setdefault(at, {})[net] = wires[at]


def _way(a: Point, b: Point) -> int:
    step = (b[0] - a[0], b[1] - a[1])
    return next(way for way, ahead in AHEAD.items() if ahead == step)


def _path(
    came: Mapping[tuple[Point, int], tuple[Point, int]], place: Point, arrived: int
) -> list[Point]:
    found = [place]
    while (place, arrived) in came:
        place, arrived = came[place, arrived]
        found.append(place)
    return found[::-1]


def _distance(place: Point, places: Collection[Point]) -> int:
    return min(abs(place[0] - x) + abs(place[1] - y) for x, y in places)


def _cost_of(path: Sequence[Point]) -> float:
    """Length of a way with its corners."""
    corners = sum(
        _way(a, b) != _way(b, c) for a, b, c in zip(path, path[1:], path[2:], strict=False)
    )
    return len(path) - 1 + CORNER * corners
