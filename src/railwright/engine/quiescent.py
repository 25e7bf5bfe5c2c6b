"""From operating points to where dynamic analyses begin: the one place for this mapping.

Self-heating is far slower than what responses, transients and cycles look at. They run where
temperatures are held (`Topology.isothermal`) and where every input is given, also those that
the operating points were solved for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import SYSTEM, temperature_name
from railwright.engine.model import Lanes, Model, Name, chosen
from railwright.engine.solutions import OperatingPoints
from railwright.engine.topology import Aim, Crossing, Topology

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Quiescent:
    """A circuit at rest, temperatures held: what a dynamic analysis begins from."""

    model: Model
    lanes: Lanes
    """Values, inputs and temperatures that differ from the model's nominal ones."""
    x: Array
    """Unknowns (row, lane); not-a-number in unsolved lanes."""
    solved: Mask

    @property
    def count(self) -> int:
        """Number of lanes."""
        return self.solved.size

    def take(self, which: NDArray[np.intp]) -> Quiescent:
        """Chosen lanes, repeated where asked for."""
        lanes = chosen(self.lanes, which)
        return replace(self, lanes=lanes, x=self.x[:, which], solved=self.solved[which])

    def parameters(self, wanted: Sequence[Name]) -> Array:
        """Parameters (row, lane), in the order in which they are wanted."""
        found = self.model.parameters(wanted, self.lanes)
        rows = [np.broadcast_to(found[name], (self.count,)) for name in wanted]
        return np.array(rows, float).reshape(len(wanted), self.count)


def as_solved(points: OperatingPoints) -> Quiescent:
    """The very equations that the operating points solve: warming up, inputs solved for.

    For sensitivities of operating points; nothing dynamic.
    """
    return Quiescent(points.model, points.inputs, points.unknowns, points.solved)


def quiescent(points: OperatingPoints, switched: bool = False) -> Quiescent:
    """The isothermal model of operating points, with its parameters and unknowns over lanes.

    switched: state switching parts cycle by cycle. Unknowns that only those have begin at their
    start.
    """
    topology = points.model.topology
    held = replace(topology, isothermal=True, switched=switched, aims=(), crossings=())
    lanes = dict(points.inputs)
    for solved in topology.solvable:
        lanes |= _as_given(lanes, solved, points)
    lanes |= _temperatures(points, held)
    return Quiescent(
        Model(held, points.model.nominal), lanes, _unknowns(points, held), points.solved
    )


def _as_given(
    lanes: dict[Name, Array | float], solved: Aim | Crossing, points: OperatingPoints
) -> dict[Name, Array | float]:
    """The input that was solved for, as an input; what steered its solution is dropped."""
    steering = f" {solved.ref}.{solved.input}"
    for name in [n for n in lanes if n[0] == SYSTEM and _steers(n[1], steering)]:
        del lanes[name]
    return {(solved.ref, solved.input): points.solution_of(solved.ref, solved.input)}


def _steers(name: str, steering: str) -> bool:
    return name.endswith(steering) or name.startswith(f"weight{steering} ")


def _temperatures(points: OperatingPoints, held: Topology) -> dict[Name, Array | float]:
    rows = points.unknowns
    return {
        temperature_name(unknown.label): rows[row]
        for row, unknown in enumerate(points.model.topology.unknowns)
        if unknown.unit == "K" and (unknown.owner, unknown.name) not in held.index
    }


def _unknowns(points: OperatingPoints, held: Topology) -> Array:
    known, rows = points.model.topology.index, points.unknowns
    lanes = np.where(points.solved, 0.0, np.nan)
    return np.array(
        [
            rows[known[u.owner, u.name]] if (u.owner, u.name) in known else u.start + lanes
            for u in held.unknowns
        ]
    ).reshape(len(held.unknowns), points.count)
