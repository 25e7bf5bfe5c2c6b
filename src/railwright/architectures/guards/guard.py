"""What stands between the terminals of a need and a supply, and serves a demand for it.

A guard is a class in a file of this folder and is asked by existing. The supply inside is given
the need as it is behind the guard: with terminals of its own, and without what the guard serves.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from railwright.architectures.architecture import Sketch, Task
from railwright.circuit.need import Input, Output


@dataclass(frozen=True)
class Guard:
    """One guard, of the input or of a rail."""

    name: ClassVar[str] = ""
    """What a builder calls it; empty for what only others build on."""
    purpose: ClassVar[str] = ""
    """What it serves; of guards with one purpose, one is built: the first one that serves."""
    preference: ClassVar[int] = 0
    """Of guards with one purpose, the least is tried first."""
    depth: ClassVar[int] = 0
    """How far from the terminals it stands: the least has its own on the terminals."""
    of_input: ClassVar[bool] = False
    """Whether it guards the input, once, and not each rail."""
    dispensable: ClassVar[bool] = False
    """Whether some supplies serve the demand themselves: they are asked without it first."""

    rail: str = ""
    """Which rail it guards; empty at the input."""

    def wanted(self, task: Task) -> bool:
        """Whether a need, as it is outside this guard, asks for it."""
        raise NotImplementedError(type(self).__name__)

    def inside(self, task: Task) -> Task:
        """The need as the supply inside sees it; Unserved where this cannot guard it.

        Terminals are on inner nets where it stands in the current's way, what it drops is added to
        what the supply has to give, and its share is taken from what may be off.
        """
        raise NotImplementedError(type(self).__name__)

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        """A sketch for the need inside, with this guard; task: the need outside it.

        Unserved where this cannot guard that circuit.
        """
        raise NotImplementedError(type(self).__name__)

    def output(self, task: Task) -> Output:
        """The rail that it guards."""
        found = task.need.rail(self.rail)
        assert found is not None
        return found

    def net(self, task: Task, name: str) -> str:
        """A name for a net of its own; of several rails each has its own."""
        several = len(task.need.output) > 1
        return task.inner(f"{name}_{'_'.join(self.rail.split())}" if several else name)


def with_rail(task: Task, rail: Output) -> Task:
    """A task with one rail, by its name, put in the place of what it was."""
    output = tuple(rail if each.name == rail.name else each for each in task.need.output)
    return replace(task, need=replace(task.need, output=output))


def with_input(task: Task, source: Input) -> Task:
    """A task with another input."""
    return replace(task, need=replace(task.need, input=source))
