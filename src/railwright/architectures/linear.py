"""What linear supplies share: what feeds one regulator, its guards, its sink.

A linear one differs from another by what stands before its regulator, and by what sets the
voltage of that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain, zip_longest
from typing import ClassVar

from railwright.architectures.architecture import (
    Architecture,
    Sketch,
    Task,
    Unserved,
)
from railwright.architectures.demands import served, stays_below, survives
from railwright.architectures.direct_input import DirectFront
from railwright.architectures.front import Draw, Front
from railwright.architectures.reaching import Reaching
from railwright.architectures.regulator import Feed, Means, Place, Regulator, rated_current
from railwright.architectures.regulator_parts import (
    SINK,
    TAB,
    draw_bypass,
    draw_cooling,
    draw_output_capacitor,
    draw_regulator,
    draw_return,
)
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of
from railwright.architectures.sizing.cooling import Cooling
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable

MOST_FRONTS = 2
"""Ways to feed one regulator of which sketches are made, the first ones that serve."""


class Linear(Architecture):
    """One linear regulator behind what feeds it."""

    means: ClassVar[tuple[Means, ...]] = ()
    """Regulators that it may use."""

    def fronts(self, task: Task, rail: Output) -> Sequence[Front]:
        """Ways to feed the regulator of a rail, the best first; Unserved where there is none."""
        raise NotImplementedError(type(self).__name__)

    def sketches(self, task: Task) -> Sequence[Sketch]:
        rail = served(task)
        fronts = _harmless(rail, self.fronts(task, rail))
        several: list[list[Sketch]] = []
        refused: list[Unserved] = []
        for means, entry in self._regulators(task):
            try:
                several.append(list(_sketches(task, rail, (means, entry), fronts)))
            except Unserved as unserved:
                refused.append(Unserved(f"{entry.name}: {unserved.reason}", unserved.reached))
        if not several:
            raise max(reversed(refused), key=lambda each: each.reached)
        turns = chain.from_iterable(zip_longest(*several))
        return [sketch for sketch in turns if sketch is not None]

    def _regulators(self, task: Task) -> list[tuple[Means, Entry]]:
        found = [(m, entry) for m in self.means for entry in of_kind(task.catalogue, *m.kinds)]
        return sorted(found, key=lambda each: (price_of(each[1]), rated_current(each[1])))


class LinearFromDC(Linear):
    """One linear regulator behind the fuse of a direct source."""

    def fronts(self, task: Task, rail: Output) -> Sequence[Front]:
        front = DirectFront.of(task)
        stays_below(task, rail, front.feed.low)
        return [front]


def _harmless(rail: Output, fronts: Sequence[Front]) -> Sequence[Front]:
    """Fronts that the load survives through a shorted pass element; Unserved where it does none."""
    survives(rail, min(front.feed.high for front in fronts))
    most = rail.never_above
    return [front for front in fronts if most is None or front.feed.high <= most]


def _sketches(
    task: Task, rail: Output, chosen: tuple[Means, Entry], fronts: Sequence[Front]
) -> Iterator[Sketch]:
    """Sketches with one regulator, the best front and the smallest sink first.

    Unserved where none of the fronts can feed it.
    """
    means, entry = chosen
    refused: list[Unserved] = []
    feeding = 0
    for front in fronts:
        place = Place(task, front.asks(rail), entry, front.feed)
        try:
            regulator = Regulator(place, means.setting(place))
            drawn, ways = _judged(regulator, front)
            with Reaching(7):
                sketches = [_sketch(regulator, front.wholly, drawn, cooling) for cooling in ways]
        except Unserved as unserved:
            refused.append(unserved)
            continue
        yield from sketches
        feeding += 1
        if feeding == MOST_FRONTS:
            return
    if not feeding:
        raise max(refused, key=lambda each: each.reached)


def _judged(regulator: Regulator, front: Front) -> tuple[Draw, list[Cooling]]:
    """What stands before a regulator, and the ways to cool it; Unserved where one is missing."""
    regulator.judge()
    with Reaching(4):
        drawn = front.fitted(regulator)
    with Reaching(6):
        return drawn, regulator.coolings()


def _sketch(regulator: Regulator, whole: Feed, drawn: Draw, cooling: Cooling) -> Sketch:
    place, sheet = regulator.place, Sheet()
    drawn(sheet)
    controls = draw_linear(sheet, regulator, cooling)
    nets = place.task.terminals(place.rail.name)
    draw_return(sheet, place.feed.ground, nets.plus if place.negative else nets.minus)
    most, name = regulator.setting.turned_up, place.rail.name
    low = whole.low if whole.follows is None else regulator.setting.lowest
    fed = {name: (low, whole.high)}
    turned_up = {name: most} if most else {}
    return Sketch(tuple(sheet.parts), controls, turned_up, fed, sheet.rectified)


def draw_linear(sheet: Sheet, regulator: Regulator, cooling: Cooling) -> tuple[NewTable, ...]:
    """A regulator with all that stands around it; its controls."""
    task, wiring = regulator.place.task, regulator.place.wiring
    draw_bypass(sheet, regulator)
    draw_regulator(sheet, wiring, regulator, cooling)
    controls = regulator.setting.draw(sheet, wiring)
    draw_cooling(sheet, cooling, task.inner(TAB), task.inner(SINK), "regulator")
    draw_output_capacitor(sheet, wiring, regulator)
    return controls
