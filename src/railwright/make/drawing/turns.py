"""The ways in which the parts of a frame may stand, and in which order they are put down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from railwright.make.drawing.figure import Figure, figure
from railwright.make.drawing.geometry import LYING, MIRRORED, STANDING, UPRIGHT, UPSIDE_DOWN, Turn
from railwright.make.drawing.plan import COOLING, Plan
from railwright.make.drawing.prices import NOT_DOWN, ODD
from railwright.make.drawing.symbol import Standard, symbol_of
from railwright.make.drawing.ways import Ways


def figures_of(plan: Plan, way: Ways, ref: str, standard: Standard) -> list[Figure]:
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


def lengthwise(figures: Sequence[Figure], plan: Plan, ref: str) -> list[Figure]:
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


def turn_cost(found: Figure, plan: Plan, way: Ways) -> float:
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


def order_of(plan: Plan, way: Ways) -> list[str]:
    """Refs as they are put down: along the way of the power first, then by distance."""

    def key(place: int) -> tuple[float, float, int]:
        part = plan.parts[place]
        nets = [net for net in part.pins.values() if net in way.distance and net != way.zero]
        on_way = sum(net in way.spine for net in nets) >= 2
        near = min((way.distance[net] for net in nets), default=0.0)
        return (0.0 if on_way else 1.0, near, place)

    return [plan.parts[place].ref for place in sorted(range(len(plan.parts)), key=key)]


def feeds_of(plan: Plan, way: Ways) -> dict[str, list[str]]:
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
