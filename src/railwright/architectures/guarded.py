"""A kind of supply within the guards that a need wants, from the terminals inwards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby, product

from railwright.architectures.architecture import (
    Architecture,
    Offer,
    Refusal,
    Sketch,
    Task,
    Unserved,
)
from railwright.architectures.guards import every
from railwright.architectures.guards.guard import Guard


def guarded(architecture: Architecture, task: Task) -> Offer:
    """Sketches of a kind of supply with the guards wanted, or the binding reason why not.

    Guards are combined as they prefer; the first combination within which the supply serves is
    taken. The reason told is that of the first combination that came furthest; where it is a guard
    that cannot, with those of the guards that could stand in its place.
    """
    refused: list[Unserved] = []
    for guards in _combinations(task):
        try:
            return tuple(_within(guards, architecture, task))
        except Unserved as unserved:
            refused.append(unserved)
    furthest = max(refused, key=lambda each: each.reached)
    if not isinstance(furthest, _Lacking):
        return Refusal(furthest.reason)
    alike = [each for each in refused if isinstance(each, _Lacking)]
    reasons = dict.fromkeys(each.reason for each in alike if each.purpose == furthest.purpose)
    return Refusal("; ".join(reasons))


class _Lacking(Unserved):
    """A guard that cannot serve."""

    def __init__(self, guard: Guard, unserved: Unserved) -> None:
        of = f" of {guard.rail}" if guard.rail else ""
        super().__init__(f"{guard.name}{of}: {unserved.reason}", unserved.reached)
        self.purpose = guard.purpose


def _combinations(task: Task) -> Iterator[Sequence[Guard]]:
    """Guards to be tried together, those at the terminals first; alone where none is wanted."""
    ways = []
    for _, several in groupby(_asked(task), key=lambda guard: (guard.purpose, guard.rail)):
        guards = list(several)
        none = [None] if all(guard.dispensable for guard in guards) else []
        ways.append([*none, *guards])
    for chosen in product(*ways):
        found = [guard for guard in chosen if guard is not None]
        yield sorted(found, key=lambda guard: guard.depth)


def _asked(task: Task) -> list[Guard]:
    """Every guard that a need wants, those with one purpose for one rail side by side."""
    rails = [output.name for output in task.need.output]
    several = [kind(rail) for kind in every() for rail in ([""] if kind.of_input else rails)]
    wanted = [guard for guard in several if guard.wanted(task)]
    return sorted(wanted, key=lambda guard: (guard.purpose, guard.rail, guard.preference))


def _within(guards: Sequence[Guard], architecture: Architecture, task: Task) -> list[Sketch]:
    """Sketches within guards, the outermost first; Unserved where there is none."""
    if not guards:
        return list(architecture.sketches(task))
    guard, *inner = guards
    try:
        inside = guard.inside(task)
    except Unserved as unserved:
        raise _Lacking(guard, unserved) from unserved
    found: list[Sketch] = []
    refused: list[Unserved] = []
    for sketch in _within(inner, architecture, inside):
        try:
            found.append(guard.around(task, sketch))
        except Unserved as unserved:
            refused.append(_Lacking(guard, unserved))
    if not found:
        raise max(refused, key=lambda each: each.reached)
    return found
