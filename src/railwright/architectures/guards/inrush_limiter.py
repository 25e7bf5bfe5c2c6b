"""A limit of the current against the inrush: what the loads bring is charged below the source's.

Nothing of it stays in the way but a sense resistor and a transistor that is on, and it is the same
when the source is connected again at once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.constant_current import ConstantCurrent
from railwright.architectures.guards.guard import with_rail
from railwright.architectures.guards.inrush import Inrush, limit_of, needed, own
from railwright.circuit.need import Output, Overload
from railwright.quantity import show


@dataclass(frozen=True)
class InrushLimiter(ConstantCurrent):
    """Where no resistance may stay in the way; of supplies with one rail."""

    name = "limiter against the inrush"
    purpose = Inrush.purpose
    preference = 3
    depth = 45  # nearer to the terminals than a trip: both would act on one current
    of_input = True
    dispensable = False

    def wanted(self, task: Task) -> bool:
        return Inrush().wanted(task)

    def output(self, task: Task) -> Output:
        return task.need.output[0]

    def inside(self, task: Task) -> Task:
        return super().inside(_limited(task))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        held = own(task, sketch)
        if needed(task, held) > 0.0:
            raise Unserved(
                f"the supply itself has {show(held, 'F')}, ahead of a limit in part; within "
                f"{show(limit_of(task).gives_up_after or 0.0, 's')} the source does not charge that"
            )
        return super().around(_limited(task), sketch)


def _limited(task: Task) -> Task:
    """A need that asks for a limit between what its rail carries and what its source gives.

    Unserved where that has no place.
    """
    rail, most = task.need.output[0], task.kept * limit_of(task).current
    if len(task.need.output) > 1:
        raise Unserved("of several rails each would have to take a part of what the source gives")
    if rail.overload is not None and rail.overload.style != "none":
        raise Unserved(f"{rail.name} is guarded against overloads by other means")
    if most <= rail.current.max:
        raise Unserved(
            f"{show(rail.current.max, 'A')} are carried, and the source gives "
            f"{show(limit_of(task).current, 'A')}"
        )
    band = Overload("constant-current", rail.current.max, most)
    return with_rail(task, replace(rail, overload=band))
