"""Thyristors that short an output until a fuse opens: what they survive of what it lets through."""

from __future__ import annotations

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.let_through import let_through, withstood
from railwright.catalogue.entry import Entry
from railwright.quantity import show

SURGES = 12.5
"""Times its mean rated current is the crest of one half wave of 10 ms that a thyristor survives, at
least (datasheets of the classes from 0.8 to 40 A, from memory)."""
HALF_WAVE = 10e-3
"""s; of the half wave of 50 Hz for which that is stated."""


def survives_until(thyristor: Entry, fuse: Entry, current: float) -> tuple[float, float]:
    """What a fuse lets through at a steady current, and what a thyristor survives then [A²s]."""
    through, seconds = let_through(fuse, current)
    crest = SURGES * spread_of(thyristor, "rated_current").high
    return through, withstood(crest, HALF_WAVE, seconds)


def thyristor(
    task: Task,
    fuse: Entry,
    currents: tuple[float, float],
    blocked: float,
) -> Choice:
    """The cheapest thyristor that survives until a fuse has opened.

    currents: least and greatest into the short [A]; blocked: greatest voltage across it [V].
    Unserved where there is none.
    """
    found: list[Entry] = []
    through = 0.0
    for entry in of_kind(task.catalogue, "thyristor"):
        seen = [survives_until(entry, fuse, current) for current in currents]
        through = max(let for let, _ in seen)
        if (
            all(let <= task.kept * stands for let, stands in seen)
            and task.bears(entry, "off_voltage") >= blocked
        ):
            found.append(entry)
    if not found:
        raise Unserved(
            f"the {fuse.name} lets {show(through, 'A²s')} through at {show(currents[0], 'A')} to "
            f"{show(currents[1], 'A')} before it opens; no thyristor of the catalogue survives that"
        )
    best = min(found, key=lambda e: (price_of(e), spread_of(e, "rated_current").high))
    let, stands = max(
        (survives_until(best, fuse, current) for current in currents), key=lambda e: e[0] / e[1]
    )
    crest = SURGES * spread_of(best, "rated_current").high
    return Choice(
        best,
        f"the {fuse.name} lets up to {show(let, 'A²s')} through before it opens; a crest of "
        f"{show(crest, 'A')} in 10 ms makes it survive {show(stands, 'A²s')}",
    )
