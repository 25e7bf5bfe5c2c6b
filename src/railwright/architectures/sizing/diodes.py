"""Diodes that guard: against a source of the wrong polarity, against what feeds back."""

from __future__ import annotations

from collections.abc import Mapping

from railwright.architectures.architecture import Unserved
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show

SILICON_GAP = 1.0
"""eV; a diode of silicon has more, a Schottky one less (its barrier)."""


def diode(
    catalogue: Mapping[str, Entry],
    current: float,
    reverse: float,
    shares: tuple[float, float],
    why: str,
    *,
    schottky: bool = False,
) -> Choice:
    """The cheapest diode for a lasting current [A] and a reverse voltage [V].

    shares: what may be used of either rating. A Schottky one where little is to be lost, else
    one without its reverse current. Unserved where there is none.
    """
    found = [
        entry
        for entry in of_kind(catalogue, "diode")
        if {"forward_current", "reverse_voltage", "gap"} <= entry.values.keys()
        and (spread_of(entry, "gap").typical < SILICON_GAP) == schottky
        and shares[0] * spread_of(entry, "forward_current").high >= current
        and shares[1] * spread_of(entry, "reverse_voltage").high >= reverse
    ]
    if not found:
        raise Unserved(f"no diode for {show(current, 'A')} and {show(reverse, 'V')} in reverse")
    best = min(found, key=lambda e: (price_of(e), spread_of(e, "reverse_voltage").high))
    limits = (
        f"{show(spread_of(best, 'forward_current').high, 'A')} and "
        f"{show(spread_of(best, 'reverse_voltage').high, 'V')}"
    )
    return Choice(
        best, f"{why}; {limits} for {show(current, 'A')} and {show(reverse, 'V')} in reverse"
    )
