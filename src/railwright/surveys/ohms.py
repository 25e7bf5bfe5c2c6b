"""What an ohmmeter of a low test voltage reads on a supply that nothing feeds.

Below some 0.2 V no junction conducts: what is left are resistors, tracks, windings and contacts.
What the circuits on the board lead without their supply is not published: each of their pins has a
resistance to their ground of which only the order is known, much for one that senses, anything for
one that carries current (common practice, no source).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Circuit, Part, is_thermal
from railwright.devices.ohmic import OHMIC_PINS
from railwright.engine.assembly import SYSTEM, bridge_name
from railwright.engine.model import Name
from railwright.surveys.crossbar import NOWHERE
from railwright.surveys.fault_modes import Change
from railwright.surveys.stages import LED

Array = NDArray[np.float64]
MOST = 10e6
"""Ω; more is over the range of the meter, and counts as this."""
SENSING, CARRYING = (1e6, 1e8), (3e3, 1e7)
"""Ω from a pin that senses, and from one that carries current, to the ground of its circuit."""
LEFT = 1e-10
"""S to the common net, so that what is joined by nothing has a potential."""
STOP = 0.5
"""Where a knob stands."""
Link = tuple[str, str, Array]
"""Two nets, and the conductance between them (sample)."""


class Ohms:
    """Resistances between nets of a circuit, over samples of its parts."""

    def __init__(
        self, circuit: Circuit, values: Mapping[Name, Array | float], samples: int, seed: int
    ) -> None:
        """values: actual ones, as lanes have them (sample)."""
        self.circuit, self.values, self.samples = circuit, values, samples
        self.nets = list(circuit.nets)
        self.index = {net: i for i, net in enumerate(self.nets)}
        rng = np.random.default_rng([seed, 3])
        self.leaks = {
            (part.ref, pin): np.exp(rng.uniform(*_leak(part, pin), samples))
            for part in circuit.parts
            for pin in _pins(part)
            if len(_pins(part)) > 1 and not _passive(part)
        }
        conductance: Array = np.zeros((samples, len(self.nets), len(self.nets)))
        for part in circuit.parts:
            for one, other, siemens in self._links(part, {}):
                self._add(conductance, one, other, siemens)
        conductance[:] += LEFT * np.eye(len(self.nets))
        self.sound = np.asarray(np.linalg.inv(conductance), float)

    def read(
        self, changes: Sequence[Change], moves: Mapping[tuple[str, str], str], pairs: Sequence[Name]
    ) -> Array:
        """Resistances between pairs of nets with changes, and pins moved (pair, sample) [Ω]."""
        found: Array = self.sound
        for one, other, siemens in self._difference(changes, moves):
            found = np.asarray(self._with(found, one, other, siemens), float)
        ends = np.array([(self.index[a], self.index[b]) for a, b in pairs]).reshape(-1, 2).T
        a, b = ends
        ohms = found[:, a, a] + found[:, b, b] - found[:, a, b] - found[:, b, a]
        return np.asarray(np.clip(ohms.T, 0.0, MOST), float)

    def alone(self, ref: str, changes: Sequence[Change]) -> Array:
        """Resistance of a part of two pins, a lead lifted, with its own changes (sample) [Ω]."""
        part = self.circuit.part(ref)
        siemens: Array = np.full(self.samples, LEFT)
        for _, _, own in self._inside(part, {c.name: c for c in changes}):
            siemens = siemens + own
        across = {bridge_name(*ends) for ends in itertools.permutations(_nets(part), 2)}
        for change in changes:
            if change.name in across:
                siemens = siemens + change.offset
        return np.asarray(np.clip(1.0 / siemens, 0.0, MOST), float)

    def _difference(
        self, changes: Sequence[Change], moves: Mapping[tuple[str, str], str]
    ) -> Iterator[Link]:
        """What changes add to the conductances of the sound circuit."""
        touched = dict.fromkeys(ref for ref, _ in moves)
        touched |= dict.fromkeys(c.name[0] for c in changes if c.name[0] != SYSTEM)
        for change in changes:
            if change.name[0] == SYSTEM and change.name[1].startswith("bridge "):
                one, _, other = change.name[1].removeprefix("bridge ").partition(" - ")
                yield one, other, np.full(self.samples, change.offset)
        own = {c.name: c for c in changes}
        known = {part.ref: part for part in self.circuit.parts}
        for ref in touched:
            if ref in known:
                part = known[ref]
                for one, other, siemens in self._links(part, {}):
                    yield one, other, -siemens
                joined = {pin: moves.get((ref, pin), net) for pin, net in part.pins.items()}
                yield from self._links(part, own, joined)

    def _links(
        self,
        part: Part,
        changes: Mapping[Name, Change],
        pins: Mapping[str, str] | None = None,
    ) -> Iterator[Link]:
        """What a part leads without power."""
        pins = part.pins if pins is None else pins
        for one, other, siemens in self._inside(part, changes):
            a, b = pins.get(one, NOWHERE), pins.get(other, NOWHERE)
            if NOWHERE not in (a, b) and a != b:
                yield a, b, siemens

    def _inside(self, part: Part, changes: Mapping[Name, Change]) -> Iterator[Link]:
        """The same between its pins."""
        if part.kind == "potentiometer":
            track = self._value(part, "resistance", changes)
            yield "one", "wiper", 1.0 / (STOP * track)
            yield "wiper", "two", 1.0 / ((1.0 - STOP) * track)
        elif {*_pins(part)} >= OHMIC_PINS.keys() and "resistance" in part.values:
            yield "one", "two", 1.0 / self._value(part, "resistance", changes)
        elif len(_pins(part)) > 1 and not _passive(part):
            names = _pins(part)
            ground = next((p for p in names if part.device.pins[p].role == "ground"), names[-1])
            for pin in names:
                if pin != ground:
                    yield pin, ground, 1.0 / self.leaks[part.ref, pin]

    def _value(self, part: Part, name: str, changes: Mapping[Name, Change]) -> Array:
        own = self.values.get((part.ref, name), part.values[name].spread.typical)
        row = np.broadcast_to(np.asarray(own, float), (self.samples,))
        change = changes.get((part.ref, name))
        return np.asarray(row if change is None else change.of(row), float)

    def _add(self, matrix: Array, one: str, other: str, siemens: Array) -> None:
        a, b = self.index[one], self.index[other]
        matrix[:, a, a] += siemens
        matrix[:, b, b] += siemens
        matrix[:, a, b] -= siemens
        matrix[:, b, a] -= siemens

    def _with(self, inverse: Array, one: str, other: str, siemens: Array) -> Array:
        """The inverse with one conductance more (Sherman and Morrison, 1950)."""
        a, b = self.index[one], self.index[other]
        column = inverse[:, :, a] - inverse[:, :, b]
        across = column[:, a] - column[:, b]
        share = siemens / (1.0 + siemens * across)
        return inverse - share[:, None, None] * column[:, :, None] * column[:, None, :]


def pairs_of(circuit: Circuit, black: str) -> list[tuple[str, str]]:
    """Where to put an ohmmeter: across parts of two pins, and from every net to the common one."""
    found: dict[frozenset[str], tuple[str, str]] = {}
    for net in circuit.nets:
        if net != black:
            found[frozenset((net, black))] = net, black
    for part in circuit.parts:
        if len(_pins(part)) == 2:
            for one, other in itertools.combinations(_nets(part), 2):
                found.setdefault(frozenset((one, other)), (one, other))
    return list(found.values())


def parts_alone(circuit: Circuit) -> list[tuple[str, str, str]]:
    """Parts that can be measured with a lead lifted, those of two pins: (ref, red, black)."""
    across = [(part.ref, _nets(part)) for part in circuit.parts if len(_pins(part)) == 2]
    return [(ref, nets[0], nets[1]) for ref, nets in across if len(nets) == 2]


def _nets(part: Part) -> list[str]:
    return list(dict.fromkeys(part.pins[pin] for pin in _pins(part)))


def _pins(part: Part) -> list[str]:
    return [pin for pin in part.pins if not is_thermal(part.device, pin)]


def _passive(part: Part) -> bool:
    """Whether it leads as its values say, or not at all."""
    return {*_pins(part)} >= OHMIC_PINS.keys() or part.kind in ("potentiometer", "capacitor")


def _leak(part: Part, pin: str) -> tuple[float, float]:
    """Natural logarithms of the least and the greatest resistance of a pin to its ground."""
    junction = len(_pins(part)) == 2
    least, most = SENSING if junction or part.device.pins[pin].role in LED else CARRYING
    return math.log(least), math.log(most)
