"""Every step of a course as it was taken, read from the compiled loop one step at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.engine.rows import PAUSED, RUNNING, TOO_MANY
from railwright.engine.stepping import GAMMA
from railwright.engine.transient_code import JUMP
from railwright.engine.transient_kernel import TransientKernel

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Recording:
    """Accepted steps of lanes, (step, lane) or (step, row, lane).

    Behind its last step a lane is at rest: `taken` is False and nothing else means anything.
    """

    taken: Mask
    jumps: Mask
    """Steps that find a consistent state after a jump."""
    settles: Mask
    """Steps of one stage, two of them behind each jump, in which what is stiff comes to rest."""
    settled: Mask
    """The second of those."""
    fired: Mask
    """Steps at whose end events act."""
    ends: Mask
    """The last step; where a clock ends it, its event is still to act."""
    start: Array
    end: Array
    """Instants [s]."""
    length: Array
    middle: Array
    """Unknowns at the end of the first stage; of a step with one stage those at its end."""
    x: Array
    """Unknowns at the end."""
    slope: Array
    """How fast these move there."""
    rate: Array
    """Rates of what is stored, at the end."""
    guards: Array
    """Guards of events, at the end."""
    parameters: Array
    """What the equations read in the step, except the time."""

    @property
    def single(self) -> Mask:
        """Steps of one stage."""
        return self.jumps | self.settles

    @property
    def midway(self) -> Array:
        """Instants of the first stage [s]."""
        return np.where(self.single, self.end, self.start + GAMMA * self.length)

    @cached_property
    def causes(self) -> Mask:
        """Steps that end with an event, or the period, whose instant moves by itself."""
        # An event that another one brings about comes with that one.
        found: Mask = (self.fired | self.ends) & ~self.jumps
        return found

    def take(self, lanes: Mask) -> Recording:
        """Chosen lanes."""
        rows: Iterator[Any] = (getattr(self, f.name)[..., lanes] for f in fields(self))
        return Recording(*rows)

    @classmethod
    def together(cls, some: Sequence[Recording]) -> Recording:
        """Lanes of several recordings side by side."""
        longest = max(len(each.taken) for each in some)

        def joined(name: str) -> Any:
            found = []
            for each in some:
                rows = getattr(each, name)
                more = [(0, longest - len(rows)), *[(0, 0)] * (rows.ndim - 1)]
                found.append(np.pad(rows, more))
            return np.concatenate(found, axis=-1)

        return cls(*(joined(f.name) for f in fields(cls)))


def record(kernel: TransientKernel, block: Array, budget: int) -> tuple[Recording, Mask]:
    """Let the lanes of a block run until they pause; their steps, and lanes that arrived.

    budget: steps that are allowed.
    """
    steps = list(_steps(kernel, block, budget))
    arrived = kernel.memory.rows(block, "status")[0] == PAUSED
    columns = zip(*steps, strict=True)
    return Recording(*(np.array(column) for column in columns)), arrived


def _steps(
    kernel: TransientKernel, block: Array, budget: int
) -> Iterator[tuple[Array | Mask, ...]]:
    memory = kernel.memory
    nothing = np.zeros(0)
    status, steps = (memory.rows(block, name)[0] for name in ("status", "steps"))

    def rows(name: str) -> Array:
        return memory.rows(block, name).copy()

    def row(name: str) -> Array:
        found: Array = rows(name)[0]
        return found

    for _ in range(budget):
        taken = status == RUNNING
        if not taken.any():
            return
        restart, start, parameters = row("restart"), row("start"), rows("parameter")
        # Each lane stops after its next step; what is read here stays as it is from then on.
        steps[:] = 0.0
        kernel.run(block, nothing, nothing, 0.5)
        status[status == TOO_MANY] = RUNNING
        jumps = taken & (restart > 0.5) & (restart < 1.5)
        settles = taken & (restart > 1.5)
        single = jumps | settles
        end, wish = row("start"), row("wish")
        # The length of a jump is lost in the rounding of the instants.
        length = np.where(jumps, JUMP * wish, np.where(settles, end - start, row("before")))
        x = rows("first")
        yield (
            taken,
            jumps,
            settles,
            settles & (restart < 2.5),
            taken & (status == RUNNING) & (np.abs(row("restart") - 1.0) < 0.5),
            taken & (status == PAUSED),
            start,
            end,
            length,
            np.where(single, x, rows("inner")),
            x,
            rows("slope"),
            rows("rate"),
            rows("guard before"),
            parameters,
        )
