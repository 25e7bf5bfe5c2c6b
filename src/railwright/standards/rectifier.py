"""Capacitor-input rectifier of full wave: the state in which it repeats, by stepping through it.

The course of every textbook (O. H. Schade, Analysis of rectifier operation, Proc. IRE 31, 1943):
a rectified sine behind resistance and leakage inductance feeds a capacitor, from which a load
takes a steady current; drops of the diodes are taken off the sine. Nothing is assumed small.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
ROUNDS = 30
CLOSE = 1e-6
"""Of the crest: how far the ends of a half wave may be apart."""


@dataclass(frozen=True, slots=True)
class Reservoir:
    """What is seen in the half wave that repeats; arrays of the shape of what was given."""

    valley: Array
    """V, least; so mean and top."""
    mean: Array
    top: Array
    effective: Array
    """A, through source and rectifier."""
    peak: Array
    """A, likewise."""
    ripple: Array
    """A effective, through the capacitor."""


def reservoir(
    crest: ArrayLike,
    resistance: ArrayLike,
    inductance: ArrayLike,
    capacitance: ArrayLike,
    load: ArrayLike,
    frequency: float,
    *,
    conductance: float = 0.0,
    steps: int = 500,
) -> Reservoir:
    """The repeating half wave of many rectifiers at once.

    crest: of the rectified sine less the drops [V]; resistance and inductance in series with it
    [Ω, H]; capacitance [F]; load [A], and conductance beside it [S]; frequency of the mains [Hz];
    steps: of a half wave. Backward Euler with the end of a half wave joined to its start by
    Newton's method. ValueError where it does not come to rest.

    >>> found = reservoir(20.0, 1.0, 0.0, 4700e-6, 1.0, 50.0)
    >>> round(float(found.mean), 1), round(float(found.top - found.valley), 1)
    (16.2, 1.3)
    """
    given = np.broadcast_arrays(crest, resistance, inductance, capacitance, load)
    crest, resistance, inductance, capacitance, load = (each.astype(float) for each in given)
    step = 0.5 / (frequency * steps)
    ahead, filled = inductance / step, step / capacitance
    leaks = 1.0 + filled * conductance
    least = ahead + resistance + filled / leaks
    rise = np.sin(np.pi * np.arange(1, steps + 1) / steps)
    start, current = 0.9 * crest, np.zeros_like(crest)
    for _ in range(ROUNDS):
        volts, slope, bend = start, np.ones_like(crest), np.zeros_like(crest)
        courses = []
        for share in rise:
            held = (volts - filled * load) / leaks
            wanted = (ahead * current + share * crest - held) / least
            flows = wanted > 0.0
            current = np.where(flows, wanted, 0.0)
            bend = np.where(flows, (ahead * bend - slope / leaks) / least, 0.0)
            volts = held + filled / leaks * current
            slope = slope / leaks + filled / leaks * bend
            courses.append((volts, current))
        moved = volts - start
        if bool(np.all(np.abs(moved) <= CLOSE * np.abs(crest))):
            return _seen(courses, load + conductance * volts)
        start = start + moved / np.maximum(1.0 - slope, 1e-3)
    raise ValueError(
        f"no half wave that repeats was found in {ROUNDS} rounds: is the load within reach?"
    )


def _seen(courses: list[tuple[Array, Array]], load: Array) -> Reservoir:
    volts, current = (np.array(rows) for rows in zip(*courses, strict=True))
    return Reservoir(
        volts.min(axis=0),
        volts.mean(axis=0),
        volts.max(axis=0),
        np.sqrt(np.mean(current**2, axis=0)),
        current.max(axis=0),
        np.sqrt(np.mean((current - load) ** 2, axis=0)),
    )


def saturation_surge(
    voltage: float, frequency: float, saturation_flux: float, resistance: float
) -> float:
    """What flows in the worst first wave into a core that saturates, as squared current [A²s].

    Switched on at nil the flux goes to twice its crest; while it is above saturation the
    resistance of primary and source alone [Ω] limits the current. voltage: effective [V]; flux
    [Vs], no remanence. An upper bound: i = v / R from the angle at which 1 - cos = flux / crest.

    >>> round(saturation_surge(253.0, 50.0, 0.993, 85.0), 4)
    0.0515
    """
    crest, angular = math.sqrt(2.0) * voltage, 2.0 * math.pi * frequency
    begins = math.acos(max(-1.0, 1.0 - saturation_flux * angular / crest))
    share = (math.pi - begins) / 2.0 + math.sin(2.0 * begins) / 4.0
    return (crest / resistance) ** 2 / angular * share


def shorted(
    voltage: float,
    frequency: float,
    primary: float,
    secondary: float,
    ratio: float,
    leakage: float,
    windings: int,
) -> float:
    """Primary current with a secondary shorted [A effective].

    voltage [V effective]; primary [Ω], the source's included; secondary: of one winding [Ω];
    ratio of turns; leakage inductance from the primary [H], half of it its own; windings: how
    many lie side by side.

    >>> round(shorted(207.0, 50.0, 120.0, 3.0, 5.5, 0.0, 1), 3)
    0.982
    """
    ohms = primary + ratio**2 * secondary / windings
    reactance = 2.0 * math.pi * frequency * leakage * (0.5 + 0.5 / windings)
    return voltage / math.hypot(ohms, reactance)
