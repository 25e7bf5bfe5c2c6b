"""Capacitors at the pins of regulators, by the window that a datasheet publishes."""

from __future__ import annotations

from math import inf

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sizing.choice import Choice, of_kind, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show

RATING = "rated_voltage"
UNLISTED = 0.8
"""Of the rated voltage of a capacitor is used at most, where the derating policy has no row for its
family (common practice, no source)."""


def capacitor(
    task: Task,
    dielectric: str,
    least: float,
    voltage: float,
    why: str,
    *,
    esr: tuple[float, float] = (0.0, inf),
) -> Choice:
    """The smallest capacitor of a dielectric that is marked with at least a capacitance [F].

    voltage: greatest across it [V], as the derating policy allows it; esr: the window of its series
    resistance [Ω], which both its limits must keep. Unserved where the catalogue has none.
    """
    found = [
        entry
        for entry in of_kind(task.catalogue, "capacitor")
        if entry.options.get("dielectric") == dielectric
        and spread_of(entry, "capacitance").typical >= least * 0.999
        and bears(task, entry) >= voltage
        and _keeps(entry, esr)
    ]
    if not found:
        within = "" if esr == (0.0, inf) else f" and {show(esr[0], 'Ω')} to {show(esr[1], 'Ω')}"
        raise Unserved(
            f"no {dielectric} capacitor of at least {show(least, 'F')}{within} is in the catalogue "
            f"that may see {show(voltage, 'V')} ({task.derating.name})"
        )
    best = min(found, key=lambda e: (spread_of(e, "capacitance").typical, _rated(e)))
    return Choice(best, f"{why}; {rated_for(task, best, voltage)}")


def bears(task: Task, entry: Entry) -> float:
    """The most that may be across a capacitor [V]; nil where its rating is not known."""
    return task.bears(entry, RATING, UNLISTED) if RATING in entry.values else 0.0


def rated_for(task: Task, entry: Entry, voltage: float) -> str:
    """Its rating beside the greatest voltage across it [V], in words."""
    share = show(task.share(entry, RATING, UNLISTED), "1")
    return f"{show(voltage, 'V')} at most of {show(_rated(entry), 'V')}, {share} may be used"


def window_of(entry: Entry, name: str) -> tuple[float, float]:
    """Bounds that a part's datasheet publishes; nil and infinite where it has none."""
    window = entry.windows.get(name)
    return (0.0, inf) if window is None else window.bounds


def least_for_step(inductance: float, step: float, deviation: float) -> float:
    """Capacitance at which a step of the load moves the output no further [F].

    A loop of one pole looks like a coil L from outside: Z = sqrt(L / C), dV = dI Z; all in SI.
    Source: as `devices.linear_regulator`.

    >>> round(least_for_step(1e-6, 0.4, 0.1) * 1e6, 6)
    16.0
    """
    return inductance * (step / deviation) ** 2


def _rated(entry: Entry) -> float:
    return spread_of(entry, RATING).high


def _keeps(entry: Entry, esr: tuple[float, float]) -> bool:
    if "esr" not in entry.values:
        return esr == (0.0, inf)
    spread = spread_of(entry, "esr")
    return esr[0] <= spread.low and spread.high <= esr[1]
