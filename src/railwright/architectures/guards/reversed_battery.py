"""A diode behind the fuse that opens it when a battery is connected the wrong way round."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.let_through import let_through, withstood
from railwright.architectures.sketched import behind_fuse, entry_of, fuse_of, pins_of
from railwright.catalogue.entry import Entry
from railwright.circuit.writer import NewTable
from railwright.quantity import show

BLOCK = "input"
HALF_WAVE = 8.3e-3
"""s; of the half wave for which surge currents of diodes are stated."""
FORWARD = 1.5
"""V across a diode that carries its surge current, at most (datasheets of Schottky diodes)."""


@dataclass(frozen=True)
class ReversedBattery(Guard):
    """Of batteries alone: other sources have plugs that fit one way round (common practice).

    Nothing is added where a diode in series, or a suppressor, is there already, nor where no diode
    survives until the fuse opens: no demand of a need is broken by that.
    """

    name = "guard of the polarity"
    purpose = "wrong polarity"
    depth = 8
    of_input = True

    def wanted(self, task: Task) -> bool:
        return task.need.input.kind == "battery"

    def inside(self, task: Task) -> Task:
        return task

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        net, fuse = behind_fuse(task, sketch), fuse_of(task, sketch)
        if fuse is None or guarded_behind(sketch, net):
            return sketch
        try:
            chosen = shunt_diode(task, entry_of(task, fuse))
        except Unserved:
            return sketch
        sheet = Sheet.of(sketch.parts)
        pins = {"anode": task.fed.minus, "cathode": net}
        sheet.add("D", "diode", BLOCK, pins, chosen.why, use=chosen.entry.name)
        return replace(sketch, parts=tuple(sheet.parts))


def guarded_behind(sketch: Sketch, net: str) -> bool:
    """Whether something behind a fuse stands a reversed source already."""
    return any(_guards(part, net) for part in sketch.parts)


def _guards(part: NewTable, net: str) -> bool:
    """Whether a part behind the fuse stands a reversed source, or opens the fuse."""
    pins = pins_of(part)
    if part["kind"] == "suppressor":
        return pins["cathode"] == net
    return part["kind"] == "diode" and pins["anode"] == net


def shunt_diode(task: Task, fuse: Entry) -> Choice:
    """The cheapest diode that survives until a fuse has opened; Unserved where there is none."""
    source, own = task.need.input, spread_of(fuse, "resistance")
    most = source.voltage.max / (source.resistance + own.low)
    least = (source.voltage.min - FORWARD) / (source.resistance + own.high)
    melts = spread_of(fuse, "melting_current").high
    if least * task.kept <= melts:
        raise Unserved(
            f"a battery the wrong way round gives {show(least, 'A')}; the {fuse.name} melts at up "
            f"to {show(melts, 'A')}"
        )
    found: list[Entry] = []
    through = 0.0
    for entry in of_kind(task.catalogue, "diode"):
        if not {"surge_current", "reverse_voltage"} <= entry.values.keys():
            continue
        through, stands = _worst(entry, fuse, (least, most))
        blocks = task.bears(entry, "reverse_voltage")
        if through <= task.kept * stands and source.voltage.max <= blocks:
            found.append(entry)
    if not found:
        raise Unserved(
            f"the {fuse.name} lets {show(through, 'A²s')} through before it opens; no diode of the "
            "catalogue survives that"
        )
    best = min(found, key=lambda e: (price_of(e), _blocks(e)))
    through, stands = _worst(best, fuse, (least, most))
    return Choice(
        best,
        f"conducts from a battery that is the wrong way round until the {fuse.name} opens, which "
        f"lets {show(through, 'A²s')} through; one half wave of {show(HALF_WAVE, 's')} makes it "
        f"survive {show(stands, 'A²s')}",
    )


def _worst(diode: Entry, fuse: Entry, currents: tuple[float, float]) -> tuple[float, float]:
    """What the fuse lets through, and what the diode survives then, where that is nearest."""
    crest = spread_of(diode, "surge_current").low
    seen = [let_through(fuse, current) for current in currents]
    pairs = [(through, withstood(crest, HALF_WAVE, seconds)) for through, seconds in seen]
    return max(pairs, key=lambda pair: pair[0] / pair[1] if pair[1] else math.inf)


def _blocks(entry: Entry) -> float:
    return spread_of(entry, "reverse_voltage").high
