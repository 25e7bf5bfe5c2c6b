"""Capacitors at the pins of regulators, by the window that a datasheet publishes."""

from __future__ import annotations

from collections.abc import Mapping
from math import inf

from railwright.architectures.architecture import Unserved
from railwright.architectures.sizing.choice import Choice, of_kind, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show

SPARE_VOLTAGE = 1.25
"""Rating over working voltage of a capacitor (common practice, no source)."""


def capacitor(
    catalogue: Mapping[str, Entry],
    dielectric: str,
    least: float,
    voltage: float,
    why: str,
    *,
    esr: tuple[float, float] = (0.0, inf),
) -> Choice:
    """The smallest capacitor of a dielectric that is marked with at least a capacitance [F].

    voltage: greatest across it [V]; esr: the window of its series resistance [Ω], which both its
    limits must keep. Unserved where the catalogue has none.
    """
    found = [
        entry
        for entry in of_kind(catalogue, "capacitor")
        if entry.options.get("dielectric") == dielectric
        and spread_of(entry, "capacitance").typical >= least * 0.999
        and _rated(entry) >= SPARE_VOLTAGE * voltage
        and _keeps(entry, esr)
    ]
    if not found:
        within = "" if esr == (0.0, inf) else f" and {show(esr[0], 'Ω')} to {show(esr[1], 'Ω')}"
        raise Unserved(
            f"no {dielectric} capacitor of at least {show(least, 'F')}, "
            f"{show(SPARE_VOLTAGE * voltage, 'V')}{within} is in the catalogue"
        )
    best = min(found, key=lambda e: (spread_of(e, "capacitance").typical, _rated(e)))
    told = f"{why}; {show(_rated(best), 'V')} on at most {show(voltage, 'V')}"
    return Choice(best, told)


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
    known = entry.values.get("rated_voltage")
    return 0.0 if known is None else known.spread.high


def _keeps(entry: Entry, esr: tuple[float, float]) -> bool:
    if "esr" not in entry.values:
        return esr == (0.0, inf)
    spread = spread_of(entry, "esr")
    return esr[0] <= spread.low and spread.high <= esr[1]
