"""Crowbars: a thyristor that shorts an output which goes too high, until a fuse opens.

What fires it lies between the highest voltage of a sound supply and what the load survives, at the
limits of every part. Source: common practice of bench supplies, no source; every value has its own
formula.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from railwright.architectures.architecture import Rectified, Sketch, Task, Unserved
from railwright.architectures.front import sized_for
from railwright.architectures.guards.at_pins import hold_at_pins
from railwright.architectures.guards.guard import Guard, with_rail
from railwright.architectures.guards.in_the_way import lies_below
from railwright.architectures.guards.slow_start import draw_slow_start, stages
from railwright.architectures.regulator import ACCURACY, ROOM
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.base_voltage import DRIFT
from railwright.architectures.sizing.capacitors import bears
from railwright.architectures.sizing.charge_shared import Store
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.fuses import Faults, fuse
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor
from railwright.architectures.sizing.thyristors import thyristor
from railwright.architectures.sketched import (
    AHEAD,
    behind_reservoir,
    entry_of,
    fuse_of,
    pins_of,
    reservoir_of,
    reservoirs,
)
from railwright.catalogue.entry import Entry
from railwright.circuit.need import FEEDING, Output, Terminals
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import bracket

BLOCK = "over-voltage guard"
ON = 2.0
"""V that a conducting thyristor and what leads to it take at most (datasheets: 1.6 V)."""
SHORTED = 0.1
"""Ω of a pass element that has failed, with leads and board (common practice, no source)."""
IN_THE_WAY = "inductor", "wire", "terminal"
"""Kinds of parts whose resistance stands between fuse and output."""
FIRES = 5e-6
"""s from when it is to fire until a thyristor conducts (datasheets: 2 µs; transistor and reference
take as much again, common practice)."""
LEAST_SOURCE = 0.05
"""Ω that a source and its leads have at least (common practice, no source)."""
HOLDING = "electrolytic", "polymer"
LEAST_GATE = 1e3
"""Ω from gate to cathode at most: what leaks is to fire nothing (datasheets of thyristors)."""
GIVES_UP = "hiccup", "latch-off", "fuse"
"""Styles of a source's limit in which it ends an overload by itself."""


@dataclass(frozen=True)
class Crowbar(Guard):
    """What all of them share: where to fire, and what survives that."""

    purpose = "never above"
    depth = 5
    dispensable = True

    def wanted(self, task: Task) -> bool:
        return self.output(task).never_above is not None

    def inside(self, task: Task) -> Task:
        rail = self.output(task)
        if any(load.kind in FEEDING for load in rail.load):
            raise Unserved(
                f"{rail.name} has a load that gives a current of its own; a shorted output would "
                "draw that until it burns"
            )
        inside = with_rail(task, replace(rail, never_above=None))
        if task.need.input.kind != "ac":
            return inside
        lost = rail.current.max * spread_of(_behind_reservoir(task, rail).entry, "resistance").high
        return replace(inside, between=inside.between + lost)

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        rail, sheet = self.output(task), Sheet.of(sketch.parts)
        fed = self._fed(task, sketch, sheet)
        shorts = fed.shorted(task)
        window = Window.of(task, rail, sketch.turned_up.get(rail.name, 0.0))
        fires = self.fire(task, sheet, window, shorts)
        for stage in stages(task, sketch, rail):
            started = stage.reaches(rail.voltage.max, fed.highest)
            if not stage.slow and started > task.kept * fires:
                why = (
                    f"it fires from {show(fires, 'V')} on, and the output would go to "
                    f"{show(started, 'V')} at a start"
                )
                draw_slow_start(sheet, task, stage, rail, why)
        holds = _holds(task, self.rail, sketch, fed, window)
        if holds is not None:
            nets = task.terminals(self.rail)
            pins = {"plus": nets.plus, "minus": nets.minus}
            sheet.add("C", "capacitor", BLOCK, pins, holds.why, use=holds.entry.name)
        return replace(sketch, parts=tuple(sheet.parts))

    def _fed(self, task: Task, sketch: Sketch, sheet: Sheet) -> Fed:
        """What a shorted output draws on; behind a transformer a fuse for that is drawn."""
        if task.need.input.kind != "ac":
            return Fed.direct(task, sketch)
        if lies_below(task, self.output(task)):
            raise Unserved(f"{self.rail} lies below another rail; no fuse is built there")
        raw = reservoir_of(sketch, below=False)
        own, fused = _behind_reservoir(task, self.output(task)), self.net(task, "FUSED")
        behind = behind_reservoir(sketch, raw.net)
        for ref, pin in behind:
            sheet.join(ref, pin, fused)
        why = f"opens when the output is shorted, before windings and bridge suffer; {own.why}"
        sheet.add("F", "fuse", BLOCK, {"one": raw.net, "two": fused}, why, use=own.entry.name)
        refs = {ref for ref, _ in behind}
        hold_at_pins(sheet, task, BLOCK, sketch, refs, (fused, raw.ground), raw.high)
        return Fed.rectified(task, sketch, raw, own.entry)

    def fire(self, task: Task, sheet: Sheet, window: Window, shorts: Choice) -> float:
        """Draw a thyristor and what fires it; from how many volts on it may.

        Unserved where that does not hit the window.
        """
        raise NotImplementedError(type(self).__name__)

    def draw_thyristor(self, task: Task, sheet: Sheet, shorts: Choice, gate: str) -> None:
        """Across the terminals."""
        nets = task.terminals(self.rail)
        pins = {"anode": nets.plus, "cathode": nets.minus, "gate": gate}
        why = f"shorts the output when it goes too high; {shorts.why}"
        sheet.add("Q", shorts.entry.kind, BLOCK, pins, why, use=shorts.entry.name)


@dataclass(frozen=True)
class Window:
    """Between which voltages a crowbar has to fire [V]."""

    top: float
    """What a sound supply may have for a moment."""
    survived: float
    kept: float
    """What may be used of a limit, so that the wanted reserve is left."""

    @classmethod
    def of(cls, task: Task, rail: Output, turned_up: float = 0.0) -> Window:
        """That of a rail whose knob at its end gives so much at most [V]."""
        assert rail.never_above is not None
        top = max(turned_up, rail.voltage.max * (1.0 + (rail.accuracy or ACCURACY)))
        if rail.load_step is not None:
            top = max(top, rail.voltage.max + rail.load_step.deviation)
        return cls(top, rail.never_above, task.kept)

    def reserve(self, low: float, high: float) -> float:
        """Share that is left on the narrower side of what fires between two voltages."""
        return min(low / self.top - 1.0, 1.0 - high / self.survived)

    @property
    def words(self) -> str:
        """Both ends."""
        return (
            f"a sound output has up to {show(self.top, 'V')}, and its load survives "
            f"{show(self.survived, 'V')}"
        )


def gate_resistor(entry: Entry, series: str) -> float:
    """From gate to cathode of a thyristor, so that what leaks does not fire it [Ω]."""
    volts, current = (
        spread_of(entry, "gate_trigger_voltage"),
        spread_of(entry, "gate_trigger_current"),
    )
    return min(bracket(volts.typical / current.typical, series)[0], LEAST_GATE)


def draw_gate_resistor(
    task: Task, sheet: Sheet, entry: Entry, ohms: float, ends: tuple[str, str]
) -> None:
    """That resistor; ends: the gate, the cathode."""
    volts = spread_of(entry, "gate_trigger_voltage")
    least = volts.low / ohms
    why = f"Vgt / R: takes what leaks, nothing fires below {show(least, 'A')}"
    grade = resistor(task, volts.high**2 / ohms, tolerance(task))
    pins = {"one": ends[0], "two": ends[1]}
    sheet.add("R", "resistor", BLOCK, pins, why, use=grade.name, resistance=show(ohms, "Ω", 4))


def gate_voltage(thyristor: Entry, coldest: float, hottest: float) -> Spread:
    """Gate voltage that fires it, warm and cold [V]; falls like any junction's."""
    known = spread_of(thyristor, "gate_trigger_voltage")
    return Spread.limits(
        known.low - DRIFT * max(hottest - ROOM, 0.0),
        known.typical,
        known.high + DRIFT * max(ROOM - coldest, 0.0),
    )


def tolerance(task: Task) -> float:
    return task.need.parts.resistor_tolerance or USUAL_TOLERANCE


@dataclass(frozen=True)
class Fed:
    """What a shorted output draws on, and the fuse that ends it."""

    fuse: Entry
    least: float
    """A that flow into the short at least, and at most."""
    most: float
    highest: float
    """V, most of what feeds it."""
    reservoir: Store
    ahead: float
    """Ω of the fuse, where that lies between the reservoir and the output."""
    given: float
    """Ω through which more comes than what is stored; infinite where that does not count."""

    @classmethod
    def direct(cls, task: Task, sketch: Sketch) -> Fed:
        """Of a direct source, by the fuse at the input."""
        fuse, source = _fuse(task, sketch), task.need.input
        own, limit = spread_of(fuse, "resistance"), source.limit
        most = source.voltage.max / (source.resistance + own.low)
        ohms = source.resistance + own.high + SHORTED + _in_the_way(task, sketch)
        least = (source.voltage.min - ON) / ohms
        if limit is not None:
            least, most = min(least, limit.current), min(most, limit.current)
        stored = [entry_of(task, part) for part in reservoirs(task, sketch)]
        reservoir = Store.of(stored, source.voltage.max, "strong")
        given = max(source.resistance, LEAST_SOURCE) + own.low
        return cls(fuse, least, most, source.voltage.max, reservoir, 0.0, given)

    @classmethod
    def rectified(cls, task: Task, sketch: Sketch, raw: Rectified, fuse: Entry) -> Fed:
        """Of a transformer, by a fuse behind its reservoir.

        What is stored flows first, then what the winding lets through.
        """
        own = spread_of(fuse, "resistance")
        stored = [
            entry_of(task, part)
            for part in sketch.parts
            if part["kind"] == "capacitor"
            and pins_of(part)["plus"] == raw.net
            and part["block"] in AHEAD
        ]
        reservoir = Store.of(stored, raw.high, "strong")
        ohms = raw.impedance + own.high + SHORTED + _in_the_way(task, sketch)
        least = (raw.crest - ON) / (math.sqrt(2.0) * ohms)
        most = raw.high / own.low
        return cls(fuse, least, most, raw.high, reservoir, own.low, math.inf)

    def shorted(self, task: Task) -> Choice:
        """The thyristor for what flows with the pass element and the output shorted."""
        limit = task.need.input.limit
        melts = spread_of(self.fuse, "melting_current").high
        if self.least >= melts / task.kept:
            currents = self.least, self.most
            return thyristor(task, self.fuse, currents, self.highest)
        if limit is None or limit.style not in GIVES_UP:
            raise Unserved(
                f"a short circuit draws {show(self.least, 'A')} at least; the {self.fuse.name} "
                f"melts at up to {show(melts, 'A')}, and the thyristor would burn"
            )
        why = f"the source gives up ({limit.style})"
        return _lasting(task, self.highest, self.most, why)

    def lifts(self, output: Store, limit: float) -> float:
        """What the output has at most before anything acts, the pass element shorted [V]."""
        if self.ahead:
            return self.reservoir.over(output, self.ahead, FIRES)
        first, then = self.reservoir.joined(output)
        charge = (self.highest - limit) / self.given * FIRES
        rises = then + charge / (self.reservoir.capacitance + output.capacitance)
        return min(max(first, rises), self.reservoir.voltage)


def _fuse(task: Task, sketch: Sketch) -> Entry:
    """The fuse at the input of a circuit; Unserved where nothing opens."""
    part = fuse_of(task, sketch)
    if part is None:
        raise Unserved("this kind has no fuse at its input that a shorted output would open")
    return entry_of(task, part)


def _behind_reservoir(task: Task, rail: Output) -> Choice:
    """The fuse for what a reservoir gives."""
    hottest = task.need.surroundings.ambient.max
    sees = Faults(lambda own: 0.0, math.inf)
    return fuse(task.catalogue, sized_for(rail), hottest, task.derating, task.kept, sees)


def _lasting(task: Task, blocked: float, current: float, why: str) -> Choice:
    """The cheapest thyristor that carries a current until the source gives up."""
    found = [
        entry
        for entry in of_kind(task.catalogue, "thyristor")
        if task.bears(entry, "rated_current") >= current
        and task.bears(entry, "off_voltage") >= blocked
    ]
    if not found:
        raise Unserved(f"no thyristor of the catalogue carries {show(current, 'A')}")
    best = min(found, key=lambda e: (price_of(e), spread_of(e, "rated_current").high))
    return Choice(best, f"{show(current, 'A')} flow until {why}")


def _in_the_way(task: Task, sketch: Sketch) -> float:
    """Resistance of coils and leads between fuse and output, at most [Ω]."""
    entries = [
        entry_of(task, part)
        for part in sketch.parts
        if part["kind"] in IN_THE_WAY and "use" in part
    ]
    return sum(spread_of(e, "resistance").high for e in entries if "resistance" in e.values)


def _holds(task: Task, rail: str, sketch: Sketch, fed: Fed, window: Window) -> Choice | None:
    """A capacitor at the output that takes what comes before the thyristor conducts.

    None where those that stand there do, or where a coil lets nothing come that fast. Unserved
    where none of the catalogue does.
    """
    if any(part["kind"] == "inductor" for part in sketch.parts):
        return None
    nets = task.terminals(rail)
    across, reservoir = _across(task, sketch, nets), fed.reservoir
    limit = window.kept * window.survived

    def reached(more: Sequence[Entry]) -> float:
        return fed.lifts(Store.of([*across, *more], window.top, "weak"), limit)

    alone = reached([])
    if alone <= limit:
        return None
    for dielectric in HOLDING:
        found = [
            entry
            for entry in of_kind(task.catalogue, "capacitor")
            if entry.options.get("dielectric") == dielectric
            and "esr" in entry.values
            and bears(task, entry) >= window.survived
            and reached([entry]) <= limit
        ]
        if found:
            best = min(found, key=_size)
            return Choice(
                best,
                f"with the pass element shorted, {show(reservoir.capacitance, 'F')} at "
                f"{show(reservoir.voltage, 'V')} share their charge with the output, and "
                f"{show(FIRES, 's')} pass until the thyristor conducts: at most "
                f"{show(reached([best]), 'V')}, without it {show(alone, 'V')}",
            )
    raise Unserved(
        f"with the pass element shorted the output jumps to {show(alone, 'V')} before anything "
        "acts, and no capacitor of the catalogue holds that"
    )


def _size(entry: Entry) -> tuple[float, float]:
    return spread_of(entry, "capacitance").typical, spread_of(entry, "rated_voltage").high


def _across(task: Task, sketch: Sketch, nets: Terminals) -> list[Entry]:
    """Capacitors from one terminal to the other."""
    return [
        entry_of(task, part)
        for part in sketch.parts
        if part["kind"] == "capacitor" and set(pins_of(part).values()) == {nets.plus, nets.minus}
    ]
