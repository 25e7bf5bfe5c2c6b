"""How high the input goes when a plug is put in: a cable's coil rings with capacitors.

Source: the circuit's equations, L di/dt = V - R i - v and C dvc/dt = (v - vc) / r for each branch,
solved by their eigenvalues; all in SI.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

LEAST_SERIES = 5e-3
"""Ω in series with any capacitor, leads included (common practice, no source)."""
INSTANTS = 300


@lru_cache(maxsize=10_000)
def peak(
    voltage: float, inductance: float, resistance: float, branches: tuple[tuple[float, float], ...]
) -> float:
    """The highest voltage across the branches after a source is connected to all of them empty [V].

    branches: capacitance and series resistance of each.

    One branch without loss rings to twice the source, and less by the closed form of a damped
    oscillation with loss.

    >>> round(peak(20.0, 1e-6, 0.0, ((10e-6, 0.0),)), 1)
    39.5
    """
    farads = np.array([c for c, _ in branches])
    series = np.maximum([r for _, r in branches], LEAST_SERIES)
    whole = np.sum(1.0 / series)
    # v = (i + sum(vc / r)) / sum(1 / r): what the cable brings flows into the branches.
    seen = np.concatenate([[1.0 / whole], 1.0 / series / whole])
    rates = np.zeros((seen.size, seen.size))
    rates[0] = -seen / inductance
    rates[0, 0] -= resistance / inductance
    rates[1:] = seen / (series * farads)[:, None]
    rates[1:, 1:] -= np.diag(1.0 / (series * farads))
    values, vectors = np.linalg.eig(rates)
    settled = np.concatenate([[0.0], np.full(farads.size, voltage)])
    shares = np.linalg.solve(vectors, -settled.astype(complex))
    lasts = 4.0 * np.pi * float(np.sqrt(inductance * farads.sum()))
    times = np.linspace(0.0, lasts, INSTANTS)
    course = (vectors @ (shares[:, None] * np.exp(np.outer(values, times)))).real
    return float(np.max(seen @ (settled[:, None] + course)))
