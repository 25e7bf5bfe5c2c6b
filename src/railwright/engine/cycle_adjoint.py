"""What moves the end of a recorded period, followed backwards through its steps and events.

The transposed equations of every step, of one kind for all: a first stage with the old rate, a
second one with both, where a step of one stage has but the second. Steps keep their length, but
for two: an event that comes later lengthens the step before it and, once what is stiff has
settled behind it, shortens the next one; what is between them shifts as a whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import TIME
from railwright.engine.expression import Expression, partials
from railwright.engine.linear import solved_each
from railwright.engine.recording import Recording
from railwright.engine.stepping import GAMMA, IMPLICIT, WEIGHT, Step

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Numbers = NDArray[np.intp]


class Nodes:
    """Places at which expressions are evaluated: unknowns and parameters (row, place)."""

    def __init__(self, step: Step, x: Array, parameters: Array, time: Array) -> None:
        names = step.system.parameters
        self.step = step
        self.x = x
        self.p = parameters.copy()
        self.time = time
        if TIME in names:
            self.p[names.index(TIME)] = time

    @property
    def count(self) -> int:
        """Number of places."""
        return int(self.x.shape[1])

    def later(self, by: Array) -> Nodes:
        """The same places by so much later (place) [s]."""
        return Nodes(self.step, self.x, self.p, self.time + by)

    def values(self, roots: Sequence[Expression], more: Array | None = None) -> Array:
        """Values (root, place); `more` are parameters behind those of the system."""
        p = self.p if more is None else np.concatenate([self.p, more])
        found = self.step.graph.evaluate(roots, self.x, p)
        return np.array(found).reshape(len(roots), self.count)

    def slopes(self, roots: Sequence[Expression]) -> Slopes:
        """Slopes of expressions by unknowns, held quantities and the time."""
        names, holds = self.step.system.parameters, self.step.holds
        found = Slopes(
            np.zeros((self.count, len(roots), len(self.x))),
            np.zeros((self.count, len(roots), len(holds))),
            np.zeros((self.count, len(roots))),
        )
        targets: list[Array] = []
        wanted: list[Expression] = []
        for row, root in enumerate(roots):
            for (op, number), slope in partials(root).items():
                if op == "x":
                    targets.append(found.x[:, row, number])
                elif op == "p" and names[number] in holds:
                    targets.append(found.held[:, row, holds.index(names[number])])
                elif op == "p" and names[number] == TIME:
                    targets.append(found.time[:, row])
                else:
                    continue
                wanted.append(slope)
        for target, value in zip(targets, self.values(wanted), strict=True):
            target[:] = value
        return found


@dataclass(frozen=True)
class Slopes:
    """Of expressions, (place, expression, column); in time (place, expression)."""

    x: Array
    held: Array
    time: Array

    def spread(self, mask: Mask) -> Slopes:
        """The same at the places of a mask (step, lane), nil elsewhere."""
        return Slopes(_spread(self.x, mask), _spread(self.held, mask), _spread(self.time, mask))


def _spread(rows: Array, mask: Mask) -> Array:
    """(place, ...) as (step, lane, ...), nil where the mask is False."""
    whole = np.zeros((*mask.shape, *rows.shape[1:]))
    whole[mask] = rows
    return whole


@dataclass(frozen=True)
class Seeds:
    """What is followed backwards: slopes of some numbers by the end of the period and by steps."""

    stored: Array
    """By what is stored at the end (lane, seed, row)."""
    held: Array
    """By held quantities there."""
    whole: Array
    """By the length of the period (lane, seed)."""
    middle: Array
    """By the unknowns at the end of first stages, (step, lane, seed, row); this and what follows
    for the first seeds only, the others have none."""
    end: Array
    """By those at the end of steps."""
    within: Array
    """By held quantities in steps."""
    shift: Array
    """By a shift of what is between the last event and a step, (step, lane, seed)."""
    delay: Array
    """By how much later the event at the end of a step comes."""


class Notes:
    """What seeds have to do with the equations of each step, (step, lane, seed, row)."""

    def __init__(self, steps: Recording, seeds: Seeds) -> None:
        shape = (*steps.taken.shape, seeds.whole.shape[1])
        self.residuals = [np.zeros((*shape, steps.x.shape[1])) for _ in range(2)]
        """Slopes by the residuals of both stages."""
        self.amounts = [np.zeros((*shape, steps.rate.shape[1])) for _ in range(2)]
        """By the amounts that they find stored."""
        self.guard = np.zeros(shape)
        """By the guard that fires, (step, lane, seed)."""
        self.changes = np.zeros((*shape, seeds.held.shape[2]))
        """By what held quantities become."""


class Adjoint:
    """The transposed equations of the steps of some lanes."""

    def __init__(self, step: Step, steps: Recording) -> None:
        self.step = step
        self.steps = steps
        taken = steps.taken
        share = np.where(steps.single, 1.0, IMPLICIT)
        self.inverse = 1.0 / np.where(taken, share * steps.length, 1.0)
        double = np.where(taken & ~steps.single, steps.length, 0.0)
        self.old = IMPLICIT * double
        """What multiplies the old rate in the first stage [s]."""
        self.both = WEIGHT * double
        """What multiplies both older rates in the second stage [s]."""
        self.places = (
            self.nodes(taken, steps.middle, steps.midway),
            self.nodes(taken, steps.x, steps.end),
        )
        """Ends of the first and of the second stages, of steps that were taken."""
        self.stages = tuple(map(self._stage, self.places))
        self.rises = self._rises()
        self.events = self._events()
        self.rate = steps.rate.transpose(0, 2, 1)

    def nodes(self, mask: Mask, x: Array, time: Array) -> Nodes:
        """Places of a mask, with the unknowns (step, row, lane) at these instants."""
        unknowns, parameters = (
            each.transpose(1, 0, 2)[:, mask] for each in (x, self.steps.parameters)
        )
        return Nodes(self.step, unknowns, parameters, time[mask])

    def _stage(self, nodes: Nodes) -> _Stage:
        step, taken = self.step, self.steps.taken
        residuals = nodes.slopes(step.system.residuals)
        amounts = nodes.slopes(step.amounts)
        matrix = residuals.x.copy()
        matrix[:, step.stored] += self.inverse[taken][:, None, None] * amounts.x
        unit = np.broadcast_to(np.eye(matrix.shape[1]), matrix.shape)
        return _Stage(
            step.stored,
            _spread(solved_each(matrix, unit), taken),
            residuals.spread(taken),
            amounts.spread(taken),
        )

    def _rises(self) -> tuple[Array, ...]:
        """How much more is stored at the end of each stage than at the start of the step, as a
        share of its length; of steps with two stages."""
        steps = self.steps
        found = [_spread(nodes.values(self.step.amounts).T, steps.taken) for nodes in self.places]
        start = np.concatenate([found[1][:1], found[1][:-1]])
        double = steps.taken & ~steps.single
        per_second = np.where(double, 1.0 / np.where(double, steps.length, 1.0), 0.0)
        return tuple((each - start) * per_second[..., None] for each in found)

    def _events(self) -> _Events:
        step, steps = self.step, self.steps
        events, holds = step.system.events, step.holds
        at = steps.fired | steps.ends
        reached = steps.guards.transpose(0, 2, 1) >= 0.0
        number = np.arange(1, len(events) + 1)
        cause = np.where(reached, number, 0).max(axis=2, initial=0) - 1
        acting = reached & steps.fired[..., None]
        # Of events at one instant the later stated wins.
        setter = np.full((*at.shape, len(holds)), -1)
        changes: list[Expression] = []
        for place, event in enumerate(events):
            for name, value in event.changes.items():
                held = holds.index(name)
                setter[..., held] = np.where(acting[..., place], len(changes), setter[..., held])
                changes.append(value)
        guards = [event.guard for event in events]
        nodes = self.nodes(at, steps.x, steps.end)
        return _Events(
            at,
            nodes,
            guards,
            changes,
            cause,
            setter,
            nodes.slopes(guards).spread(at),
            nodes.slopes(changes).spread(at),
            steps.slope.transpose(0, 2, 1),
        )

    def back(self, seeds: Seeds, notes: Notes | None = None) -> Walk:
        """Follow seeds from the end of the period to its start; notes are filled in."""
        walk = Walk(self, seeds, notes)
        for k in reversed(range(len(self.steps.taken))):
            walk.event(k)
            walk.step(k)
        return walk


class Walk:
    """Slopes of seeds (lane, seed, ...) on their way back through a period."""

    def __init__(self, adjoint: Adjoint, seeds: Seeds, notes: Notes | None) -> None:
        self.adjoint = adjoint
        self.seeds = seeds
        self.notes = notes
        self.own = seeds.end.shape[2]
        self.stored = seeds.stored
        self.rate = np.zeros_like(seeds.stored)
        self.held = seeds.held
        self.shift = seeds.whole
        self.x = self._nothing()
        self.last = np.zeros_like(seeds.whole)
        """By how much later the period ends."""

    def _nothing(self) -> Array:
        return np.zeros((*self.shift.shape, self.adjoint.steps.x.shape[1]))

    def event(self, k: int) -> None:
        """Back from behind the end of step k to before it."""
        self.x = self._nothing()
        if self.adjoint.events.at[k].any():
            # Until the delayed event what is stored goes on at its rate.
            delay = self.shift + np.einsum("lsr,lr->ls", self.stored, self.adjoint.rate[k])
            delay[:, : self.own] += self.seeds.delay[k]
            self._delay(k, delay + self._change(k))

    def _change(self, k: int) -> Array:
        """What held quantities become; returns slopes by the delay of the event."""
        events = self.adjoint.events
        setter = events.setter[k]
        by_change = np.where((setter >= 0)[:, None], self.held, 0.0)
        if self.notes is not None:
            self.notes.changes[k] = by_change
        if not events.changes:
            return np.zeros_like(self.shift)
        slopes = events.of_changes
        chosen = np.arange(len(setter))[:, None], np.maximum(setter, 0)
        self.x = by_change @ slopes.x[k][chosen]
        self.held = self.held - by_change + by_change @ slopes.held[k][chosen]
        by_time = np.einsum("lsh,lh->ls", by_change, slopes.time[k][chosen])
        self.shift = self.shift + by_time
        by_delay: Array = by_time + np.einsum("lsr,lr->ls", self.x, events.pace[k])
        return by_delay

    def _delay(self, k: int, delay: Array) -> None:
        """By how much later the event comes than with what is before it."""
        events, steps = self.adjoint.events, self.adjoint.steps
        # An event that another one brings about comes with that one.
        moves, told = steps.causes[k], events.cause[k] >= 0
        self.last = np.where((steps.ends[k] & moves)[:, None], delay, self.last)
        # A period that is given ends at its instant, whatever has shifted.
        self.shift = self.shift - np.where((moves & ~told)[:, None], delay, 0.0)
        if events.guards:
            slopes = events.of_guards
            chosen = np.arange(len(moves)), np.maximum(events.cause[k], 0)
            by_x, by_held, by_time = (s[k][chosen] for s in (slopes.x, slopes.held, slopes.time))
            rise = by_time + np.sum(by_x * events.pace[k], axis=1)
            with np.errstate(divide="ignore", invalid="ignore"):
                by_guard = np.where((moves & told)[:, None], -delay / rise[:, None], 0.0)
            self.x = self.x + by_guard[..., None] * by_x[:, None]
            self.held = self.held + by_guard[..., None] * by_held[:, None]
            self.shift = self.shift + by_guard * by_time[:, None]
            if self.notes is not None:
                self.notes.guard[k] = by_guard

    def step(self, k: int) -> None:
        """Back from the end of step k to its start."""
        adjoint, seeds, own = self.adjoint, self.seeds, self.own
        steps = adjoint.steps
        taken = steps.taken[k][:, None, None]
        inverse, both, old = (
            rows[k][:, None, None] for rows in (adjoint.inverse, adjoint.both, adjoint.old)
        )
        self.x[:, :own] += seeds.end[k]
        second = adjoint.stages[1].back(k, self.x, self.stored, self.rate, inverse)
        x = self._nothing()
        x[:, :own] += seeds.middle[k]
        middle = both * second.history
        first = adjoint.stages[0].back(k, x, np.zeros_like(middle), middle, inverse)
        held = self.held + first.held + second.held
        held[:, :own] += seeds.within[k]
        shift = np.where(
            steps.single[k][:, None],
            self.shift + second.time,
            (1.0 - GAMMA) * first.time - self._shorter(k, first, second),
        )
        shift[:, :own] += seeds.shift[k]
        self.shift = np.where(taken[..., 0], shift, self.shift)
        self.held = np.where(taken, held, self.held)
        self.rate = np.where(taken, middle + old * first.history, self.rate)
        self.stored = np.where(taken, first.history + second.history, self.stored)
        if self.notes is not None:
            for place, stage in enumerate((first, second)):
                self.notes.residuals[place][k] = np.where(taken, stage.residuals, 0.0)
                self.notes.amounts[place][k] = np.where(taken, stage.amounts, 0.0)

    def _shorter(self, k: int, *stages: _Back) -> Array:
        """Slopes by the length of step k: its rates are what is stored more over its length."""
        found = np.zeros_like(self.shift)
        for stage, rise in zip(stages, self.adjoint.rises, strict=True):
            found += np.einsum("lsr,lr->ls", stage.history, rise[k])
        return found


@dataclass(frozen=True)
class _Back:
    """What the equations of a stage lead back to, (lane, seed, row); by time (lane, seed)."""

    residuals: Array
    amounts: Array
    history: Array
    held: Array
    time: Array


@dataclass(frozen=True)
class _Stage:
    """A stage in all steps, (step, lane, ...)."""

    stored: Sequence[int]
    solver: Array
    """The inverse of its matrix."""
    of_residuals: Slopes
    of_amounts: Slopes

    def back(self, k: int, x: Array, stored: Array, rate: Array, inverse: Array) -> _Back:
        """From slopes by unknowns, by what is stored and by its rate at the end of the stage."""
        direct = stored + inverse * rate
        by_residuals = -((x + direct @ self.of_amounts.x[k]) @ self.solver[k])
        drawn = inverse * by_residuals[..., list(self.stored)]
        by_amounts = direct + drawn
        pairs = ((by_residuals, self.of_residuals), (by_amounts, self.of_amounts))
        held = sum(by @ of.held[k] for by, of in pairs)
        time = sum(np.einsum("lsr,lr->ls", by, of.time[k]) for by, of in pairs)
        return _Back(by_residuals, by_amounts, -drawn - inverse * rate, held, time)


@dataclass(frozen=True)
class _Events:
    """Events at the ends of steps."""

    at: Mask
    nodes: Nodes
    guards: Sequence[Expression]
    changes: Sequence[Expression]
    cause: Numbers
    """Number of the event that fires or ends the period, -1 where there is none."""
    setter: Numbers
    """(step, lane, held): which change sets a held quantity, -1 where none does."""
    of_guards: Slopes
    of_changes: Slopes
    pace: Array
    """Rate of the unknowns, (step, lane, row)."""

    def factors(self, guard: Array, changes: Array) -> list[Array]:
        """(step, lane) of the guard that fires and (step, lane, held), as one for each of all."""
        number = np.arange(len(self.guards))
        by_guard = np.where(self.cause[..., None] == number, guard[..., None], 0.0)
        number = np.arange(len(self.changes))[:, None]
        chosen = self.setter[:, :, None] == number
        return [by_guard, np.sum(chosen * changes[:, :, None], axis=3)]
