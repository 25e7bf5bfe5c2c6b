"""What supplies of one switching stage from a direct source share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import ClassVar

from railwright.architectures.architecture import (
    Architecture,
    Sketch,
    Task,
    Unserved,
)
from railwright.architectures.demands import served
from railwright.architectures.direct_input import DirectFront
from railwright.architectures.regulator import Feed
from railwright.architectures.regulator_parts import draw_return
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of
from railwright.architectures.switching_stage import SizedStage, SwitchingStage
from railwright.circuit.need import Output
from railwright.quantity import show


class Switching(Architecture):
    """One switching regulator between the input and a rail of one voltage."""

    kind: ClassVar[str]
    """Of the regulators that it may use."""
    way: ClassVar[type[SwitchingStage]]

    def demand(self, task: Task, rail: Output, feed: Feed) -> None:
        """Unserved where a rail is not for this kind, whichever the regulator: no knob here."""
        if rail.is_adjustable:
            raise Unserved(
                f"the output is to be set from {show(rail.voltage.min, 'V')} to "
                f"{show(rail.voltage.max, 'V')}; coil and loop are sized for one voltage here"
            )

    def sketches(self, task: Task) -> Sequence[Sketch]:
        rail = served(task)
        feed = DirectFront.of(task).feed
        self.demand(task, rail, feed)
        rail = replace(rail, nets=task.terminals(rail.name))
        several: list[Sketch] = []
        refused: list[Unserved] = []
        for entry in sorted(of_kind(task.catalogue, self.kind), key=price_of):
            try:
                several += self.built_on(self.way(task, rail, entry, feed, trims=True))
            except Unserved as unserved:
                told = f"{entry.name}: {unserved.reason}"
                refused.append(Unserved(told, unserved.reached))
        if not several:
            raise max(refused, key=lambda each: each.reached)
        return several

    def built_on(self, stage: SwitchingStage) -> list[Sketch]:
        """With one regulator between the input and the rail; Unserved where there is none."""
        return [self._sketch(each) for each in stage.sized()]

    def _sketch(self, sized: SizedStage) -> Sketch:
        own = sized.own
        sheet = Sheet()
        controls = sized.draw(sheet, self.name)
        draw_return(sheet, own.feed.ground, own.task.terminals(own.rail.name).minus)
        return Sketch(tuple(sheet.parts), controls)
