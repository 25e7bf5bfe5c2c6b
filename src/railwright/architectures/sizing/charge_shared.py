"""What an output jumps to when what stands between it and a reservoir fails: shared charge.

Source: conservation of charge, and of currents through series resistances at the first instant.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from railwright.architectures.sizing.choice import spread_of
from railwright.catalogue.entry import Entry

SMALLEST = 1e-6
"""F; less beside a reservoir does not count."""


@dataclass(frozen=True)
class Store:
    """Capacitors side by side at a voltage."""

    voltage: float
    """V."""
    capacitance: float
    """F."""
    conductance: float
    """S, of all their series resistances."""

    @classmethod
    def of(cls, entries: Iterable[Entry], voltage: float, end: str) -> Store:
        """Those of the catalogue, at the ends of their spreads where they do most, or least.

        end: `strong` or `weak`. Ones below 1 µF are left out.
        """
        most = end == "strong"
        capacitance = conductance = 0.0
        for entry in entries:
            farads = spread_of(entry, "capacitance")
            if farads.typical < SMALLEST or "esr" not in entry.values:
                continue
            ohms = spread_of(entry, "esr")
            capacitance += farads.high if most else farads.low
            conductance += 1.0 / (ohms.low if most else ohms.high)
        return cls(voltage, capacitance, conductance)

    def joined(self, other: Store) -> tuple[float, float]:
        """Voltages that both have at the first instant, and when their charge is shared [V].

        Weighted by conductances, then by capacitances.

        >>> Store(20.0, 3e-6, 1.0).joined(Store(10.0, 1e-6, 3.0))
        (12.5, 17.5)
        """
        first = self.conductance, other.conductance
        then = self.capacitance, other.capacitance
        return self._mean(other, first), self._mean(other, then)

    def over(self, other: Store, ohms: float, seconds: float) -> float:
        """The most that the other one has within a time of being joined over a resistance [V].

        Its share of all series resistance at the first instant; then both go to their shared
        voltage with R C1 C2 / (C1 + C2). All in SI.

        >>> round(Store(20.0, 100e-6, 10.0).over(Store(10.0, 100e-6, 10.0), 0.3, 5e-6), 2)
        12.54
        """
        if not (self.conductance and other.conductance):
            return max(self.voltage, other.voltage)
        whole = 1.0 / self.conductance + ohms + 1.0 / other.conductance
        first = other.voltage + (self.voltage - other.voltage) / other.conductance / whole
        _, shared = self.joined(other)
        lasts = whole / (1.0 / self.capacitance + 1.0 / other.capacitance)
        return max(first, shared + (first - shared) * math.exp(-seconds / lasts))

    def _mean(self, other: Store, weights: tuple[float, float]) -> float:
        whole = sum(weights)
        if whole == 0.0:
            return max(self.voltage, other.voltage)
        return (self.voltage * weights[0] + other.voltage * weights[1]) / whole
