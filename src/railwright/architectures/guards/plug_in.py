"""What keeps the ringing of the input's cable from what stands there, when the plug is put in.

A suppressor where one holds what the parts survive; else a resistor in series with the reservoir,
or a damper beside it where that carries the pulses of a switching regulator.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard
from railwright.architectures.regulator import ROOM
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import bears, capacitor
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.fuses import charging_integral
from railwright.architectures.sizing.plug_in import peak
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor
from railwright.architectures.sketched import (
    behind_fuse,
    entry_of,
    fed_nets,
    fuse_of,
    pins_of,
    reservoirs,
)
from railwright.catalogue.entry import Entry
from railwright.circuit.writer import NewTable
from railwright.quantity import show
from railwright.standards.filter_damping import characteristic
from railwright.standards.iec60063 import nearest
from railwright.standards.iec60127 import PULSES

BLOCK = "input"
LIMITS = (
    "supply_maximum",
    "difference_maximum",
    "rated_voltage",
    "cathode_voltage_maximum",
    "collector_emitter_voltage",
    "drain_source_voltage",
)
"""Ratings of voltages that the input's net puts on a part."""
LEAST_BESIDE = 0.5
"""Times the reservoir is a capacitor that damps it, at least: less hardly does."""
BYPASS = 1e-6
"""F beside a reservoir that is damped: what regulators want at their input (datasheets of the 78xx
types: 0.33 µF, of which such a capacitor keeps half under its voltage)."""
DAMPS = 0.5, 0.7, 1.0, 1.4, 2.0, 3.0, 5.0
"""Times the impedance at which cable and reservoir ring: resistors that are tried."""


@dataclass(frozen=True)
class PlugIn(Guard):
    """Nothing is added where the circuit bears the ringing as it is."""

    name = "guard of the plug"
    purpose = "ringing of the cable"
    depth = 9
    of_input = True

    def wanted(self, task: Task) -> bool:
        source = task.need.input
        return source.kind != "ac" and bool(source.cable_inductance)

    def inside(self, task: Task) -> Task:
        return task

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        try:
            return _Ringing(task, sketch, task.kept).guarded()
        except Unserved:
            return _Ringing(task, sketch, 1.0).guarded()


@dataclass(frozen=True)
class _Ringing:
    task: Task
    sketch: Sketch
    kept: float
    """What may be used of a rating: where nothing leaves the wanted reserve, all of it."""

    def guarded(self) -> Sketch:
        """The sketch with what it wants; Unserved where nothing helps."""
        alone = self._peak(self._branches)
        if alone <= self._may:
            return self.sketch
        for way in (self._suppressed, self._in_series, self._beside):
            found = way(alone)
            if found is not None:
                return found
        raise Unserved(
            f"a plug that is put in makes the input ring to {show(alone, 'V')}; of "
            f"{show(self._may, 'V')} that its parts bear, nothing of the catalogue keeps it below"
        )

    @cached_property
    def _parts(self) -> list[NewTable]:
        return list(reservoirs(self.task, self.sketch))

    @cached_property
    def _branches(self) -> list[tuple[float, float]]:
        return [_branch(entry_of(self.task, part)) for part in self._parts]

    @property
    def _inductance(self) -> float:
        return self.task.need.input.cable_inductance or 0.0

    @cached_property
    def _rings_at(self) -> float:
        """Impedance of the cable's coil and all capacitors [Ω]."""
        return characteristic(self._inductance, sum(farads for farads, _ in self._branches))

    @cached_property
    def _may(self) -> float:
        """What may be used of what the weakest part on these nets bears [V]."""
        nets = fed_nets(self.task, self.sketch)
        bears = [
            spread_of(entry, rating).high
            for part in self.sketch.parts
            if "use" in part and nets & set(pins_of(part).values())
            for entry in [entry_of(self.task, part)]
            for rating in LIMITS
            if rating in entry.values and part["kind"] != "fuse"
        ]
        return self.kept * min(bears, default=math.inf)

    def _peak(self, branches: Sequence[tuple[float, float]]) -> float:
        source = self.task.need.input
        if not branches:
            return 2.0 * source.voltage.max
        return peak(source.voltage.max, self._inductance, source.resistance, tuple(branches))

    def _suppressed(self, alone: float) -> Sketch | None:
        task, highest = self.task, self.task.need.input.voltage.max
        hottest = task.need.surroundings.ambient.max - ROOM
        for entry in sorted(of_kind(task.catalogue, "suppressor"), key=price_of):
            if entry.options.get("polarity") != "unidirectional":
                continue
            if task.bears(entry, "standoff_voltage") < highest:
                continue
            breaks, clamps = (
                spread_of(entry, name) for name in ("breakdown_voltage", "clamping_voltage")
            )
            stated = spread_of(entry, "clamping_current").typical
            current = max(0.0, alone - breaks.low) / self._rings_at
            warm = 1.0 + spread_of(entry, "temperature_coefficient").high * max(hottest, 0.0)
            held = breaks.high * warm + (clamps.high - breaks.high) * current / stated
            if current > stated or held > self._may:
                continue
            why = (
                f"the plug makes the input ring to {show(alone, 'V')}: at most "
                f"({show(alone, 'V')} - {show(breaks.low, 'V')}) / {show(self._rings_at, 'Ω')} = "
                f"{show(current, 'A')}, at which it holds {show(held, 'V')} of "
                f"{show(self._may, 'V')} that may be used; it also conducts from a source of the "
                "wrong polarity until the fuse opens"
            )
            sheet = Sheet.of(self.sketch.parts)
            pins = {"anode": task.fed.minus, "cathode": behind_fuse(task, self.sketch)}
            sheet.add("D", "suppressor", BLOCK, pins, why, use=entry.name)
            return replace(self.sketch, parts=tuple(sheet.parts))
        return None

    def _in_series(self, alone: float) -> Sketch | None:
        """A resistor between the reservoir and the return, where no pulses flow in that."""
        if any(part["kind"] == "inductor" for part in self.sketch.parts):
            return None
        large = max(range(len(self._branches)), key=lambda n: self._branches[n][0])
        part, (farads, own) = self._parts[large], self._branches[large]
        why = f"{show(BYPASS, 'F')} at the pins, where a resistor keeps the reservoir from them"
        highest = self.task.need.input.voltage.max
        bypass = capacitor(self.task, "class-2", BYPASS, highest, why)
        for ohms in self._resistors():
            damped = [*self._branches, _branch(bypass.entry)]
            damped[large] = farads, own + ohms
            held = self._peak(damped)
            if held <= self._may:
                sheet = Sheet.of(self.sketch.parts)
                net, minus = self.task.inner("DAMPED"), pins_of(part)["minus"]
                sheet.join(str(part["ref"]), "minus", net)
                pins = {**pins_of(part), "minus": minus}
                sheet.add("C", "capacitor", BLOCK, pins, bypass.why, use=bypass.entry.name)
                self._draw(sheet, (net, minus), ohms, alone, held)
                return replace(self.sketch, parts=tuple(sheet.parts))
        return None

    def _beside(self, alone: float) -> Sketch | None:
        """A capacitor with a resistor in series, beside the reservoir."""
        highest = self.task.need.input.voltage.max
        least = LEAST_BESIDE * max(farads for farads, _ in self._branches)
        found = [
            entry
            for entry in of_kind(self.task.catalogue, "capacitor")
            if entry.options.get("dielectric") == "electrolytic"
            and "esr" in entry.values
            and bears(self.task, entry) >= highest
            and spread_of(entry, "capacitance").high >= least
        ]
        for entry in sorted(found, key=_size):
            farads, own = _branch(entry)
            for ohms in self._resistors():
                more = [*self._branches, (farads, own + ohms)]
                held = self._peak(more)
                if held <= self._may and self._starts(more):
                    net, fed = self.task.inner("DAMPED"), behind_fuse(self.task, self.sketch)
                    sheet = Sheet.of(self.sketch.parts)
                    pins = {"plus": fed, "minus": net}
                    why = "carries the resistor's current: damps what the cable rings with"
                    sheet.add("C", "capacitor", BLOCK, pins, why, use=entry.name)
                    self._draw(sheet, (net, self.task.fed.minus), ohms, alone, held)
                    return replace(self.sketch, parts=tuple(sheet.parts))
        return None

    def _starts(self, branches: Sequence[tuple[float, float]]) -> bool:
        """Whether the fuse withstands the charging of all of them, again and again.

        Each as if alone: the root of what several take together is at most the sum of their roots.
        """
        source, part = self.task.need.input, fuse_of(self.task, self.sketch)
        if part is None:
            return True
        entry = entry_of(self.task, part)
        ohms = source.resistance + spread_of(entry, "resistance").low
        taken = sum(
            math.sqrt(charging_integral(farads, source.voltage.max, ohms + series))
            for farads, series in branches
        )
        return taken**2 <= self.task.kept * PULSES * spread_of(entry, "melting_integral").low

    def _resistors(self) -> Iterator[float]:
        for times in DAMPS:
            yield nearest(times * self._rings_at, self.task.need.parts.series)

    def _draw(
        self, sheet: Sheet, ends: tuple[str, str], ohms: float, alone: float, held: float
    ) -> None:
        tolerance = self.task.need.parts.resistor_tolerance or USUAL_TOLERANCE
        use = resistor(self.task, 0.0, tolerance).name
        why = (
            f"near sqrt(L / C) = {show(self._rings_at, 'Ω')}: the plug makes the input ring to "
            f"{show(held, 'V')} instead of {show(alone, 'V')}; {show(self._may, 'V')} may be used"
        )
        pins = {"one": ends[0], "two": ends[1]}
        sheet.add("R", "resistor", BLOCK, pins, why, use=use, resistance=show(ohms, "Ω", 4))


def _branch(entry: Entry) -> tuple[float, float]:
    """Capacitance and series resistance as they ring most."""
    series = spread_of(entry, "esr").low if "esr" in entry.values else 0.0
    return spread_of(entry, "capacitance").high, series


def _size(entry: Entry) -> tuple[float, float]:
    return spread_of(entry, "capacitance").typical, spread_of(entry, "rated_voltage").high
