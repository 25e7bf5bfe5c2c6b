"""A derating policy: the answers it gives; `derating` has the policies and reads files."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True, slots=True)
class Curve:
    """Ratio over ambient: flat below the first point, straight between, zero above the last."""

    ambients: tuple[float, ...]
    """K, rising."""
    ratios: tuple[float, ...]

    def at(self, ambient: ArrayLike) -> NDArray[np.float64]:
        """Ratio at ambients [K]."""
        given = np.asarray(ambient, dtype=np.float64)
        return np.asarray(np.interp(given, self.ambients, self.ratios, right=0.0))


@dataclass(frozen=True, slots=True)
class FuseRows:
    """Ratio of a fuse's rated current, by that current, falling with the ambient."""

    rated: tuple[float, ...]
    """A, rising."""
    ratios: tuple[float, ...]
    greatest: float
    """A; above, there is no row."""
    less_per_kelvin: float
    start: float
    """K; the fall begins here."""


@dataclass(frozen=True, slots=True)
class Policy:
    """One derating policy. Ratios are shares of the rating that a part may see.

    >>> rule = Curve((343.15, 383.15), (0.5, 0.3))
    >>> policy = Policy("own", "common practice", {("capacitor tantalum", "voltage"): rule})
    >>> policy.ratio_at("capacitor tantalum", "voltage", [298.15, 363.15, 400.0])
    array([0.5, 0.4, 0. ])
    """

    name: str
    source: str
    rows: Mapping[tuple[str, str], float | Curve] = field(default_factory=dict)
    """By family and rating."""
    junctions: Mapping[str, float] = field(default_factory=dict)
    """Hottest junction by family [K]."""
    bodies: Mapping[str, float] = field(default_factory=dict)
    """Hottest body by family [K]."""
    fuses: FuseRows | None = None
    otherwise: float | None = None
    """The ratio where there is no row; None: no answer."""

    def ratio(self, family: str, quantity: str) -> float | None:
        """Ratio that holds at every allowed ambient; None where there is no row.

        ValueError where the row depends on the ambient: ask `ratio_at`.
        """
        row = self.rows.get((family, quantity), self.otherwise)
        if isinstance(row, Curve):
            raise ValueError(f"{family}, {quantity}: this ratio depends on the ambient")
        return row

    def ratio_at(
        self, family: str, quantity: str, ambient: ArrayLike
    ) -> NDArray[np.float64] | None:
        """Ratio at ambients [K], zero where the body would be too hot; None: no row."""
        row = self.rows.get((family, quantity), self.otherwise)
        if row is None:
            return None
        given = np.asarray(ambient, dtype=np.float64)
        ratio = row.at(given) if isinstance(row, Curve) else np.full_like(given, row)
        return np.where(given > self.bodies.get(family, math.inf), 0.0, ratio)

    def resistor_power(self, ambient: ArrayLike, style: str = "film") -> NDArray[np.float64] | None:
        """Ratio of a resistor's rated power at ambients [K]; None where the style has no row."""
        return self.ratio_at(f"resistor {style}", "power", ambient)

    def fuse_current(self, rated: float, ambient: ArrayLike) -> NDArray[np.float64] | None:
        """Ratio of a fuse's rated current [A] at ambients [K]; None where there is no row."""
        given = np.asarray(ambient, dtype=np.float64)
        if self.fuses is None:
            return None if self.otherwise is None else np.full_like(given, self.otherwise)
        fuses = self.fuses
        fitting = [
            ratio for least, ratio in zip(fuses.rated, fuses.ratios, strict=True) if rated >= least
        ]
        if not fitting or rated > fuses.greatest:
            return None
        fall = fuses.less_per_kelvin * np.maximum(given - fuses.start, 0.0)
        return np.maximum(fitting[-1] - fall, 0.0)

    def junction(self, family: str) -> float | None:
        """Hottest junction that is allowed [K]; None where there is no row."""
        return self.junctions.get(family)

    def body(self, family: str) -> float | None:
        """Hottest body that is allowed [K]; None where there is no row."""
        return self.bodies.get(family)
