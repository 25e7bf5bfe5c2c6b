"""What stands in the way of a current: what it leaves of the need, and what it is put between."""

from __future__ import annotations

import math
from dataclasses import replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.front import LEGS
from railwright.architectures.regulator import ACCURACY
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sizing.fuses import charging_integral
from railwright.architectures.sketched import entry_of, fuse_of, pins_of, reservoirs
from railwright.circuit.need import Output, Terminals
from railwright.circuit.tables import Range
from railwright.circuit.writer import NewTable
from railwright.quantity import show
from railwright.standards.iec60127 import PULSES

LEAST_EFFICIENCY = 0.7
"""Of a supply that works at its lowest input (common practice, no source)."""


def behind(rail: Output, ohms: float) -> Output:
    """A rail as the supply ahead of a resistance has to give it [Ω]; Unserved where too little
    is left of what may be off.
    """
    lost = ohms * rail.current.max
    inside = rail
    if rail.is_adjustable:
        inside = replace(inside, voltage=Range(rail.voltage.min, rail.voltage.max + lost))
    else:
        accuracy = rail.accuracy or ACCURACY
        left = accuracy - lost / rail.voltage.max
        if left <= 0.0:
            raise Unserved(
                f"it loses {show(lost, 'V')}; {rail.name} may be {show(accuracy, '1')} off"
            )
        inside = replace(inside, accuracy=left)
    if rail.load_regulation is not None:
        if lost >= rail.load_regulation:
            raise Unserved(
                f"it loses {show(lost, 'V')}; the load may move {rail.name} by "
                f"{show(rail.load_regulation, 'V')}"
            )
        inside = replace(inside, load_regulation=rail.load_regulation - lost)
    if (step := rail.load_step) is not None:
        moved = ohms * abs(step.to - step.from_)
        if moved >= step.deviation:
            raise Unserved(f"a step of the load moves {show(moved, 'V')} in it alone")
        inside = replace(inside, load_step=replace(step, deviation=step.deviation - moved))
    return inside


def upper_is_common(task: Task, rail: Output) -> bool:
    """Whether the upper terminal is the one that is joined to the input."""
    return task.terminals(rail.name).plus == task.fed.minus


def lies_below(task: Task, rail: Output) -> bool:
    """Whether the upper terminal of a rail is the lower one of another."""
    nets = task.terminals(rail.name)
    others = (task.terminals(each.name) for each in task.need.output if each.name != rail.name)
    return any(other.minus == nets.plus for other in others)


def moved(nets: Terminals, inner: str, *, upper: bool) -> Terminals:
    """Terminals of which one is at a net of its own."""
    return Terminals(inner, nets.minus) if upper else Terminals(nets.plus, inner)


def drawn(task: Task) -> float:
    """Most that a supply takes of its battery, whatever its kind [A].

    The current of its rails, or what their power makes of it at the lowest input.
    """
    rails = task.need.output
    straight = math.fsum(rail.current.max + LEGS for rail in rails)
    power = math.fsum(rail.voltage.max * rail.current.max for rail in rails)
    return max(straight, power / (LEAST_EFFICIENCY * task.need.input.voltage.min))


def outlasts(task: Task, sketch: Sketch, ohms: float) -> None:
    """Unserved where the fuse does not withstand charging what is behind it again and again.

    ohms: at least behind the fuse [Ω], beside what a task's source has.
    """
    part, source = fuse_of(task, sketch), task.need.input
    if part is None:
        return
    entry = entry_of(task, part)
    least = source.resistance + spread_of(entry, "resistance").low + ohms
    held = math.fsum(
        spread_of(entry_of(task, each), "capacitance").high for each in reservoirs(task, sketch)
    )
    taken = charging_integral(held, source.voltage.max, least)
    may = task.kept * PULSES * spread_of(entry, "melting_integral").low
    if taken > may:
        raise Unserved(
            f"switching on takes {show(taken, 'A²s')}; the {entry.name} may have {show(may, 'A²s')}"
        )


def parted(sketch: Sketch, fuse: NewTable, net: str, ahead: str) -> Sheet:
    """A sheet of a circuit whose fuse leads to a net of its own, and not any more to another."""
    sheet = Sheet.of(sketch.parts)
    (far,) = (pin for pin, at in pins_of(fuse).items() if at == net)
    sheet.join(str(fuse["ref"]), far, ahead)
    return sheet
