"""Operating points as they were found, read by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.engine.blocks import blocks, gathered
from railwright.engine.model import Lanes, Model, Name, chosen

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
WIDTH = 8
"""Lanes side by side in a block of states that no kernel packed."""


@dataclass(frozen=True)
class OperatingPoints:
    """Solutions over lanes. Rows are read by name; unsolved lanes read not-a-number.

    Lanes are views into blocks (block, row, W) of what was solved together: taking lanes
    copies nothing. What they were asked for is kept, so that neighbours can be walked to.
    """

    model: Model
    observables: tuple[Name, ...]
    solved: Mask
    effort: Array
    _inputs: Lanes
    _asked: NDArray[np.intp]
    _x: Array
    _seen: Array
    _lanes: NDArray[np.intp]

    @classmethod
    def stated(
        cls, model: Model, observables: Sequence[Name], x: Array, seen: Array, solved: Mask
    ) -> OperatingPoints:
        """States that were found in another way: unknowns (lane, row), observables likewise."""
        lanes = np.arange(solved.size)
        effort = np.zeros(solved.size)
        packed = blocks(x, WIDTH), blocks(seen, WIDTH)
        return cls(model, tuple(observables), solved, effort, {}, lanes, *packed, lanes)

    @property
    def count(self) -> int:
        """Number of lanes."""
        return self.solved.size

    def take(self, which: Any) -> OperatingPoints:
        """Chosen lanes, repeated where asked for."""
        return replace(
            self,
            solved=self.solved[which],
            effort=self.effort[which],
            _asked=self._asked[which],
            _lanes=self._lanes[which],
        )

    def of(self, ref: str, observable: str) -> Array:
        """A part's observable over lanes, in SI units."""
        return self._read(self._seen, self._places[ref, observable])

    @cached_property
    def _places(self) -> Mapping[Name, int]:
        return {name: place for place, name in enumerate(self.observables)}

    def potential(self, net: str) -> Array:
        """Potential of a net over lanes [V or K]."""
        if net == self.model.topology.ground:
            return np.where(self.solved, 0.0, np.nan)
        return self._read(self._x, self.model.topology.index[net, ""])

    def unknown(self, ref: str, name: str) -> Array:
        """An internal unknown of a part over lanes."""
        return self._read(self._x, self.model.topology.index[ref, name])

    def solution_of(self, ref: str, name: str) -> Array:
        """The value of an input that was solved for (beyond its end stops where unreachable)."""
        return self.unknown(ref, f"solved {name}")

    def asked(self, name: Name) -> Array | float | None:
        """What the lanes were asked for of one input, None where it was left at its nominal."""
        return (
            chosen({name: self._inputs[name]}, self._asked)[name] if name in self._inputs else None
        )

    @property
    def inputs(self) -> Lanes:
        """What the lanes were asked for."""
        return chosen(self._inputs, self._asked)

    @property
    def unknowns(self) -> Array:
        """All unknowns (row, lane)."""
        return np.where(self.solved, self.last.T, np.nan)

    @property
    def last(self) -> Array:
        """All unknowns (lane, row) as the solver left them, unsolved lanes included."""
        return gathered(self._x, self._lanes)

    def _read(self, blocks: Array, row: int) -> Array:
        return np.where(self.solved, blocks[:, row].reshape(-1)[self._lanes], np.nan)

    def moved(self, x: Array) -> OperatingPoints:
        """The same lanes at other unknowns (row, lane): a start for a search, not solutions."""
        width = self._x.shape[2]
        return replace(
            self,
            solved=np.zeros(self.count, bool),
            _x=blocks(x.T, width),
            _seen=blocks(np.full((self.count, self._seen.shape[1]), np.nan), width),
            _lanes=np.arange(self.count),
        )

    def replaced(self, which: NDArray[np.intp], others: OperatingPoints) -> OperatingPoints:
        """These lanes with the lanes `which` taken from others."""
        x, seen = self.last, gathered(self._seen, self._lanes)
        x[which], seen[which] = others.last, gathered(others._seen, others._lanes)
        solved, effort = self.solved.copy(), self.effort.copy()
        solved[which] = others.solved
        effort[which] += others.effort
        width = self._x.shape[2]
        return replace(
            self,
            solved=solved,
            effort=effort,
            _x=blocks(x, width),
            _seen=blocks(seen, width),
            _lanes=np.arange(self.count),
        )


def joined(pieces: list[OperatingPoints], lanes: Lanes) -> OperatingPoints:
    """All lanes of pieces that were solved one after the other."""
    first = pieces[0]
    if len(pieces) == 1:
        return first
    width = first._x.shape[2]
    offsets = np.cumsum([0] + [piece._x.shape[0] * width for piece in pieces[:-1]])
    solved = np.concatenate([piece.solved for piece in pieces])
    return OperatingPoints(
        first.model,
        first.observables,
        solved,
        np.concatenate([piece.effort for piece in pieces]),
        lanes,
        np.arange(solved.size),
        np.concatenate([piece._x for piece in pieces]),
        np.concatenate([piece._seen for piece in pieces]),
        np.concatenate([p._lanes + o for p, o in zip(pieces, offsets, strict=True)]),
    )
