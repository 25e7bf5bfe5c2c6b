"""Step-down switching regulator of one voltage from a direct source."""

from __future__ import annotations

from dataclasses import replace

from railwright.architectures.architecture import (
    Architecture,
    Offer,
    Refusal,
    Sketch,
    Task,
    Unserved,
)
from railwright.architectures.demands import served, stays_below, survives
from railwright.architectures.direct_input import DirectFront
from railwright.architectures.regulator_parts import draw_return
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of
from railwright.architectures.step_down_stage import SizedStepDown, StepDownStage
from railwright.circuit.need import Output
from railwright.quantity import show


class StepDown(Architecture):
    """Switch, coil and freewheel diode: the voltage falls without becoming heat."""

    name = "step-down"
    gives_up = "ripple and spikes of its switching reach output and input; wants a tight layout"

    def offer(self, task: Task) -> Offer:
        try:
            rail = served(task)
            feed = DirectFront.of(task).feed
            stays_below(task, rail, feed.low)
            survives(rail, feed.high)
            self.demand(rail)
        except Unserved as unserved:
            return Refusal(unserved.reason)
        rail = replace(rail, nets=task.terminals(rail.name))
        several: list[Sketch] = []
        refused: list[Unserved] = []
        for entry in sorted(of_kind(task.catalogue, "step-down-regulator"), key=price_of):
            try:
                several += self.sketches(StepDownStage(task, rail, entry, feed, trims=True))
            except Unserved as unserved:
                told = f"{entry.name}: {unserved.reason}"
                refused.append(Unserved(told, unserved.reached))
        if several:
            return tuple(several)
        return Refusal(max(refused, key=lambda each: each.reached).reason)

    def demand(self, rail: Output) -> None:
        """Unserved where a rail is not for this kind, whichever the regulator: no knob here."""
        if rail.is_adjustable:
            raise Unserved(
                f"the output is to be set from {show(rail.voltage.min, 'V')} to "
                f"{show(rail.voltage.max, 'V')}; coil and loop are sized for one voltage here"
            )

    def sketches(self, stage: StepDownStage) -> list[Sketch]:
        """With one regulator between the input and the rail; Unserved where there is none."""
        return [_sketch(each) for each in stage.sized()]


def _sketch(sized: SizedStepDown) -> Sketch:
    own = sized.own
    sheet = Sheet()
    controls = sized.draw(sheet, "step-down")
    draw_return(sheet, own.feed.ground, own.task.terminals(own.rail.name).minus)
    return Sketch(tuple(sheet.parts), controls)
