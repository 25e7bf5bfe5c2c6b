"""What moves a cycle: derivatives of its measures by all values of the parts, by adjoint solves.

The adjoint method of Director and Rohrer ("The generalized adjoint network and network
sensitivities", IEEE Transactions on Circuit Theory, 1969) on the steps of the integration as they
were taken, with the jumps at events of Hiskens and Pai ("Trajectory sensitivity analysis of hybrid
systems", IEEE Transactions on Circuits and Systems I, 2000). That the end of the period is again
its start turns the slopes c of a measure by the start into c (I - M)^-1, with M the derivative
of the map over one period (Aprille and Trick, 1972). The work hardly grows with the number of
values.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, reduce
from operator import add

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import TIME
from railwright.engine.cycle import Cycle
from railwright.engine.cycle_adjoint import Adjoint, Nodes, Notes, Seeds
from railwright.engine.cycle_measures import Measure, Seen, Weights
from railwright.engine.expression import Expression, partials
from railwright.engine.linear import solved_each
from railwright.engine.ports import (
    Given,
    NoSuchPort,
    Output,
    Potential,
    not_a_net,
    unobserved,
    unread,
)
from railwright.engine.recording import Recording
from railwright.engine.repetition import ALIKE, Repetition
from railwright.engine.stepping import GAMMA, Step
from railwright.engine.topology import Topology
from railwright.engine.transient_kernel import system_in_time

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

ROOM = 4e6
"""Numbers in the matrices of the lanes that are worked on at a time."""
NOT_AGAIN = "the steps of the cycle could not be taken once more"
BESIDE = (
    "something follows the time beside the clock, or a clock beside the period: "
    "how the period moves cannot be told"
)
NEUTRAL = "the cycle goes over into others without a force: derivatives have no bounds"


@dataclass(frozen=True)
class CycleSensitivities:
    """Derivatives of one measure of a cycle by values; lanes without them read not-a-number."""

    measure: Measure
    value: Array
    """The measure itself (lane), in the unit of its output, or s."""
    by: Mapping[Given, Array]
    """(lane), that unit over the one of the value."""
    outcomes: tuple[str, ...]
    """Per lane a sentence, empty where derivatives were found."""

    @cached_property
    def solved(self) -> Mask:
        """Lanes in which derivatives were found."""
        return np.array([not outcome for outcome in self.outcomes])


def cycle_sensitivities(
    found: Cycle, measures: Sequence[Measure], values: Sequence[Given] | None = None
) -> list[CycleSensitivities]:
    """Derivatives of measures of cycles by values and inputs (all of them unless some are named).

    An `Observed` output may be an unknown or a held quantity of a part too. Temperatures are held.
    Derivatives are those of the steps as they were taken, their lengths held but for what events
    move: about as exact as the cycle's own tolerance. Of a current that is nothing but the slope of
    a charge (see `Course`) those of mean and rms are good to some per cent, that of the swing may
    be wrong: ask for the charge's voltage instead. A period that was given follows the values by
    which what is set from outside repeats (the frequency of a source); by a value that lets it
    repeat no more, derivatives read not-a-number. Raises NoSuchPort for what there is not.
    """
    if not measures:
        return []
    work = _Work(found, measures, values)
    count = len(found.outcomes)
    value = np.full((len(measures), count), np.nan)
    by = np.full((len(measures), len(work.values), count), np.nan)
    outcomes = np.array([outcome or NOT_AGAIN for outcome in found.outcomes], object)
    for lanes, steps in _pieces(found, work.step):
        value[:, lanes], by[:, :, lanes], outcomes[lanes] = work.solve(steps, found.period[lanes])
    return [
        CycleSensitivities(
            measure,
            value[place],
            {given: by[place, row] for row, given in enumerate(work.values)},
            tuple(outcomes),
        )
        for place, measure in enumerate(measures)
    ]


def _pieces(found: Cycle, step: Step) -> Iterator[tuple[NDArray[np.intp], Recording]]:
    """Lanes and their steps, as many at a time as there is room for."""
    lanes: list[NDArray[np.intp]] = []
    some: list[Recording] = []
    for which, steps in found.recorded():
        if not which.size:
            continue
        lanes.append(which)
        some.append(steps)
        longest, many = max(len(s.taken) for s in some), sum(map(len, lanes))
        if longest * many * len(step.system.residuals) ** 2 > ROOM:
            yield np.concatenate(lanes), Recording.together(some)
            lanes, some = [], []
    if lanes:
        yield np.concatenate(lanes), Recording.together(some)


class _Work:
    """Expressions that all lanes share."""

    def __init__(
        self, found: Cycle, measures: Sequence[Measure], values: Sequence[Given] | None
    ) -> None:
        self.clocked = found.clocked
        self.step = Step(system_in_time(found.model.topology), (), ())
        self.measures = measures
        self.outputs = [_output(self.step, measure.output) for measure in measures]
        topology = found.model.topology
        self.values = _values(self.step, topology) if values is None else tuple(values)
        names = self.step.system.parameters
        for given in self.values:
            if (given.ref, given.name) not in names:
                raise NoSuchPort(unread(names, given))
        self.leaves = [names.index((given.ref, given.name)) for given in self.values]

    def solve(self, steps: Recording, period: Array) -> tuple[Array, Array, NDArray[np.object_]]:
        """Measures (measure, lane), derivatives (measure, value, lane), outcomes (lane)."""
        adjoint = Adjoint(self.step, steps)
        grows = _growing(self.step, steps, period)
        weights, seeds = self._seeds(adjoint, period)
        neutral, closed = _closed(adjoint, seeds, grows)
        notes = Notes(steps, closed)
        walk = adjoint.back(closed, notes)
        by, by_time = self._gathered(adjoint, notes, weights)
        repetition = Repetition(adjoint, period, grows)
        sound = repetition.by_clock
        if not self.clocked:
            # The start is a number of periods away from the instant nil.
            shift = by_time * (steps.start[0] / period) + walk.last.T
            by = by + shift[:, None] * repetition.follows(self.leaves)
            sound = repetition.by_outside
        value = np.array([each.value for each in weights])
        outcomes = np.where(neutral, NEUTRAL, np.where(sound, "", BESIDE)).astype(object)
        bad = outcomes != ""
        by[..., bad], value[:, bad] = np.nan, np.nan
        return value, by, outcomes

    def _seeds(self, adjoint: Adjoint, period: Array) -> tuple[list[Weights], Seeds]:
        """What the measures read of the steps."""
        steps = adjoint.steps
        weights, within = [], []
        for measure, output in zip(self.measures, self.outputs, strict=True):
            middle, end = (nodes.slopes([output]).spread(steps.taken) for nodes in adjoint.places)
            halfway, whole = (_row(nodes, output, steps.taken) for nodes in adjoint.places)
            slope = np.einsum("klr,krl->kl", end.x[:, :, 0], steps.slope) + end.time[..., 0]
            w = measure.weights(Seen(steps, halfway, whole, slope, period))
            first, second = w.middle[..., None], w.end[..., None]
            by_held = first * middle.held[:, :, 0] + second * end.held[:, :, 0]
            # Where a step shifts its nodes do; one whose start alone shifts is shorter.
            shift = np.where(
                steps.single,
                w.end * end.time[..., 0],
                (1.0 - GAMMA) * w.middle * middle.time[..., 0] - w.longer,
            )
            weights.append(w)
            by_x = (first * middle.x[:, :, 0], second * end.x[:, :, 0])
            within.append((*by_x, by_held, shift, w.delay))
        shape = (steps.taken.shape[1], len(weights))
        return weights, Seeds(
            np.zeros((*shape, len(self.step.stored))),
            np.zeros((*shape, len(self.step.holds))),
            np.array([w.whole for w in weights]).T,
            *(np.stack(part, axis=2) for part in zip(*within, strict=True)),
        )

    def _gathered(
        self, adjoint: Adjoint, notes: Notes, weights: Sequence[Weights]
    ) -> tuple[Array, Array]:
        """Slopes (measure, value, lane), and (measure, lane) by the time of all as a whole."""
        steps, events, system = adjoint.steps, adjoint.events, self.step.system
        leaves = [*self.leaves, *(i for i, n in enumerate(system.parameters) if n == TIME)]
        gatherer = _Gatherer(self.step, leaves)
        found = np.zeros((len(weights), len(leaves), steps.taken.shape[1]))
        for place, (output, w) in enumerate(zip(self.outputs, weights, strict=True)):
            for stage, own in enumerate((w.middle, w.end)):
                roots = [*system.residuals, *self.step.amounts, output]
                factors = [
                    notes.residuals[stage][:, :, place],
                    notes.amounts[stage][:, :, place],
                    own[..., None],
                ]
                found[place] += gatherer.sums(adjoint.places[stage], steps.taken, roots, factors)
            roots = [*events.guards, *events.changes]
            factors = events.factors(notes.guard[:, :, place], notes.changes[:, :, place])
            found[place] += gatherer.sums(events.nodes, events.at, roots, factors)
        by, by_time = np.split(found, [len(self.leaves)], axis=1)
        return by, by_time.sum(axis=1)


def _row(nodes: Nodes, output: Expression, taken: Mask) -> Array:
    """An output (step, lane) at places, nil where no step was taken."""
    found = np.zeros(taken.shape)
    found[taken] = nodes.values([output])[0]
    return found


class _Gatherer:
    """Sums over steps of slopes of expressions by values, each with a factor."""

    def __init__(self, step: Step, leaves: Sequence[int]) -> None:
        self.step = step
        self.leaves = leaves
        self.known: dict[tuple[int, ...], Mapping[tuple[str, int], Expression]] = {}

    def sums(
        self,
        nodes: Nodes,
        mask: Mask,
        roots: Sequence[Expression],
        factors: Sequence[Array],
    ) -> Array:
        """(leaf, lane); factors (step, lane, root) in pieces, nodes in the order of the mask."""
        slopes = self._slopes(roots)
        rows = np.concatenate([f[mask].T for f in factors])
        chosen = [
            (i, slopes["p", leaf]) for i, leaf in enumerate(self.leaves) if ("p", leaf) in slopes
        ]
        found = np.zeros((len(self.leaves), mask.shape[1]))
        values = nodes.values([e for _, e in chosen], rows)
        lane = np.nonzero(mask)[1]
        for (place, _), value in zip(chosen, values, strict=True):
            found[place] = np.bincount(lane, value, mask.shape[1])
        return found

    def _slopes(self, roots: Sequence[Expression]) -> Mapping[tuple[str, int], Expression]:
        """Slopes of the sum of all roots, times factors that are parameters behind all others."""
        key = tuple(root.id for root in roots)
        if key not in self.known:
            graph, first = self.step.graph, len(self.step.system.parameters)
            terms = (graph.parameter(first + i) * root for i, root in enumerate(roots))
            self.known[key] = partials(reduce(add, terms, graph.constant(0.0)))
        return self.known[key]


def _growing(step: Step, steps: Recording, period: Array) -> Array:
    """(lane, held): 1 where a held quantity is an instant and grows by the period, else nil."""
    names = [step.system.parameters.index(name) for name in step.holds]
    last = steps.taken.sum(axis=0) - 1
    rows = steps.parameters[:, names]
    grown = np.take_along_axis(rows, last[None, None], axis=0)[0] - rows[0]
    found: Array = (np.abs(grown - period) < ALIKE * period).T.astype(float)
    return found


def _closed(adjoint: Adjoint, measures: Seeds, grows: Array) -> tuple[Mask, Seeds]:
    """Lanes whose cycle is neutral, and seeds of measures that end where they begin."""
    stored = len(adjoint.step.stored)
    lanes, many = measures.whole.shape
    size = stored + grows.shape[1]
    unit = np.broadcast_to(np.eye(size), (lanes, size, size))
    # An instant counts from where the period begins.
    by_length = np.concatenate([np.zeros((lanes, stored)), -grows], axis=1)
    whole = replace(
        measures,
        stored=np.concatenate([measures.stored, unit[:, :, :stored]], axis=1),
        held=np.concatenate([measures.held, unit[:, :, stored:]], axis=1),
        whole=np.concatenate([measures.whole, by_length], axis=1),
    )
    walk = adjoint.back(whole)
    begun = np.concatenate([walk.stored, walk.held], axis=2)
    matrix = unit - begun[:, many:]
    # What no event of the period changes stays what it is.
    constant = ~matrix.any(axis=2)
    matrix = matrix + constant[:, :, None] * unit
    right = np.where(constant[:, None], 0.0, begun[:, :many])
    back = solved_each(matrix.swapaxes(1, 2), right.swapaxes(1, 2)).swapaxes(1, 2)
    neutral = ~np.isfinite(back).all(axis=(1, 2))
    back = np.where(neutral[:, None, None], 0.0, back)
    return neutral, replace(
        measures,
        stored=back[:, :, :stored],
        held=back[:, :, stored:],
        whole=measures.whole + np.einsum("lmr,lr->lm", back, by_length),
    )


def _values(step: Step, topology: Topology) -> tuple[Given, ...]:
    """All that parts are given and that their equations read."""
    return tuple(
        Given(ref, name)
        for ref, name in step.system.parameters
        if ref in topology.element and name not in topology.element[ref].device.holds
    )


def _output(step: Step, output: Output | None) -> Expression:
    """An output as an expression; nil for what is nothing of the circuit's."""
    system, graph = step.system, step.graph
    topology = system.topology
    if output is None:
        return graph.constant(0.0)
    if isinstance(output, Potential):
        return _potential(step, output.plus) - _potential(step, output.minus)
    name = (output.ref, output.name)
    if name in topology.index:
        return graph.unknown(topology.index[name])
    if name in step.holds:
        return step.held(name)
    if name not in system.observed:
        raise NoSuchPort(unobserved([*topology.index, *step.holds, *system.observed], output))
    return system.observed[name]


def _potential(step: Step, net: str) -> Expression:
    topology = step.system.topology
    if net == topology.ground:
        return step.graph.constant(0.0)
    if (net, "") not in topology.index:
        raise NoSuchPort(not_a_net(topology, net))
    return step.graph.unknown(topology.index[net, ""])
