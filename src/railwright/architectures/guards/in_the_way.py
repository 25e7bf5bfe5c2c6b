"""What a resistance between a supply and its terminals leaves of the need for the supply."""

from __future__ import annotations

from dataclasses import replace

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.regulator import ACCURACY
from railwright.circuit.need import Output, Terminals
from railwright.circuit.tables import Range
from railwright.quantity import show


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


def moved(nets: Terminals, inner: str, *, upper: bool) -> Terminals:
    """Terminals of which one is at a net of its own."""
    return Terminals(inner, nets.minus) if upper else Terminals(nets.plus, inner)
