"""Crowbars: a thyristor that shorts an output which goes too high, until a fuse opens.

What fires it lies between the highest voltage of a sound supply and what the load survives, at the
limits of every part. Source: common practice of bench supplies, no source; every value has its own
formula.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard, with_rail
from railwright.architectures.regulator import ACCURACY, ROOM
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.base_voltage import DRIFT
from railwright.architectures.sizing.capacitors import bears
from railwright.architectures.sizing.charge_shared import Store
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor
from railwright.architectures.sizing.thyristors import thyristor
from railwright.architectures.sketched import entry_of, fuse_of, pins_of, reservoirs
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
        return with_rail(task, replace(rail, never_above=None))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        rail, fuse = self.output(task), _fuse(task, sketch)
        shorts = _shorts(task, sketch, fuse)
        window = Window.of(task, rail, sketch.turned_up.get(rail.name, 0.0))
        sheet = Sheet.of(sketch.parts)
        self.fire(task, sheet, window, shorts)
        holds = _holds(task, self.rail, sketch, fuse, window)
        if holds is not None:
            nets = task.terminals(self.rail)
            pins = {"plus": nets.plus, "minus": nets.minus}
            sheet.add("C", "capacitor", BLOCK, pins, holds.why, use=holds.entry.name)
        return replace(sketch, parts=tuple(sheet.parts))

    def fire(self, task: Task, sheet: Sheet, window: Window, shorts: Choice) -> None:
        """Draw a thyristor and what fires it; Unserved where that does not hit the window."""
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


def _fuse(task: Task, sketch: Sketch) -> Entry:
    """The fuse at the input of a circuit; Unserved where nothing opens."""
    part = fuse_of(task, sketch)
    if part is None:
        raise Unserved("this kind has no fuse at its input that a shorted output would open")
    return entry_of(task, part)


def _shorts(task: Task, sketch: Sketch, fuse: Entry) -> Choice:
    """The thyristor for what flows with the pass element and the output shorted."""
    source, limit = task.need.input, task.need.input.limit
    if source.kind == "ac":
        raise Unserved("what the mains drive into a short circuit is not sized")
    own = spread_of(fuse, "resistance")
    most = source.voltage.max / (source.resistance + own.low)
    ohms = source.resistance + own.high + SHORTED + _in_the_way(task, sketch)
    least = (source.voltage.min - ON) / ohms
    melts = spread_of(fuse, "melting_current").high
    if limit is not None:
        least, most = min(least, limit.current), min(most, limit.current)
    if least >= melts / task.kept:
        return thyristor(task, fuse, (least, most), source.voltage.max)
    if limit is None or limit.style not in GIVES_UP:
        raise Unserved(
            f"a short circuit draws {show(least, 'A')} at least; the {fuse.name} melts at up to "
            f"{show(melts, 'A')}, and the thyristor would burn"
        )
    return _lasting(task, source.voltage.max, most, f"the source gives up ({limit.style})")


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


def _holds(task: Task, rail: str, sketch: Sketch, fuse: Entry, window: Window) -> Choice | None:
    """A capacitor at the output that takes what comes before the thyristor conducts.

    None where those that stand there do, or where a coil lets nothing come that fast. Unserved
    where none of the catalogue does.
    """
    if any(part["kind"] == "inductor" for part in sketch.parts):
        return None
    nets, source = task.terminals(rail), task.need.input
    fed = [entry_of(task, part) for part in reservoirs(task, sketch)]
    across = _across(task, sketch, nets)
    reservoir = Store.of(fed, source.voltage.max, "strong")
    limit = window.kept * window.survived
    ohms = max(source.resistance, LEAST_SOURCE) + spread_of(fuse, "resistance").low
    given = (source.voltage.max - limit) / ohms * FIRES

    def reached(more: Sequence[Entry]) -> float:
        stands = Store.of([*across, *more], window.top, "weak")
        first, then = reservoir.joined(stands)
        rises = then + given / (reservoir.capacitance + stands.capacitance)
        return min(max(first, rises), reservoir.voltage)

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
