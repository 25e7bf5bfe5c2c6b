"""Diodes that guard: against a source of the wrong polarity, against what feeds back."""

from __future__ import annotations

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.quantity import show

SILICON_GAP = 1.0
"""eV; a diode of silicon has more, a Schottky one less (its barrier)."""


def diode(
    task: Task,
    current: float,
    reverse: float,
    why: str,
    *,
    lasting: bool = True,
    schottky: bool = False,
) -> Choice:
    """The cheapest diode for a current [A] and a reverse voltage [V].

    lasting: whether the current flows on; for a moment all of the rating for a lasting one may be
    used. A Schottky one where little is to be lost, else one without its reverse current. Unserved
    where there is none.
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
