"""Pins joined otherwise, or not at all, as lanes on one compiled circuit.

Every pin that some lane moves is a node of its own. Wires lead from there to its net, and to every
other that a lane joins it to: of them one is there, and in its place a lane has another, or none.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.devices import kinds
from railwright.engine.faults import OPEN
from railwright.engine.model import Model, Name
from railwright.engine.patchboard import Moves
from railwright.engine.solutions import OperatingPoints
from railwright.engine.topology import Element
from railwright.surveys.fault_modes import Change
from railwright.surveys.stages import LED

NOWHERE = ""
"""Where a pin is moved that is joined to nothing."""
THICK, THIN = 1e-3, 0.1
"""Ω of a wire at a pin that carries current, and at one that only senses: as much as does no harm,
for a node that leads next to nothing is lost in rounding beside a wire that leads well."""
MIXED = 0.1
"""Share of the wires that are otherwise where some are at random."""
Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Wire:
    """From a pin to a net, its own or another."""

    ref: str
    pin: tuple[str, str]
    net: str
    ohms: float
    home: bool


class Crossbar:
    """A model whose pins can be joined otherwise."""

    def __init__(self, base: Model, several: Iterable[Moves]) -> None:
        """several: all moves that lanes will ask for."""
        self.base = base
        ways: dict[tuple[str, str], dict[str, None]] = {}
        for moves in several:
            for pin, net in moves.items():
                ways.setdefault(pin, {})[net] = None
        self.wires = list(_wires(base, ways))
        wire = kinds()["wire"]
        own = [
            replace(e, pins={p: _node(e.ref, p, n, ways) for p, n in e.pins.items()})
            for e in base.topology.elements
        ]
        more = [
            Element(w.ref, wire, {"one": _own(*w.pin), "two": w.net}, {}, {}) for w in self.wires
        ]
        topology = replace(base.topology, elements=(*own, *more))
        ohms = {(w.ref, "resistance"): w.ohms if w.home else OPEN for w in self.wires}
        self.model = Model(topology, {**base.nominal, **ohms})

    def changes(self, moves: Moves) -> tuple[Change, ...]:
        """What moves are in lanes of the model."""
        return tuple(
            Change((w.ref, "resistance"), 0.0, w.ohms if moves[w.pin] == w.net else OPEN)
            for w in self.wires
            if w.pin in moves and (w.home or moves[w.pin] == w.net)
        )

    def mixed(self, count: int) -> dict[Name, Array]:
        """Lanes in which some pins are moved at random: for an order of elimination that holds
        whatever is moved."""
        rng = np.random.default_rng(1)
        away = rng.random((len(self.wires), count)) < MIXED
        return {
            (w.ref, "resistance"): np.where(row == w.home, OPEN, w.ohms)
            for w, row in zip(self.wires, away, strict=True)
        }

    def begun(self, at: OperatingPoints) -> OperatingPoints:
        """Solutions of the base as a start for the model, in which nothing is moved."""
        index = self.base.topology.index
        homes = {_own(*w.pin): w.net for w in self.wires if w.home}
        x, last = np.zeros((at.count, len(self.model.topology.unknowns))), at.last
        for row, unknown in enumerate(self.model.topology.unknowns):
            key = (homes.get(unknown.owner, unknown.owner), unknown.name)
            if key in index:
                x[:, row] = last[:, index[key]]
        nothing = np.zeros((at.count, 1))
        return OperatingPoints.stated(self.model, (), x, nothing, at.solved)


def _wires(base: Model, ways: Mapping[tuple[str, str], Iterable[str]]) -> Iterator[_Wire]:
    for (ref, pin), others in ways.items():
        element = base.topology.element[ref]
        ohms = THIN if element.device.pins[pin].role in LED else THICK
        own = element.pins[pin]
        yield _Wire(f"{_own(ref, pin)} to {own}", (ref, pin), own, ohms, True)
        for net in others:
            if net not in (NOWHERE, own):
                yield _Wire(f"{_own(ref, pin)} to {net}", (ref, pin), net, ohms, False)


def _own(ref: str, pin: str) -> str:
    """Node of a pin by itself."""
    return f"{ref}.{pin}"


def _node(ref: str, pin: str, net: str, ways: Mapping[tuple[str, str], object]) -> str:
    return _own(ref, pin) if (ref, pin) in ways else net
