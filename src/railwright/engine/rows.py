"""Where the numbers of a block of lanes stand in its memory during a transient."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from railwright.engine.columns import Columns
from railwright.engine.stepping import Step

PER_LANE = (
    "time",  # instant at which the equations are evaluated [s]
    "start",  # start of the step [s]
    "until",  # instant at which the lane pauses [s]
    "due",  # next instant of a timed event [s]
    "ahead",  # time to the predicted crossing of a guard [s]
    "step",  # length of the step that is tried [s]
    "wish",  # length of the step that the error allows [s]
    "before",  # length of the last step, nil where it must not be extrapolated [s]
    "longest",  # the longest step that is wanted [s]
    "pace",  # the longest step that the parts allow [s]
    "inverse",
    "relative",
    "absolute",
    "restart",  # 1: the step finds a consistent state after a jump; 2, 3: what is stiff settles
    "moving",  # 1 where the Newton iteration goes on
    "status",
    "fired",  # 1 where an event fires
    "tries",  # failed attempts in a row
    "error",
    "bend",  # of the step's way from a parabola, over its tolerance
    "trust",
    "next",  # number of the next output
    "final",  # 1 where the pause is the end, whose output is then written
    "steps",
    "rejected",
    "events",
    "laps",  # ticks of the clock until the lane pauses
    "carry",  # 1 where sensitivities are carried along
    "accepted",  # 1 where the last step was accepted
    "midway",  # instant of the first stage [s]
    "origin",  # instant from which outputs are counted [s]
    "span",  # by what their times are multiplied
    "cause",  # number of the event that fires
)
"""Rows of one number per lane."""

RUNNING, PAUSED, TOO_SHORT, TOO_MANY, NO_RESTART, STORM, DOUBTFUL = range(7)
"""Values of `status`."""


@dataclass(frozen=True)
class Rows:
    """Rows (name, place) -> number of the row; each holds W lanes."""

    step: Step
    constants: tuple[int, ...]
    """Numbers of the operations that are computed once."""
    columns: Columns | None = None
    """Sensitivities that are carried along."""

    @classmethod
    def of(cls, step: Step, columns: Columns | None = None) -> Rows:
        """Rows for a step: all that its expressions read and what the loop keeps."""
        everything = [
            *step.iteration,
            *step.amounts,
            *step.estimate,
            step.bend,
            step.pace,
            *step.guards,
            *step.timed.values(),
            *(value for e in step.system.events for value in e.changes.values()),
            *step.system.observed.values(),
        ]
        moving = step.moving
        if columns is not None:
            changes = [v for change in columns.changes for v in change.values()]
            everything += [*columns.rates, *columns.unknowns, *columns.delays, *changes]
            everything += [*columns.ends, *columns.capacities]
            moving = moving | frozenset(columns.extras.values())
        return cls(step, tuple(step.graph.settled(everything, moving)), columns)

    @cached_property
    def sizes(self) -> Mapping[str, int]:
        """Number of rows of each name, in the order in which they stand in memory."""
        unknowns, stored = len(self.step.system.residuals), len(self.step.stored)
        events = len(self.step.system.events)
        return {
            **dict.fromkeys(PER_LANE, 1),
            "parameter": len(self.step.system.parameters),
            "constant": len(self.constants),
            **dict.fromkeys(("x", "first", "halfway", "inner", "earlier", "weight"), unknowns),
            **dict.fromkeys(("history", "amount", "begun", "rate", "middle", "newest"), stored),
            **dict.fromkeys(("size", "largest", "datum"), len(self.step.system.storages)),
            **dict.fromkeys(("guard", "guard before"), events),
            **dict.fromkeys(("drive", "drive slope", "drive since"), len(self.step.driven)),
            "slope": unknowns if self.columns else 0,
            "outgoing": stored if self.columns else 0,
            "capacity": self.columns.count if self.columns else 0,
            "columns": self.columns.count * self.column if self.columns else 0,
        }

    @cached_property
    def _starts(self) -> Mapping[str, int]:
        starts, total = {}, 0
        for name, size in self.sizes.items():
            starts[name] = total
            total += size
        return starts

    @property
    def count(self) -> int:
        """Number of rows of a block."""
        return sum(self.sizes.values())

    def __getitem__(self, name: str) -> int:
        """Number of a name's first row."""
        return self._starts[name]

    @cached_property
    def in_column(self) -> Mapping[str, int]:
        """Number of rows of each name within a column."""
        stored = len(self.step.stored)
        return {
            "begun": stored,
            "rate": stored,
            "middle": stored,
            "history": stored,
            "x": len(self.step.system.residuals),
            "held": len(self.step.holds),
            "delay": 1,
            "end": self.columns.count if self.columns else 0,
        }

    @property
    def column(self) -> int:
        """Number of rows of a column."""
        return sum(self.in_column.values())

    @cached_property
    def recorded(self) -> tuple[tuple[str, int], ...]:
        """Rows that are written at every output: unknowns, held and driven quantities."""
        names = self.step.system.parameters
        moved = [n for n in (*self.step.holds, *self.step.driven) if n in names]
        unknowns = [("x", i) for i in range(len(self.step.system.residuals))]
        return (*unknowns, *(("parameter", names.index(n)) for n in moved))

    def parameter(self, number: int) -> tuple[str, int]:
        """Where a parameter of the graph stands."""
        names = self.step.system.parameters
        if number < len(names):
            return ("time", 0) if names[number] == ("", "time") else ("parameter", number)
        return self._extra[number]

    @cached_property
    def _extra(self) -> Mapping[int, tuple[str, int]]:
        own = {number: name for name, number in self.step.extras.items()}
        return {**own, **self._of_columns}

    @cached_property
    def _of_columns(self) -> Mapping[int, tuple[str, int]]:
        if self.columns is None:
            return {}
        return {number: name for name, number in self.columns.extras.items()}
