"""Many circuits under one survey: the same parts, of which one is joined otherwise in each.

Any situation at rest can be put to them: a lane's circuit is one more coordinate of its point.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Circuit, Part
from railwright.engine.model import Lanes
from railwright.engine.operating_point import Reach
from railwright.engine.patchboard import Moves, Patchboard
from railwright.engine.solutions import OperatingPoints
from railwright.surveys.faults import CODED
from railwright.surveys.operating_range import Points
from railwright.surveys.survey import CIRCUIT, Survey

Which = NDArray[np.intp]


@dataclass(frozen=True)
class Rewiring:
    """One part of a circuit joined otherwise."""

    ref: str
    moves: Moves
    words: str
    """What is otherwise, to go between "with" and "instead"."""


def rewirings(circuit: Circuit) -> list[Rewiring]:
    """Every part with two pins exchanged, and every pin on every other net.

    Only where a direct current is carried otherwise then, and no part bridges a net to itself.
    """
    nets, found = _electrical(circuit), list[Rewiring]()
    for part in circuit.parts:
        if part.kind != "capacitor":
            found += _exchanged(part)
            found += _moved(part, nets)
    return found


def moves_of(circuit: Circuit, kinds: Collection[str]) -> list[Rewiring]:
    """Every pin of every part of these kinds on every other net."""
    nets = _electrical(circuit)
    return [each for p in circuit.parts if p.kind in kinds for each in _moved(p, nets)]


def bridged(part: Part) -> Rewiring:
    """A part of two pins with both on one net, which is as good as none."""
    (pin, net), (_, other) = part.pins.items()
    return Rewiring(part.ref, {(part.ref, pin): other}, f"{part.ref} away from {net}")


def with_moves(circuit: Circuit, rewiring: Rewiring) -> Circuit:
    """The circuit with one part joined otherwise."""
    old = circuit.part(rewiring.ref)
    pins = {pin: rewiring.moves.get((old.ref, pin), net) for pin, net in old.pins.items()}
    return circuit.replaced(replace(old, pins=pins))


def _electrical(circuit: Circuit) -> list[str]:
    return [net for net in circuit.nets if net not in circuit.thermal_nets]


def _joined(part: Part) -> dict[str, str]:
    """Electrical pins of a part that are on a net."""
    roles = part.device.pins
    return {pin: net for pin, net in part.pins.items() if roles[pin].role != "thermal"}


def _exchanged(part: Part) -> Iterator[Rewiring]:
    if part.kind in CODED and len(_joined(part)) == 2:
        return  # it works either way round
    for (one, a), (other, b) in itertools.combinations(_joined(part).items(), 2):
        if a != b:
            moves = {(part.ref, one): b, (part.ref, other): a}
            yield Rewiring(part.ref, moves, f"{one} and {other} of {part.ref} exchanged")


def _moved(part: Part, nets: Sequence[str]) -> Iterator[Rewiring]:
    own = _joined(part)
    for pin, net in own.items():
        for other in nets:
            if other not in own.values():
                words = f"{pin} of {part.ref} on {other} instead of {net}"
                yield Rewiring(part.ref, {(part.ref, pin): other}, words)


@dataclass
class RewiredSurvey(Survey):
    """A survey whose points tell by `Points.circuit` which of several circuits they are of."""

    circuits: Sequence[Rewiring] = ()
    board: Patchboard | None = None

    @classmethod
    def of(cls, survey: Survey, circuits: Sequence[Rewiring]) -> RewiredSurvey:
        """What is known of the circuit as it is, states and directions, is taken for all."""
        known = {each.name: getattr(survey, each.name) for each in fields(Survey)}
        return cls(**known, circuits=circuits, board=Patchboard(survey.model))

    def engine(
        self,
        lanes: Lanes,
        count: int,
        start: OperatingPoints | None = None,
        reach: Reach = "all",
    ) -> OperatingPoints:
        """Operating points, each in its own circuit; of the circuit as it is where none is said."""
        if CIRCUIT not in lanes:
            return super().engine(lanes, count, start, reach)
        assert self.board is not None
        self.effort.add(count)
        which = np.broadcast_to(lanes[CIRCUIT], count).astype(np.intp)
        moves = [self.circuits[number].moves for number in which]
        return self.board.operating_points(moves, lanes, start)


def at_every(points: Points, circuits: Sequence[int]) -> Points:
    """Every point in every circuit, the points of one circuit after the other."""
    everywhere = points.take(np.tile(np.arange(points.count), len(circuits)))
    return replace(everywhere, circuit=np.repeat(np.array(circuits, float), points.count))
