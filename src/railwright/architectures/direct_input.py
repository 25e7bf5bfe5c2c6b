"""What stands behind a direct source: the fuse, and a diode against the wrong polarity."""

from __future__ import annotations

from dataclasses import dataclass

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import Choice, spread_of
from railwright.architectures.sizing.diodes import diode
from railwright.architectures.sizing.fuses import fuse

FUSED = "FUSED"
"""Net between both."""
MOST_MARKED = 1.2
"""Capacitance over its marked value, the usual tolerance of electrolytic ones (IEC 60384-4)."""


@dataclass(frozen=True)
class DirectInput:
    """Fuse, and a series diode where there is voltage for it."""

    fuse: Choice
    series: Choice | None


def input_fuse(task: Task, current: float, reservoir: float) -> Choice:
    """The fuse for what a supply draws [A] and charges when it is switched on [F]."""
    source = task.need.input
    charged = (MOST_MARKED * reservoir, source.voltage.max, source.resistance)
    hottest = task.need.surroundings.ambient.max
    return fuse(task.catalogue, current, hottest, task.derating, task.kept, charged)


def fuse_drop(task: Task, chosen: Choice, current: float) -> float:
    """What source and fuse lose at a current, at most [V]."""
    return current * (task.need.input.resistance + spread_of(chosen.entry, "resistance").high)


def series_diode(task: Task, current: float, spare: float) -> Choice | None:
    """A diode in series that costs no more than the spare voltage [V]; None where none does."""
    shares = (
        task.allowed("diode", "forward current"),
        task.allowed("diode", "reverse voltage"),
    )
    highest = task.need.input.voltage.max
    why = "a source of the wrong polarity does nothing"
    for schottky in (False, True):
        try:
            found = diode(task.catalogue, current, highest, shares, why, schottky=schottky)
        except Unserved:
            continue
        if spread_of(found.entry, "forward_voltage").high <= spare:
            return found
    return None


def draw_direct_input(task: Task, sheet: Sheet, before: DirectInput, raw: str) -> None:
    """Both, from the input to a net."""
    behind = raw if before.series is None else task.inner(FUSED)
    pins = {"one": task.fed.plus, "two": behind}
    sheet.add("F", "fuse", "input", pins, before.fuse.why, use=before.fuse.entry.name)
    if before.series is not None:
        pins = {"anode": behind, "cathode": raw}
        sheet.add("D", "diode", "input", pins, before.series.why, use=before.series.entry.name)
