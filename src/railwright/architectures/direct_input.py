"""What stands behind a direct source: fuse, diode against the wrong polarity, reservoir."""

from __future__ import annotations

from dataclasses import dataclass

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.front import Draw, Front
from railwright.architectures.regulator import Feed, Regulator
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import capacitor, window_of
from railwright.architectures.sizing.choice import Choice, spread_of
from railwright.architectures.sizing.diodes import diode
from railwright.architectures.sizing.fuses import charging, fuse
from railwright.quantity import show

RAW = "RAW"
"""Net at the input of the first stage."""
FUSED = "FUSED"
"""Net between fuse and diode."""
MOST_MARKED = 1.2
"""Capacitance over its marked value, the usual tolerance of electrolytic ones (IEC 60384-4)."""
RESERVOIR = 47e-6
"""F at the input: damps the coil of the leads to the source (common practice, no source)."""


@dataclass(frozen=True)
class DirectFront(Front):
    """Fuse, a series diode where the headroom has room for it, and a capacitor."""

    task: Task

    @classmethod
    def of(cls, task: Task) -> DirectFront:
        """The one of a need; Unserved where its input alternates."""
        volts = task.need.input.voltage
        if task.need.input.kind == "ac":
            raise Unserved(
                f"the input alternates, {show(volts.nominal, 'V')}: this wants a direct one, "
                "behind a transformer and a rectifier"
            )
        net, ground = task.inner(RAW), task.fed.minus
        return cls(Feed(net, ground, volts.min, volts.nominal, volts.max, volts.max), task)

    def fitted(self, regulator: Regulator) -> Draw:
        task, setting = self.task, regulator.setting
        chosen = input_fuse(task, regulator.taken, RESERVOIR)
        spare = regulator.headroom(fuse_drop(task, chosen, regulator.taken))
        spare -= setting.reach - setting.highest
        series = series_diode(task, regulator.taken, spare)
        least = max(RESERVOIR, window_of(regulator.place.entry, "input_capacitance")[0])
        why = f"at least {show(least, 'F')} damp the coil of the leads (common practice)"
        damps = capacitor(task, "electrolytic", least, self.feed.high, why)

        def draw(sheet: Sheet) -> None:
            draw_direct_input(task, sheet, chosen, series, self.feed.net)
            pins = {"plus": self.feed.net, "minus": self.feed.ground}
            sheet.add("C", "capacitor", "input", pins, damps.why, use=damps.entry.name)

        return draw


def input_fuse(task: Task, current: float, reservoir: float) -> Choice:
    """The fuse for what a supply draws [A] and charges when it is switched on [F]."""
    source = task.need.input
    most = MOST_MARKED * reservoir
    charged = charging(most, source.voltage.max, source.resistance, task.kept)
    hottest = task.need.surroundings.ambient.max
    return fuse(task.catalogue, current, hottest, task.derating, task.kept, charged)


def fuse_drop(task: Task, chosen: Choice, current: float) -> float:
    """What source and fuse lose at a current, at most [V]."""
    return current * (task.need.input.resistance + spread_of(chosen.entry, "resistance").high)


def series_diode(task: Task, current: float, spare: float) -> Choice | None:
    """A diode in series that costs no more than the spare voltage [V]; None where none does."""
    highest = task.need.input.voltage.max
    why = "a source of the wrong polarity does nothing"
    for schottky in (False, True):
        try:
            found = diode(task, current, highest, why, schottky=schottky)
        except Unserved:
            continue
        if spread_of(found.entry, "forward_voltage").high <= spare:
            return found
    return None


def draw_direct_input(
    task: Task, sheet: Sheet, fused: Choice, series: Choice | None, raw: str
) -> None:
    """Fuse and diode, from the input to a net."""
    behind = raw if series is None else task.inner(FUSED)
    pins = {"one": task.fed.plus, "two": behind}
    sheet.add("F", "fuse", "input", pins, fused.why, use=fused.entry.name)
    if series is not None:
        pins = {"anode": behind, "cathode": raw}
        sheet.add("D", "diode", "input", pins, series.why, use=series.entry.name)
