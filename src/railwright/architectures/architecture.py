"""A kind of supply: given a need, it returns sized circuits or the reason why it cannot serve.

An architecture is a class in a file of this folder and is asked by existing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from railwright.catalogue.entry import Entry
from railwright.circuit.need import Need, Terminals
from railwright.circuit.writer import NewTable
from railwright.devices import kinds
from railwright.devices.derated import hottest, usable
from railwright.standards.policy import Policy

JUNCTION = "junction_limit"


@dataclass(frozen=True)
class Task:
    """A need with its nets named, and what it may be served with."""

    need: Need
    catalogue: Mapping[str, Entry]
    derating: Policy
    side: str = ""
    """Of several rails, for which one inner nets are named; empty where there is one."""
    ahead: float = 0.0
    """V that a guard takes between what feeds the last regulator and that."""
    between: float = 0.0
    """V that guards take at most between the reservoir behind a transformer and what it feeds."""

    @property
    def fed(self) -> Terminals:
        """Nets of the input."""
        assert self.need.input.nets is not None  # propose names those that the need does not
        return self.need.input.nets

    def terminals(self, rail: str) -> Terminals:
        """Nets of an output."""
        output = self.need.rail(rail)
        assert output is not None
        assert output.nets is not None
        return output.nets

    def inner(self, name: str) -> str:
        """A name for a net inside the circuit: this one, or one like it where the need has it."""
        name = f"{name}_{self.side}" if self.side else name
        named = [self.need.input.nets, *(output.nets for output in self.need.output)]
        taken = {net for nets in named if nets is not None for net in (nets.plus, nets.minus)}
        return f"{name}_INSIDE" if name in taken else name

    @property
    def kept(self) -> float:
        """What may be used of a limit, so that the wanted reserve is left; up to 1."""
        return 1.0 - self.need.parts.reserve

    def share(self, entry: Entry, rating: str, unlisted: float = 1.0) -> float:
        """Share of a part's rating that may be used: the policy's, with the wanted reserve left.

        At the less favourable end of the ambient. unlisted: the most of a rating that is used where
        the policy has no row for it.
        """
        device, ambient = kinds()[entry.kind], self.need.surroundings.ambient
        rated, ends = entry.values[rating].spread.high, (ambient.min, ambient.max)
        found = usable(self.derating, device, entry.options, rating, rated, ends)
        return min(self.kept, unlisted) if found is None else self.kept * float(found.min())

    def bears(self, entry: Entry, rating: str, unlisted: float = 1.0) -> float:
        """What a part may see of what a rating bounds, in the rating's unit; see `share`."""
        return self.share(entry, rating, unlisted) * entry.values[rating].spread.high

    def hottest(self, entry: Entry) -> float:
        """Junction of a part to size for: what it and the policy allow, less the reserve [K]."""
        limit, device = entry.values[JUNCTION].spread.high, kinds()[entry.kind]
        allowed = hottest(self.derating, device, entry.options, JUNCTION, limit)
        return allowed - self.need.parts.junction_reserve


@dataclass(frozen=True)
class Rectified:
    """The reservoir that a transformer charges, for what is put behind it."""

    net: str
    """Upper net."""
    ground: str
    """Lower net."""
    low: float
    """V, least in the valley at full load."""
    high: float
    """V, most without a load."""
    crest: float
    """V of the rectified sine at the lowest mains, drops of the diodes taken off."""
    impedance: float
    """Ω of winding and source behind that, most, leakage included."""
    resistance: float
    """Ω of winding and source, least."""


@dataclass(frozen=True)
class Sketch:
    """A circuit for a need, in the words of the design file."""

    parts: tuple[NewTable, ...]
    """One table for each part, with the reason for it under `why`."""
    controls: tuple[NewTable, ...] = ()
    turned_up: Mapping[str, float] = field(default_factory=dict)
    """Rails with a knob -> the most that it gives at its upper end, every part at its limit [V]."""
    fed: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Rails of one linear regulator -> what feeds that, and all beside it: least, most [V]."""
    rectified: tuple[Rectified, ...] = ()
    """What stands behind a transformer: one, or one above a middle and one below it."""


@dataclass(frozen=True)
class Refusal:
    """Why an architecture cannot serve a need: what binds, in a sentence with numbers."""

    reason: str


Offer = tuple[Sketch, ...] | Refusal
"""Sketches in the order in which they are to be tried: the sized one, then the next larger."""


class Unserved(Exception):
    """Something of a need that a circuit, or a part in it, cannot serve.

    reached: how far it came, in demands that were met; the reason that came furthest is told.
    """

    def __init__(self, reason: str, reached: float = 0.0) -> None:
        super().__init__(reason)
        self.reason, self.reached = reason, reached


class Architecture:
    """One kind of supply."""

    name: ClassVar[str] = ""
    """What a builder calls it; empty for what only others build on."""
    gives_up: ClassVar[str] = ""
    """What one has to do without, compared with the other kinds."""

    def offer(self, task: Task) -> Offer:
        """Sized sketches, or the binding reason why there is none."""
        try:
            return tuple(self.sketches(task))
        except Unserved as unserved:
            return Refusal(unserved.reason)

    def sketches(self, task: Task) -> Sequence[Sketch]:
        """Sized sketches, at least one; Unserved with the reason that came furthest where none is.

        Every value can be bought, and is sized from limits: lowest input, highest ambient, full
        load, the unfavourable end of every part's spread.
        """
        raise NotImplementedError(type(self).__name__)
