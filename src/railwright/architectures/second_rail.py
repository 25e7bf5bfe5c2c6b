"""Two rails from a direct source: one above its return, a second one below it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import ClassVar

from railwright.architectures.adjustable_linear import AdjustableLinear
from railwright.architectures.architecture import (
    Architecture,
    Sketch,
    Task,
    Unserved,
)
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.inverting_linear import InvertingLinear
from railwright.architectures.low_dropout_linear import LowDropoutLinear
from railwright.architectures.pre_regulated_linear import PreRegulatedLinear
from railwright.architectures.sheet import split_ref
from railwright.architectures.step_down import StepDown
from railwright.architectures.step_up import StepUp
from railwright.architectures.step_up_linear import StepUpLinear
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable

LINEAR: tuple[Architecture, ...] = (FixedLinear(), AdjustableLinear(), LowDropoutLinear())
"""Kinds for the rail above that do not switch, the plainest first."""
MOST = 2
"""Sketches of either side that are joined."""


class SecondRail(Architecture):
    """The rail above by the plainest kind that serves it, the rail below by an inverting one."""

    name = "inverting for a second rail"
    gives_up = "two supplies beside each other: two fuses, twice the parts; see both kinds"
    above: ClassVar[tuple[Architecture, ...]] = (
        *LINEAR,
        StepDown(),
        PreRegulatedLinear(),
        StepUp(),
        StepUpLinear(),
    )
    """Kinds for the rail above, the plainest first."""
    below: ClassVar[tuple[Architecture, ...]] = (InvertingLinear(),)
    """Likewise for the rail below."""

    def sketches(self, task: Task) -> Sequence[Sketch]:
        above, below = _rails(task)
        upper = _plainest(self.above, _alone(task, above, "ABOVE"))
        lower = _plainest(self.below, _alone(task, below, "BELOW"))
        pairs = zip(upper + upper[-1:] * MOST, lower, strict=False)
        return [joined(*pair) for pair in list(pairs)[:MOST]]


def _rails(task: Task) -> tuple[Output, Output]:
    """The rail above the return of the input and the one below; Unserved where it is not so."""
    rails, ground = task.need.output, task.fed.minus
    if len(rails) != 2:
        raise Unserved(f"this serves one rail above and one below; the need has {len(rails)}")
    for above, below in (rails, rails[::-1]):
        if task.terminals(above.name).minus == ground == task.terminals(below.name).plus:
            return above, below
    raise Unserved(
        f"{rails[0].name} and {rails[1].name} do not lie on either side of the return of the "
        f"input, {ground}"
    )


def _alone(task: Task, rail: Output, side: str) -> Task:
    """The task of one rail by itself."""
    return replace(task, need=replace(task.need, output=(rail,)), side=side)


def _plainest(kinds: Sequence[Architecture], task: Task) -> list[Sketch]:
    """Of the plainest kind that serves a rail; Unserved with the reason that came furthest."""
    refused: list[Unserved] = []
    for kind in kinds:
        try:
            return _sketches(kind, task)
        except Unserved as unserved:
            refused.append(unserved)
    raise max(refused, key=lambda each: each.reached)


def _sketches(kind: Architecture, task: Task) -> list[Sketch]:
    try:
        return list(kind.sketches(task))
    except Unserved as unserved:
        told = f"{task.need.output[0].name}, {kind.name}: {unserved.reason}"
        raise Unserved(told, unserved.reached) from unserved


def joined(first: Sketch, second: Sketch) -> Sketch:
    """Two circuits on one sheet: parts of the second are numbered on from those of the first."""
    last: dict[str, int] = {}
    for part in first.parts:
        letters, number, _ = split_ref(str(part["ref"]))
        last[letters] = max(last.get(letters, 0), number)
    moved = {}
    for part in second.parts:
        letters, number, unit = split_ref(str(part["ref"]))
        moved[str(part["ref"])] = f"{letters}{number + last.get(letters, 0)}{unit}"
    parts = tuple(_with(part, "ref", moved) for part in second.parts)
    controls = tuple(_with(control, "part", moved) for control in second.controls)
    most = {**first.turned_up, **second.turned_up}
    return Sketch((*first.parts, *parts), (*first.controls, *controls), most)


def _with(table: NewTable, key: str, moved: Mapping[str, str]) -> NewTable:
    return {**table, key: moved[str(table[key])]}
