"""Diodes that guard: against a source of the wrong polarity, against what feeds back."""

from __future__ import annotations

import math

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show

SILICON_GAP = 1.0
"""eV; a diode of silicon has more, a Schottky one less (its barrier)."""
LONGEST = 10e-3 / 8.3e-3
"""A half wave of 50 Hz over the one for which surges are stated."""


def diode(
    task: Task,
    current: float,
    reverse: float,
    why: str,
    *,
    lasting: bool = True,
    schottky: bool = False,
    surge: float = 0.0,
) -> Choice:
    """The cheapest diode for a current [A] and a reverse voltage [V].

    lasting: whether the current flows on; for a moment all of the rating for a lasting one may be
    used. surge: in the first half wave of the mains, to be survived [A]. A Schottky one where
    little is to be lost, else one without its reverse current. Unserved where there is none.
    """
    found = [
        entry
        for entry in of_kind(task.catalogue, "diode")
        if {"forward_current", "reverse_voltage", "gap"} <= entry.values.keys()
        and (spread_of(entry, "gap").typical < SILICON_GAP) == schottky
        and (task.share(entry, "forward_current") if lasting else 1.0)
        * spread_of(entry, "forward_current").high
        >= current
        and task.bears(entry, "reverse_voltage") >= reverse
        and (surge == 0.0 or survived(entry) >= surge)
    ]
    if not found:
        first = f" that survives {show(surge, 'A')} at switch-on" if surge else ""
        raise Unserved(
            f"no diode for {show(current, 'A')} and {show(reverse, 'V')} in reverse{first}"
        )
    best = min(found, key=lambda e: (price_of(e), spread_of(e, "reverse_voltage").high))
    limits = (
        f"{show(spread_of(best, 'forward_current').high, 'A')} and "
        f"{show(spread_of(best, 'reverse_voltage').high, 'V')}"
    )
    told = f"{why}; {limits} for {show(current, 'A')} and {show(reverse, 'V')} in reverse"
    if surge:
        told = f"{told}; {show(surge, 'A')} of {show(survived(best), 'A')} at switch-on"
    return Choice(best, told)


def survived(entry: Entry) -> float:
    """Crest of one half wave of 50 Hz that a rectifier survives [A]; nil where nobody says.

    As much I²t as in the one for which its type states it, `LONGEST` times as short.
    """
    if "surge_current" not in entry.values:
        return 0.0
    return spread_of(entry, "surge_current").low / math.sqrt(LONGEST)
