"""What is kept of a circuit in time, and how it is read by name."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Model, Name
from railwright.engine.topology import Topology
from railwright.engine.transient_kernel import Memory

Array = NDArray[np.float64]
Watch = Iterable[Name]
"""(net, ""), (ref, unknown), (ref, held quantity) or (ref, observable)."""


class Waveforms:
    """Rows over lanes and instants, by name; unsolved lanes read not-a-number where they ended."""

    model: Model
    _rows: Mapping[Name, Array]

    @property
    def _shape(self) -> tuple[int, int]:
        """Lanes and instants."""
        raise NotImplementedError

    @property
    def names(self) -> Collection[Name]:
        """What was kept."""
        return self._rows.keys()

    def potential(self, net: str) -> Array:
        """Potential of a net (lane, instant) [V or K]."""
        if net == self.model.topology.ground:
            return np.zeros(self._shape)
        return self._row((net, ""))

    def unknown(self, ref: str, name: str) -> Array:
        """An internal unknown or held quantity of a part (lane, instant)."""
        return self._row((ref, name))

    def of(self, ref: str, observable: str) -> Array:
        """A part's observable (lane, instant), in SI units."""
        return self._row((ref, observable))

    def _row(self, name: Name) -> Array:
        try:
            return self._rows[name]
        except KeyError:
            known = ", ".join(map(_told, self._rows))
            raise KeyError(f"{_told(name)} was not watched; watched were: {known}") from None


def places_of(topology: Topology, memory: Memory) -> Mapping[Name, int]:
    """Numbers of all that can be watched: recorded rows and, behind them, observables.

    Where a part records and observes a quantity of one name it is the recorded one.
    """
    unknowns = [(u.owner, u.name) for u in topology.unknowns]
    moved = [n for n in (*memory.holds, *memory.driven) if n in memory.parameters]
    names = [*unknowns, *moved]
    seen = {name: len(names) + i for i, name in enumerate(memory.observables)}
    return {**seen, **{name: i for i, name in enumerate(names)}}


def wanted_of(watch: Watch | None, places: Mapping[Name, int]) -> list[Name]:
    """What is kept: everything, or what is watched. KeyError for what there is not."""
    wanted = list(places) if watch is None else list(watch)
    for name in wanted:
        if name not in places:
            raise KeyError(f"{_told(name)} is neither a net nor an unknown or observable of a part")
    return wanted


def _told(name: Name) -> str:
    return " ".join(filter(None, name))
