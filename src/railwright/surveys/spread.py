"""The spread of the parts: which independent quantities vary, and between which limits.

A tolerance is one quantity per value. Its drift with temperature is another, since a part's
coefficient is as unknown as its value. Parts on one die or reel share a quantity and keep a
smaller one of their own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Circuit, Part
from railwright.quantity import Spread

Array = NDArray[np.float64]
Name = tuple[str, str]
ROOM = 298.15  # K; values are stated here


Scope = Literal["at rest", "in cycles", "in time"]
"""What is looked at: the values that matter only where something changes count in the latter two.

In cycles, what shapes a part's own loop and has no published limits stays typical: no cycle that
repeats depends on it, and whether it repeats is told by the window of the parts around it. So it
does where something happens to a supply once: far out in a spread that was assumed wide a loop
swings, which would be told of a step and is none of it.
"""


@dataclass(frozen=True)
class Quantity:
    """One independent quantity: a value itself, or a relative change of one or several values."""

    role: str
    """`value`, `drift` (relative, per kelvin) or `shared` (-1 at the low limits, 1 at the high)."""
    moves: tuple[Name, ...]
    """(ref, value) of what it moves."""
    spread: Spread


@dataclass(frozen=True)
class PartSpread:
    """All independent quantities of a circuit, in a fixed order."""

    quantities: tuple[Quantity, ...]
    published: Mapping[Name, Spread]
    """The whole spread of everything that a quantity moves."""

    @classmethod
    def of(cls, circuit: Circuit, scope: Scope = "at rest") -> PartSpread:
        """The quantities that a circuit's parts leave open."""
        found: list[Quantity] = []
        shared: dict[tuple[str, str], list[tuple[Part, str]]] = {}
        for part in circuit.parts:
            for name, value in part.values.items():
                if not _counts(part, name, scope):
                    continue
                own = value.spread
                # What is typically nil, such as an offset, has no ratio to anything on its die.
                if part.tracks is not None and own.width > 0 and own.typical != 0:
                    shared.setdefault((part.tracks.group, name), []).append((part, name))
                    own = Spread.tolerance(own.typical, part.tracks.tolerance)
                if own.width > 0:
                    found.append(Quantity("value", ((part.ref, name),), own))
                if value.spread.drift > 0:
                    limits = Spread(-value.spread.drift, 0.0, value.spread.drift, "uniform")
                    found.append(Quantity("drift", ((part.ref, name),), limits))
        found += [_shared(members) for members in shared.values()]
        published = {
            name: circuit.part(name[0]).values[name[1]].spread
            for quantity in found
            for name in quantity.moves
        }
        return cls(tuple(found), published)

    @property
    def size(self) -> int:
        """Number of independent quantities."""
        return len(self.quantities)

    @cached_property
    def low(self) -> Array:
        """Lower limits (quantity,)."""
        return np.array([q.spread.low for q in self.quantities])

    @cached_property
    def high(self) -> Array:
        """Upper limits (quantity,)."""
        return np.array([q.spread.high for q in self.quantities])

    @cached_property
    def typical(self) -> Array:
        """Typical values (quantity,)."""
        return np.array([q.spread.typical for q in self.quantities])

    def draw(self, uniform: Array) -> Array:
        """Actual quantities (quantity, sample) from uniform numbers of the same shape."""
        return np.array(
            [q.spread.quantile(u) for q, u in zip(self.quantities, uniform, strict=True)]
        ).reshape(uniform.shape)

    def lanes(self, actual: Array, ambient: Array) -> dict[Name, Array]:
        """Part values per lane, from quantities (quantity, lane) at air temperatures [K]."""
        values: dict[Name, Array] = {}
        factors: dict[Name, Array | float] = {}
        warm = ambient - ROOM
        for quantity, row in zip(self.quantities, actual, strict=True):
            for name in quantity.moves:
                if quantity.role == "value":
                    values[name] = row
                elif quantity.role == "drift":
                    factors[name] = factors.get(name, 1.0) * (1.0 + row * warm)
                else:
                    factors[name] = factors.get(name, 1.0) * _placed(self.published[name], row)
        for name, factor in factors.items():
            values[name] = values.get(name, self.published[name].typical) * np.asarray(factor)
        return values


def unpublished_loops(circuit: Circuit) -> list[str]:
    """Values, as `U1.gain`, that shape a part's own loop and stay typical in cycles."""
    return [
        f"{part.ref}.{name}"
        for part in circuit.parts
        for name in part.values
        if _is_unpublished_loop(part, name)
    ]


def _is_unpublished_loop(part: Part, name: str) -> bool:
    return part.device.values[name].own_loop and part.values[name].assumed


def _counts(part: Part, name: str, scope: Scope) -> bool:
    if scope == "in cycles" and _is_unpublished_loop(part, name):
        return False
    return scope != "at rest" or not part.device.values[name].dynamic


def _shared(members: Sequence[tuple[Part, str]]) -> Quantity:
    moves = tuple((part.ref, name) for part, name in members)
    return Quantity("shared", moves, Spread(-1.0, 0.0, 1.0, "uniform"))


def _placed(spread: Spread, place: Array) -> Array:
    """Value over typical value at a place between the limits, -1 to 1."""
    up, down = np.maximum(place, 0.0), np.minimum(place, 0.0)
    moved = up * (spread.high - spread.typical) + down * (spread.typical - spread.low)
    return np.asarray(1.0 + moved / spread.typical)
