"""Demands that bind whole kinds of supply, before any part is chosen."""

from __future__ import annotations

from railwright.architectures.architecture import Task, Unserved
from railwright.circuit.need import Output
from railwright.quantity import show

UNGUARDED = -1.0
"""How far what only lacks a guard has come: what the guard or the supply in it says is told."""


def served(task: Task) -> Output:
    """The one rail; Unserved where the need asks for what no regulator alone gives."""
    need = task.need
    if len(need.output) > 1:
        raise Unserved(f"the need has {len(need.output)} rails; this has one regulator for one")
    return unguarded(need.output[0])


def unguarded(rail: Output) -> Output:
    """A rail itself; Unserved where a demand is left that a guard would have to serve."""
    overload = rail.overload
    if overload is not None and overload.style != "none":
        raise Unserved(
            f"{rail.name} wants {overload.style} by {show(overload.act_by or 0.0, 'A')}; this has "
            "no guard for that, and a regulator alone only its own limit, which is far wider",
            reached=UNGUARDED,
        )
    return rail


def joined_to_input(task: Task, rail: Output) -> None:
    """Unserved where a rail does not stand on the return of the input."""
    if rail.reference != "common with input":
        raise Unserved(
            f"{rail.name} has to be {rail.reference}; without a transformer it is joined to the "
            "input"
        )
    if task.terminals(rail.name).plus == task.fed.minus:
        raise Unserved(
            f"{rail.name} lies below the return of the input; this makes no negative voltage "
            "of a positive one"
        )


def lies_below_input(task: Task, rail: Output) -> None:
    """Unserved where a rail does not lie below the return of the input, joined to that."""
    if rail.reference != "common with input":
        raise Unserved(
            f"{rail.name} has to be {rail.reference}; without a transformer it is joined to the "
            "input"
        )
    if task.terminals(rail.name).plus != task.fed.minus:
        raise Unserved(
            f"{rail.name} does not lie below the return of the input, {task.fed.minus}; this "
            "makes nothing else"
        )


def stays_below(task: Task, rail: Output, lowest: float) -> None:
    """Unserved where a rail is not between the ends of an input that goes down to a voltage [V]."""
    joined_to_input(task, rail)
    if rail.voltage.max >= lowest:
        raise Unserved(
            f"{rail.name} wants up to {show(rail.voltage.max, 'V')} of an input that goes down "
            f"to {show(lowest, 'V')}; this only takes voltage away"
        )


def survives(rail: Output, highest: float) -> None:
    """Unserved where the load does not survive what a shorted pass element puts on it [V]."""
    most = rail.never_above
    if most is not None and highest > most:
        raise Unserved(
            f"a shorted pass element puts the input of {show(highest, 'V')} on {rail.name}, whose "
            f"load survives {show(most, 'V')}; this has no guard against that",
            reached=UNGUARDED,
        )
