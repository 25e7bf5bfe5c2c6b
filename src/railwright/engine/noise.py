"""Noise at an output: density by source and in all, and its integral over a band.

Parts state white densities with a corner below which they rise as 1/f (`Terms.noise`); sources
are independent, so that their powers add. One solve of the transposed system per frequency
serves all sources (adjoint network; Rohrer, Nagel, Meyer and Weber, "Computationally efficient
electronic-circuit noise calculations", IEEE Journal of Solid-State Circuits, 1971).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.engine.linear import Linear
from railwright.engine.ports import Output, row, unit_of
from railwright.engine.response import frequencies_of

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

POINTS_A_DECADE = 10
PRECISION = 1e-4
"""Share of the whole by which halving an interval may still change an integral."""
HALVINGS = 24
"""How often intervals may be halved: enough for a resonance of any quality that parts have."""
FAINT = 1e-300
"""Stands for nil where a logarithm is taken."""


@dataclass(frozen=True)
class Noise:
    """Noise density at an output over lanes and frequencies; unsolved lanes: not-a-number."""

    output: Output
    unit: str
    """The densities' unit is the square of this per hertz."""
    frequency: Array
    """[Hz] (frequency)."""
    by_part: Mapping[str, Array]
    """Ref -> its share of the density (lane, frequency)."""
    solved: Mask

    @property
    def density(self) -> Array:
        """Density of all sources together (lane, frequency)."""
        none = np.zeros((self.solved.size, self.frequency.size))
        return np.where(self.solved[:, None], sum(self.by_part.values(), none), np.nan)


@dataclass(frozen=True)
class NoiseInBand:
    """Noise at an output over a band, root mean square."""

    output: Output
    unit: str
    low: float
    high: float
    by_part: Mapping[str, Array]
    """Ref -> its part of the noise (lane), rms; squares add up to the square of the total."""
    solved: Mask

    @property
    def total(self) -> Array:
        """Of all sources together (lane), rms."""
        none = np.zeros(self.solved.size)
        power = sum((part**2 for part in self.by_part.values()), none)
        return np.where(self.solved, np.sqrt(power), np.nan)


def noise(linear: Linear, output: Output, frequencies: Array | Sequence[float]) -> Noise:
    """Noise density at an output at frequencies [Hz] above nil."""
    wanted = frequencies_of(frequencies)
    if (wanted <= 0.0).any():
        raise ValueError("noise is looked at above 0 Hz, where 1/f noise has no bounds")
    sources = _Sources.of(linear)
    gains, solved = sources.gains(output, wanted)
    spectrum = sources.density[..., None] * (1.0 + sources.corner[..., None] / wanted)
    parts = sources.by_part(gains * spectrum)
    return Noise(output, unit_of(linear, output), wanted, parts, solved)


def noise_in_band(
    linear: Linear,
    output: Output,
    low: float,
    high: float,
    *,
    a_decade: int = POINTS_A_DECADE,
    halvings: int = HALVINGS,
) -> NoiseInBand:
    """Root-mean-square noise at an output from `low` to `high` [Hz].

    Between frequencies each source's power gain is taken as a power of the frequency, and what
    that gives with white and with 1/f noise is integrated exactly; intervals are halved until
    that changes the whole of no lane by more than `PRECISION`. With no `halvings` it is what that
    gives on the first frequencies, so many `a_decade`.
    """
    if not 0.0 < low < high:
        raise ValueError(f"wanted is a band with 0 < low < high in Hz; found {low:g} to {high:g}")
    sources = _Sources.of(linear)
    edges = np.geomspace(low, high, 2 + int(a_decade * np.log10(high / low)))
    gains, solved = sources.gains(output, edges)
    pieces = _Pieces(edges[:-1], edges[1:], gains[..., :-1], gains[..., 1:])
    power = np.zeros(sources.density.shape)
    for _ in range(halvings):
        middle = np.sqrt(pieces.low * pieces.high)
        between, good = sources.gains(output, middle)
        solved &= good
        halves = pieces.left(middle, between), pieces.right(middle, between)
        fine = sources.power(halves[0]) + sources.power(halves[1])
        changed = np.abs(fine - sources.power(pieces)).sum(axis=1)
        whole = (power + fine.sum(axis=2)).sum(axis=1)
        rough = changed > PRECISION / edges.size * whole[:, None]
        open_ = rough[solved].any(axis=0)
        power += fine[..., ~open_].sum(axis=2)
        if not open_.any():
            break
        pieces = halves[0].take(open_).joined(halves[1].take(open_))
    else:
        power += sources.power(pieces).sum(axis=2)
        if halvings:
            solved &= ~rough.any(axis=1)
    power[~solved] = np.nan
    found = {ref: np.sqrt(part) for ref, part in sources.by_part(power).items()}
    return NoiseInBand(output, unit_of(linear, output), low, high, found, solved)


@dataclass(frozen=True)
class _Sources:
    """All noise sources of a linearised circuit."""

    linear: Linear
    density: Array
    """Far above the corner (lane, source)."""
    corner: Array
    """[Hz] (lane, source)."""

    @classmethod
    def of(cls, linear: Linear) -> _Sources:
        """ValueError where no part states any."""
        noisy = linear.system.noisy
        noises = noisy.noises
        if not noises:
            raise ValueError(
                "no part of this circuit states what noise it makes; a total of nil would say "
                "nothing. Give its parts noise, or do not ask"
            )
        p = linear.rest.parameters(noisy.parameters)
        density, corner = (
            np.array(noisy.graph.evaluate(roots, linear.rest.x, p)).T
            for roots in ([each.density for each in noises], [each.corner for each in noises])
        )
        return cls(linear, density, corner)

    def gains(self, output: Output, frequencies: Array) -> tuple[Array, Mask]:
        """Power gains (lane, source, frequency) to an output, and lanes solved."""
        linear = self.linear
        rights = np.zeros((*self.density.shape, linear.system.size))
        for place, each in enumerate(linear.system.noisy.noises):
            for at, sign in ((each.plus, 1.0), (each.minus, -1.0)):
                if at is not None:
                    rights[:, place, at] += sign
        found, solved = linear.transfer(row(linear, output), rights, frequencies[None])
        return np.abs(found) ** 2, solved

    def power(self, pieces: _Pieces) -> Array:
        """Integrals of all sources over pieces of the band (lane, source, piece)."""
        white, pink = pieces.integrals()
        return self.density[..., None] * (white + self.corner[..., None] * pink)

    def by_part(self, powers: Array) -> dict[str, Array]:
        """Ref -> sum over its sources; powers are (lane, source, ...)."""
        found: dict[str, Array] = {}
        for place, each in enumerate(self.linear.system.noisy.noises):
            found[each.ref] = found.get(each.ref, 0.0) + powers[:, place]
        return found


@dataclass(frozen=True)
class _Pieces:
    """Intervals of frequency and power gains at both ends of each, (lane, source, piece)."""

    low: Array
    high: Array
    at_low: Array
    at_high: Array

    def left(self, middle: Array, gains: Array) -> _Pieces:
        return _Pieces(self.low, middle, self.at_low, gains)

    def right(self, middle: Array, gains: Array) -> _Pieces:
        return _Pieces(middle, self.high, gains, self.at_high)

    def take(self, which: Mask) -> _Pieces:
        return _Pieces(
            self.low[which], self.high[which], self.at_low[..., which], self.at_high[..., which]
        )

    def joined(self, other: _Pieces) -> _Pieces:
        return _Pieces(
            np.concatenate([self.low, other.low]),
            np.concatenate([self.high, other.high]),
            np.concatenate([self.at_low, other.at_low], axis=2),
            np.concatenate([self.at_high, other.at_high], axis=2),
        )

    def integrals(self) -> tuple[Array, Array]:
        """Of gain df and of gain df/f, where the gain is a power of the frequency."""
        first = np.maximum(self.at_low, FAINT)
        width = np.log(self.high / self.low)
        growth = np.log(np.maximum(self.at_high, FAINT) / first)
        white = first * self.low * width * _mean_of_exp(growth + width)
        return white, first * width * _mean_of_exp(growth)


def _mean_of_exp(exponent: Array) -> Array:
    """Mean of e^x for x from nil to the exponent."""
    safe = np.where(exponent == 0.0, 1.0, exponent)
    return np.where(exponent == 0.0, 1.0, np.expm1(safe) / safe)
