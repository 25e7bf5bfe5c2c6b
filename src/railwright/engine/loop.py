"""Loop gains by return ratio, their crossings and margins.

Parts mark the signals at which loops through them can be opened (`Terms.signal`). With signal k
taken as an input of its own, the closed circuit A = A_k + u v^T: u is what the signal does to
the equations, v is how the unknowns make the signal. The return ratio with all other loops
closed is T = v^T A_k^-1 u, so that 1 + T = det A / det A_k is the return difference (Bode,
Network Analysis and Feedback Amplifier Design, chapter IV). From the closed circuit, which is
always solved, it follows as T = z / (1 - z) with z = v^T A^-1 u (matrix determinant lemma).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railwright.engine.crossings import CUTS, crossings
from railwright.engine.linear import Linear
from railwright.engine.ports import NoSuchPort, Output, row
from railwright.engine.response import frequencies_of

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Lanes = NDArray[np.intp]
Mask = NDArray[np.bool_]
Name = tuple[str, str]

BAND = np.geomspace(0.1, 1e9, 401)
"""Frequencies at which loops are looked at unless others are wanted [Hz]."""
NIL = 1e-9
"""A return ratio that stays below this everywhere is no loop."""

FAINT = 1e-300
"""Stands for nil where a logarithm is taken."""


@dataclass(frozen=True)
class GainCrossings:
    """Where |T| passes 1. All arrays are over crossings, sorted by lane and frequency."""

    lane: Lanes
    frequency: Array
    ratio: Complex
    rising: Mask
    """True where |T| grows through 1."""

    @property
    def margin(self) -> Array:
        """Phase margins [°], -180 to 180: T's angle from -1, positive where it lags less."""
        return np.degrees(np.angle(-self.ratio))


@dataclass(frozen=True)
class PhaseCrossings:
    """Where T is real and negative. All arrays are over crossings, likewise."""

    lane: Lanes
    frequency: Array
    ratio: Complex

    @property
    def margin(self) -> Array:
        """Gain margins [dB]: what |T| lacks to 1; negative where it is above."""
        return -20.0 * np.log10(np.abs(self.ratio))


@dataclass(frozen=True)
class Loop:
    """The return ratio of one signal, all other loops closed, over lanes and frequencies.

    Poles decide on stability, margins describe: with more than one crossing a single margin
    tells neither that a loop is stable nor that it is not.
    """

    ref: str
    name: str
    frequency: Array
    """[Hz] (frequency)."""
    ratio: Complex
    """(lane, frequency); not-a-number in lanes that were not solved."""
    solved: Mask
    cut: _Cut
    cuts: int

    @cached_property
    def gain_crossings(self) -> GainCrossings:
        """Where |T| passes 1."""
        return _gains(self)

    @cached_property
    def phase_crossings(self) -> PhaseCrossings:
        """Where T is real and negative."""
        return _phases(self)

    @property
    def open_ended(self) -> Mask:
        """Lanes whose |T| is still 1 or more at the highest frequency: the band was too short."""
        return self.solved & (np.abs(self.ratio[:, -1]) >= 1.0)

    @property
    def phase_margin(self) -> Array:
        """The phase margin nearest to nil, per lane [°]; infinite where |T| does not pass 1."""
        return self._nearest(self.gain_crossings.lane, self.gain_crossings.margin)

    @property
    def gain_margin(self) -> Array:
        """The gain margin nearest to nil, per lane [dB]; infinite where T is never negative."""
        return self._nearest(self.phase_crossings.lane, self.phase_crossings.margin)

    @property
    def crossover(self) -> Array:
        """The highest frequency at which |T| passes 1, per lane [Hz]; not-a-number without."""
        found = np.full(self.solved.size, np.nan)
        np.fmax.at(found, self.gain_crossings.lane, self.gain_crossings.frequency)
        return found

    def _nearest(self, lane: Lanes, margin: Array) -> Array:
        found = np.where(self.solved, np.inf, np.nan)
        for each, value in zip(lane, margin, strict=True):
            if abs(value) < abs(found[each]):
                found[each] = value
        return found


def loops(linear: Linear, frequencies: Array | Sequence[float] = BAND) -> tuple[Loop, ...]:
    """Every loop of a circuit: all marked signals whose return ratio is not nil everywhere.

    One loop that runs through several marks is found at each of them. frequencies [Hz]: a grid
    that is fine enough to show each passage or extreme; crossings are found on the function
    itself.
    """
    found = [loop(linear, ref, name, frequencies) for ref, name in linear.system.signals]
    return tuple(each for each in found if (np.abs(each.ratio) > NIL).any())


def loop(
    linear: Linear,
    ref: str,
    name: str,
    frequencies: Array | Sequence[float] = BAND,
    cuts: int = CUTS,
) -> Loop:
    """The loop through one signal. Raises NoSuchPort where the circuit has no such signal.

    cuts: into a ninth, of the gaps of the grid in which crossings are looked for.
    """
    wanted = frequencies_of(frequencies)
    if (np.diff(wanted) <= 0).any() or wanted[0] <= 0:
        raise ValueError("loops are looked at over rising frequencies above 0 Hz")
    cut = _Cut.of(linear, (ref, name))
    ratio, solved = cut.ratio(wanted[None])
    return Loop(ref, name, wanted, ratio, solved, cut, cuts)


def driven(
    linear: Linear, ref: str, name: str, outputs: Sequence[Output], frequencies: Array
) -> Complex:
    """How outputs move when the signal of a loop is driven, all closed (lane, output, frequency).

    Per unit of the signal; what two of them are to each other tells what leads from one to the
    other while the loop drives them.
    """
    cut = _Cut.of(linear, (ref, name))
    several = [cut.answer(row(linear, output), frequencies[None])[0] for output in outputs]
    return np.stack(several, axis=1)


@dataclass(frozen=True)
class _Cut:
    """A loop opened at one signal, over lanes."""

    linear: Linear
    into: Array
    """Slopes of the residuals by the signal (lane, row)."""
    stored: Array
    """Slopes of what is stored by the signal (lane, row)."""
    out: Array
    """Slopes of the signal by the unknowns (lane, column)."""

    @classmethod
    def of(cls, linear: Linear, name: Name) -> _Cut:
        signals = linear.system.signals
        if name not in signals:
            known = ", ".join(f"{ref} {signal}" for ref, signal in signals) or "none at all"
            raise NoSuchPort(f"no loop can be opened at {' '.join(name)}; signals are {known}")
        mark, out = signals[name]
        direct, stored = linear.system.by(mark)
        return cls(linear, linear.vector(direct), linear.vector(stored), linear.vector(out))

    def take(self, which: Lanes) -> _Cut:
        return replace(
            self,
            linear=self.linear.take(which),
            into=self.into[which],
            stored=self.stored[which],
            out=self.out[which],
        )

    def ratio(self, frequencies: Array) -> tuple[Complex, Mask]:
        """Return ratios (lane, frequency) at frequencies [Hz] (lane or 1, frequency)."""
        z, solved = self.answer(self.out, frequencies)
        with np.errstate(divide="ignore", invalid="ignore"):
            return z / (1.0 - z), solved

    def answer(self, out: Array, frequencies: Array) -> tuple[Complex, Mask]:
        """What slopes (lane, column) make of the closed circuit driven by the signal."""
        rights = np.stack([self.into, self.stored], axis=1)
        rights = rights if self.stored.any() else rights[:, :1]
        # The transfer counts an input's own slope negatively: it is v^T A^-1 (-u).
        found, solved = self.linear.transfer(out, rights, frequencies)
        z = -found[:, 0]
        if rights.shape[1] > 1:
            z = z - 2j * np.pi * frequencies * found[:, 1]
        return z, solved

    def ratio_at(self, lane: Lanes, frequencies: Array) -> Complex:
        """Return ratios of chosen lanes, each at frequencies of its own (lane, frequency)."""
        return self.take(lane).ratio(frequencies)[0]


def _size(ratio: Complex) -> Array:
    return np.asarray(np.log(np.maximum(np.abs(ratio), FAINT)), float)


def _sine(ratio: Complex) -> Array:
    return np.asarray(ratio.imag / np.maximum(np.abs(ratio), FAINT), float)


def _gains(found: Loop) -> GainCrossings:
    cut = found.cut
    lane, at, rising = crossings(
        _size(found.ratio),
        found.frequency,
        lambda lanes, f: _size(cut.ratio_at(lanes, f)),
        found.cuts,
    )
    return GainCrossings(lane, at, cut.ratio_at(lane, at[:, None])[:, 0], rising)


def _phases(found: Loop) -> PhaseCrossings:
    cut = found.cut
    lane, at, _ = crossings(
        _sine(found.ratio),
        found.frequency,
        lambda lanes, f: _sine(cut.ratio_at(lanes, f)),
        found.cuts,
    )
    there = cut.ratio_at(lane, at[:, None])[:, 0]
    negative = there.real < 0
    return PhaseCrossings(lane[negative], at[negative], there[negative])
