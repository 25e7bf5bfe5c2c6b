"""Transformer, rectifier, two reservoirs about a middle, and a linear regulator on each side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from railwright.architectures.adjustable_linear import ADJUSTABLE
from railwright.architectures.architecture import (
    Architecture,
    Sketch,
    Task,
    Unserved,
)
from railwright.architectures.demands import survives, unguarded
from railwright.architectures.fixed_linear import FIXED
from railwright.architectures.linear import MOST_FRONTS, draw_linear
from railwright.architectures.mains_input import MIDDLE, MainsFront, mains_fronts
from railwright.architectures.reaching import Reaching
from railwright.architectures.regulator import Feed, Means, Place, Regulator, rated_current
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of
from railwright.architectures.sizing.cooling import Cooling
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable
from railwright.quantity import show


def _turned(several: Sequence[Means]) -> tuple[Means, ...]:
    """The same below the middle: their values are magnitudes."""
    return tuple(Means(tuple(f"negative-{k}" for k in m.kinds), m.setting) for m in several)


NEGATIVE = _turned((FIXED, ADJUSTABLE))


@dataclass(frozen=True)
class Pair:
    """Two rails with one terminal in common."""

    above: Output
    below: Output


class SplitLinear(Architecture):
    """A rail above and a rail below a common terminal, apart from the mains by one transformer."""

    name = "transformer with linear on either side"
    gives_up = "both sides carry a transformer for the greater of their currents; heavy, and hums"

    def sketches(self, task: Task) -> Sequence[Sketch]:
        pair = _pair(task)
        greater = max(pair.above, pair.below, key=lambda rail: rail.current.max)
        higher = max(pair.above, pair.below, key=lambda rail: rail.voltage.max)
        wanted = replace(pair.above, current=greater.current, voltage=higher.voltage)
        found: list[Sketch] = []
        refused: list[Unserved] = []
        for front in mains_fronts(task, wanted, (MIDDLE,)):
            try:
                found.append(_sketch(task, pair, front))
            except Unserved as unserved:
                refused.append(unserved)
            if len(found) == MOST_FRONTS:
                break
        if not found:
            raise max(refused, key=lambda each: each.reached)
        return found


def _pair(task: Task) -> Pair:
    """The rails; Unserved where there are not two, or not two with a common terminal."""
    rails = [unguarded(rail) for rail in task.need.output]
    if len(rails) != 2:
        raise Unserved(f"this serves two rails about a common terminal; the need has {len(rails)}")
    for above, below in (rails, rails[::-1]):
        nets, other = task.terminals(above.name), task.terminals(below.name)
        if nets.minus == other.plus and nets.plus != other.minus:
            if "common with input" in (above.reference, below.reference):
                raise Unserved(
                    f"{above.name} and {below.name} have to be common with the input; a "
                    "transformer is there to keep them apart from the mains"
                )
            return Pair(above, below)
    raise Unserved(
        f"{rails[0].name} and {rails[1].name} have no terminal in common, the minus of one and the "
        "plus of the other"
    )


def _sketch(task: Task, pair: Pair, front: MainsFront) -> Sketch:
    sheet = Sheet()
    controls = both_sides(task, pair, front)(sheet)
    return Sketch(tuple(sheet.parts), tuple(controls), rectified=sheet.rectified)


Sides = Callable[[Sheet], Sequence[NewTable]]
"""Puts a front and both sides on a sheet; their controls."""


def both_sides(
    task: Task, pair: Pair, front: MainsFront, several: Sequence[Means] = (FIXED, ADJUSTABLE)
) -> Sides:
    """What draws a front and both sides behind it, each with the cheapest regulator.

    Unserved where there is no regulator.
    """
    sides = [
        _side(replace(task, side=f"ABOVE{task.side}"), pair.above, several, front.feed),
        _side(replace(task, side=f"BELOW{task.side}"), pair.below, _turned(several), front.below),
    ]
    with Reaching(8):
        drawn = [front.fitted(regulator) for regulator, _ in sides]

    def draw(sheet: Sheet) -> Sequence[NewTable]:
        drawn[0](sheet)
        return [each for side in sides for each in draw_linear(sheet, *side)]

    return draw


def _side(
    task: Task, rail: Output, several: Sequence[Means], feed: Feed
) -> tuple[Regulator, Cooling]:
    """The cheapest regulator of a rail with its smallest sink; Unserved where there is none."""
    survives(rail, feed.high)
    refused: list[Unserved] = []
    for means, entry in _regulators(task, several):
        place = Place(task, rail, entry, feed)
        try:
            regulator = Regulator(place, means.setting(place))
            regulator.judge()
            regulator.headroom(0.0)
            with Reaching(6):
                return regulator, regulator.coolings()[0]
        except Unserved as unserved:
            told = f"{rail.name}, {entry.name}: {unserved.reason}"
            refused.append(Unserved(told, unserved.reached))
    if not refused:
        raise Unserved(f"the catalogue has no regulator for {show(rail.voltage.max, 'V')}")
    raise max(reversed(refused), key=lambda each: each.reached)


def _regulators(task: Task, several: Sequence[Means]) -> list[tuple[Means, Entry]]:
    found = [(m, entry) for m in several for entry in of_kind(task.catalogue, *m.kinds)]
    return sorted(found, key=lambda each: (price_of(each[1]), rated_current(each[1])))
