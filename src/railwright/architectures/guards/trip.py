"""A trip that stays, which acts on the disable pin of the stage that the input feeds."""

from __future__ import annotations

from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.latch import AnyTrip, fed_by_input
from railwright.architectures.sheet import Sheet
from railwright.architectures.sketched import pins_of
from railwright.circuit.writer import NewTable

STEPS = "step-down-regulator", "low-dropout-regulator", "adjustable-low-dropout-regulator"
"""Kinds that give nothing while they are disabled."""


@dataclass(frozen=True)
class Trip(AnyTrip):
    """Nothing more stands in the way of the current than the shunt."""

    name = "trip"

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        stage = _stage(sketch)
        latch = self.latch(task, sketch, stage)
        sheet = Sheet.of(sketch.parts)
        latch.draw(sheet)
        low_works = task.catalogue[str(stage["use"])].options.get("enable_active") == "low"
        off = latch.tripped if low_works else latch.working(sheet)
        sheet.join(str(stage["ref"]), "disable", off)
        return replace(sketch, parts=tuple(sheet.parts))


def _stage(sketch: Sketch) -> NewTable:
    """The first stage that can be disabled; Unserved where the input feeds none."""
    fed = fed_by_input(sketch)
    for part in sketch.parts:
        pins = pins_of(part)
        if part["kind"] in STEPS and "disable" in pins and pins["input"] in fed:
            return part
    raise Unserved("nothing that the input feeds has a pin that switches it off")
