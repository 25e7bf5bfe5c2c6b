"""Operating points of circuits that differ in where single pins are joined, side by side.

Which pins share a net shapes the compiled equations, and to compile anew for each of hundreds of
rewired circuits would take minutes. Here the parts are looked at apart, each pin a node of its own,
and every lane joins these nodes in its own way. On plain numpy, solved densely with row exchanges:
slow for one circuit, quick for hundreds that are tried once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import AMBIENT
from railwright.engine.expression import Expression, operands
from railwright.engine.ladders import GAIN_LADDER, TRUE, Rung, on_rung
from railwright.engine.model import ROOM, Lanes, Model, Name, chosen
from railwright.engine.reference import dense_step, iterated
from railwright.engine.solutions import OperatingPoints
from railwright.engine.system import System, trace
from railwright.engine.topology import AIR, Aim, Topology

Array = NDArray[np.float64]
Places = NDArray[np.intp]
Values = Mapping[int, Any]
"""By the id of an operation: one for all lanes, or one for each (lane)."""
Moves = Mapping[tuple[str, str], str]
"""(ref, pin) -> the net that a pin is joined to in the place of its own."""

IMBALANCE = 1e-5
"""Largest residual that a solution may leave, as a share of the terms it is the sum of."""
NEAR_ITERATIONS, STAGE_ITERATIONS = 40, 30
GROUND, GIVEN = -2, -1
"""Places of nodes that no unknown stands for: the reference, and the air."""


@dataclass(frozen=True)
class _Wanted:
    """Operations to go through, in order, and those among them that are wanted."""

    order: Sequence[int]
    roots: Sequence[int]


class Patchboard:
    """The parts of a model, which lanes join in ways of their own."""

    def __init__(self, model: Model) -> None:
        self.model = model

    def operating_points(
        self, moves: Sequence[Moves], lanes: Lanes, start: OperatingPoints | None = None
    ) -> OperatingPoints:
        """Operating points of lanes, one for each of `moves`; one that is empty moves nothing.

        lanes: as of `operating_point`. start: solutions to begin from. One for all is only a
        guess, which lanes may leave for a cold start; of one for each, those that are not solved
        are given up. Raises ValueError for a pin that the circuit does not have.
        """
        work = _Lanes(self, self._places(moves), lanes)
        if start is None or start.count < len(moves):
            if start is not None:
                work.climb([TRUE], np.repeat(start.last, len(moves), axis=0).T, NEAR_ITERATIONS)
            work.climb(GAIN_LADDER, work.cold, STAGE_ITERATIONS)
        else:
            work.climb([TRUE], start.last.T, NEAR_ITERATIONS, start.solved)
        return work.found()

    @cached_property
    def apart(self) -> Model:
        """The same parts, each pin on a net of its own."""
        base = self.model.topology
        elements = tuple(
            replace(e, pins={pin: _node(e.ref, pin) for pin in e.pins}) for e in base.elements
        )
        aims = tuple(self._between_pins(aim) for aim in base.aims)
        topology = Topology(elements, "", aims, base.crossings, base.isothermal)
        return Model(topology, self.model.nominal)

    @cached_property
    def system(self) -> System:
        """The equations of the parts apart."""
        return trace(self.apart.topology)

    @cached_property
    def read(self) -> Sequence[tuple[int, Name]]:
        """Numbers and names of the parameters that the equations depend on."""
        nodes = self.system.graph.nodes
        numbers = sorted({nodes[n][1] for n in self.resting if nodes[n][0] == "p"})
        return [(number, self.system.parameters[number]) for number in numbers]

    @cached_property
    def resting(self) -> Sequence[int]:
        """Operations that stand on no unknown."""
        graph, restless = self.system.graph, set[int]()
        needed = graph.needed([*self._stepping, *self._balancing, *self._observing])
        for number in needed:
            below = operands(graph.nodes[number])
            if graph.nodes[number][0] == "x" or not restless.isdisjoint(below):
                restless.add(number)
        return [number for number in needed if number not in restless]

    @cached_property
    def stepping(self) -> _Wanted:
        """Residuals and slopes."""
        return self._wanted(self._stepping)

    @cached_property
    def balancing(self) -> _Wanted:
        """Residuals and the magnitudes of what they are sums of."""
        return self._wanted(self._balancing)

    @cached_property
    def observing(self) -> _Wanted:
        """Observables."""
        return self._wanted(self._observing)

    @property
    def _stepping(self) -> Sequence[Expression]:
        return [*self.system.residuals, *self.system.slopes.values()]

    @property
    def _balancing(self) -> Sequence[Expression]:
        return [*self.system.residuals, *self.system.magnitudes]

    @property
    def _observing(self) -> Sequence[Expression]:
        return list(self.system.observed.values())

    def _wanted(self, roots: Sequence[Expression]) -> _Wanted:
        order = self.system.graph.needed(roots, set(self.resting))
        return _Wanted(order, [root.id for root in roots])

    def _between_pins(self, aim: Aim) -> Aim:
        """Aims at a voltage between two pins of the surroundings, which nobody moves."""
        plus, minus = (next(self._on(net)) for net in (aim.plus, aim.minus))
        return replace(aim, plus=plus, minus=minus)

    def _on(self, net: str) -> Iterator[str]:
        for element in reversed(self.model.topology.elements):
            yield from (_node(element.ref, pin) for pin, own in element.pins.items() if own == net)

    def _places(self, moves: Sequence[Moves]) -> Places:
        """The unknown of the model that each one of the parts apart is (lane, row)."""
        base, apart = self.model.topology, self.apart.topology
        pins = {_node(e.ref, pin): net for e in base.elements for pin, net in e.pins.items()}
        same = [
            self._place(pins[u.owner]) if u.owner in pins else base.index[u.owner, u.name]
            for u in apart.unknowns
        ]
        places = np.tile(np.array(same, np.intp), (len(moves), 1))
        for lane, moved in enumerate(moves):
            for (ref, pin), net in moved.items():
                row = apart.index.get((_node(ref, pin), ""))
                if row is None:
                    raise ValueError(f"{ref} has no pin {pin} on a net: it cannot be moved")
                places[lane, row] = self._place(net)
        return places

    def _place(self, net: str) -> int:
        if net == self.model.topology.ground:
            return GROUND
        return GIVEN if net == AIR else self.model.topology.index[net, ""]


def _node(ref: str, pin: str) -> str:
    """Net of a pin by itself."""
    return f"{ref}.{pin}"


class _Lanes:
    """Lanes on their way to their solutions."""

    def __init__(self, board: Patchboard, places: Places, lanes: Lanes) -> None:
        self.board, self.places, self.lanes = board, places, lanes
        self.count = len(places)
        self.size = len(board.model.topology.unknowns)
        self.air = np.broadcast_to(lanes.get(AMBIENT, ROOM), self.count)
        self.cold = board.model.cold_start(self.count, self.air)
        self.x = self.cold.copy()
        self.solved = np.zeros(self.count, bool)

    def climb(
        self,
        ladder: Sequence[Rung],
        start: Array,
        iterations: int,
        among: NDArray[np.bool_] | bool = True,
    ) -> None:
        """Walk open lanes from an easy circuit to the true one."""
        which = np.flatnonzero(~self.solved & among)
        if not which.size:
            return
        x = start[:, which]
        for rung in ladder:
            still = self._still(which, rung)

            def whole(x: Array, active: Places, still: Values = still) -> Array:
                return self._step(x, which[active], _of(still, active))

            x, solved = iterated(self.board.model.topology, x, whole, iterations)
        self.x[:, which] = x
        self.solved[which] = solved & self._balanced(x, which, still)

    def found(self) -> OperatingPoints:
        """Lanes as far as they were solved."""
        everything = np.arange(self.count)
        observed = self.board.system.observed
        still = self._still(everything, TRUE)
        seen = self._values(self.board.observing, self.x, everything, still)
        return OperatingPoints.stated(
            self.board.model, list(observed), self.x.T, np.array(seen).T, self.solved
        )

    def _still(self, which: Places, rung: Rung) -> Values:
        """What stands on parameters alone: one number where it is alike in all lanes."""
        lanes = on_rung(self.board.apart, chosen(self.lanes, which), rung)
        names = [name for _, name in self.board.read]
        values = self.board.apart.parameters(names, lanes)
        p: list[Array | float] = [np.nan] * len(self.board.system.parameters)
        for number, name in self.board.read:
            value = np.asarray(values[name])
            p[number] = float(value.flat[0]) if np.ptp(value) == 0.0 else value
        return self.board.system.graph.values(self.board.resting, np.empty((0, 0)), p)

    def _values(self, wanted: _Wanted, x: Array, which: Places, still: Values) -> list[Array]:
        """Values of expressions (lane), at unknowns (row, lane)."""
        whole = np.vstack([x, np.zeros(which.size), self.air[which]])
        apart = np.take_along_axis(whole, self.places[which].T, axis=0)
        found = self.board.system.graph.values(wanted.order, apart, (), still)
        return [np.broadcast_to(found[number], which.size) for number in wanted.roots]

    def _step(self, x: Array, which: Places, still: Values) -> Array:
        system, lanes, places = self.board.system, np.arange(which.size), self.places[which].T
        found = self._values(self.board.stepping, x, which, still)
        values = np.zeros((which.size, self.size + 2))
        slopes = np.zeros((which.size, self.size + 2, self.size + 2))
        rows = len(system.residuals)
        for place, value in zip(places, found[:rows], strict=True):
            values[lanes, place] += value
        for (row, column), slope in zip(system.slopes, found[rows:], strict=True):
            slopes[lanes, places[row], places[column]] += slope
        return dense_step(slopes[:, :-2, :-2], values[:, :-2].T)

    def _balanced(self, x: Array, which: Places, still: Values) -> NDArray[np.bool_]:
        """Lanes whose flows balance."""
        lanes, places = np.arange(which.size), self.places[which].T
        found = self._values(self.board.balancing, x, which, still)
        rows = len(self.board.system.residuals)
        left, most = np.zeros((2, which.size, self.size + 2))
        for place, value, size in zip(places, found[:rows], found[rows:], strict=True):
            left[lanes, place] += value
            most[lanes, place] += size
        return np.asarray((np.abs(left) <= IMBALANCE * most)[:, :-2].all(axis=1))


def _of(values: Values, which: Places) -> Values:
    """Those of chosen lanes."""
    return {n: v[which] if np.ndim(v) else v for n, v in values.items()}
