"""What the capacitors behind a source take when it is connected, against what it gives till then.

A source that shuts down after a time in its limit, and tries again, must have charged them by
then. A resistance in the way ends that sooner: it leaves the limit where the capacitors have come
to V - I R. Source: C V = I t, definition of capacitance; Ohm's law.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard, with_input
from railwright.architectures.guards.in_the_way import drawn, outlasts, parted
from railwright.architectures.guards.own_limit import STYLES
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sketched import behind_fuse, entry_of, fuse_of
from railwright.circuit.need import Output, SourceLimit
from railwright.quantity import show

BLOCK = "input"
OWN = 330e-6
"""F that a supply has itself, about, for which a resistance is chosen before it is drawn; what it
has in fact is held against that."""


@dataclass(frozen=True)
class Inrush(Guard):
    """Of sources that shut down after a time in their limit: here with nothing in the way."""

    name = "nothing against the inrush"
    purpose = "inrush"
    of_input = True

    def wanted(self, task: Task) -> bool:
        source = task.need.input
        return source.kind != "ac" and _given(task) is not None

    def inside(self, task: Task) -> Task:
        return task

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        held = self.held(task, sketch)
        lacking = needed(task, held)
        if lacking > 0.0:
            raise Unserved(
                f"{show(held, 'F')} hang on the input; within the "
                f"{show(limit_of(task).gives_up_after or 0.0, 's')} before it gives up, the source "
                f"charges {show(charge(task) / task.need.input.voltage.max, 'F')} beside the load"
            )
        return sketch

    def held(self, task: Task, sketch: Sketch) -> float:
        """All capacitance that hangs on the input, what the loads bring included [F]."""
        return own(task, sketch) + brought(task)


@dataclass(frozen=True)
class InTheWay(Inrush):
    """With a resistance behind the fuse."""

    name = ""

    def resistance(self, task: Task) -> tuple[float, float]:
        """The least while the supply works, and the most [Ω]; Unserved where there is none."""
        raise NotImplementedError(type(self).__name__)

    def draw(self, task: Task, sheet: Sheet, ends: tuple[str, str], told: str) -> None:
        """Puts it on a sheet; told: what it is for."""
        raise NotImplementedError(type(self).__name__)

    def inside(self, task: Task) -> Task:
        source = task.need.input
        ohms = source.resistance + self.resistance(task)[1]
        return with_input(task, replace(source, resistance=ohms))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        fuse, net = fuse_of(task, sketch), behind_fuse(task, sketch)
        if fuse is None:
            raise Unserved("no fuse is at the input, behind which it would stand")
        least, _ = self.resistance(task)
        held = self.held(task, sketch)
        wanted = needed(task, held)
        if wanted > least:
            raise Unserved(
                f"{show(held, 'F')} hang on the input and want {show(wanted, 'Ω')} in the way; "
                f"{show(least, 'Ω')} are left of it while the supply works"
            )
        outlasts(task, sketch, least)
        ahead = self.net(task, "AHEAD")
        sheet = parted(sketch, fuse, net, ahead)
        limit = limit_of(task)
        told = (
            f"(V - I t (1 - Iload / I) / C) / I = {show(wanted, 'Ω')} at least, that "
            f"{show(held, 'F')} are charged by {show(limit.current, 'A')} within "
            f"{show(limit.gives_up_after or 0.0, 's')}"
        )
        self.draw(task, sheet, (ahead, net), told)
        return replace(sketch, parts=tuple(sheet.parts))


def own(task: Task, sketch: Sketch) -> float:
    """Capacitance of a circuit, wherever it is [F]."""
    return math.fsum(
        spread_of(entry_of(task, part), "capacitance").high
        for part in sketch.parts
        if part["kind"] == "capacitor"
    )


def limit_of(task: Task) -> SourceLimit:
    """That of the source."""
    found = _given(task)
    assert found is not None
    return found


def _given(task: Task) -> SourceLimit | None:
    limit = task.need.input.limit
    return limit if limit is not None and limit.gives_up_after is not None else None


def charge(task: Task) -> float:
    """What one attempt of the source brings beside the load, the reserve left [C]."""
    limit = limit_of(task)
    return task.kept * max(limit.current - drawn(task), 0.0) * (limit.gives_up_after or 0.0)


def needed(task: Task, held: float) -> float:
    """Resistance with which so much capacitance leaves the source's limit in time [F -> Ω]."""
    source, limit = task.need.input, limit_of(task)
    return (source.voltage.max - charge(task) / held) / limit.current - source.resistance


def brought(task: Task) -> float:
    """Capacitance that loads bring, of rails that do not limit what charges it [F]."""
    return math.fsum(
        max((load.capacitance.max for load in rail.load if load.capacitance), default=0.0)
        for rail in task.need.output
        if not _limits(task, rail)
    )


def _limits(task: Task, rail: Output) -> bool:
    """Whether a rail takes less than the source's limit, whatever its load is."""
    overload = rail.overload
    if overload is None or overload.style not in STYLES or overload.act_by is None:
        return False
    others = math.fsum(each.current.max for each in task.need.output if each is not rail)
    return overload.act_by + others <= task.kept * limit_of(task).current


def overloaded(task: Task) -> float:
    """Most that lasts when an output is overloaded: by its guard, or what the source gives [A]."""
    acts = [rail.overload.act_by for rail in task.need.output if rail.overload is not None]
    known = [each for each in acts if each is not None]
    most = limit_of(task).current
    return min(most, math.fsum(known)) if len(known) == len(task.need.output) else most
