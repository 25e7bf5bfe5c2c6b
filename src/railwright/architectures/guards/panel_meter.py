"""A meter on the panel: its supply, where it measures, its shunt in the return of the load.

It is fed from the input, so that its own current does not flow in its shunt.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard, with_rail
from railwright.architectures.guards.in_the_way import behind, moved, upper_is_common
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import bears
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sketched import behind_fuse, entry_of, pins_of
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output, Terminals
from railwright.circuit.tables import Range
from railwright.quantity import show

BLOCK = "meter"
NO_SHUNT = 0.1
"""A; what a meter bears that has no shunt is less than this."""


@dataclass(frozen=True)
class PanelMeter(Guard):
    """Voltage against the supply's side of the shunt, and the current of the load alone."""

    name = "panel meter"
    purpose = "meter on the panel"
    depth = 1

    def wanted(self, task: Task) -> bool:
        return self.output(task).panel.meter is not None

    def inside(self, task: Task) -> Task:
        rail, entry = self.output(task), self.meter(task)
        own = spread_of(entry, "supply_current").high
        if upper_is_common(task, rail):
            raise Unserved(f"{rail.name} lies below the return; such a meter measures above it")
        shown = replace(rail, panel=replace(rail.panel, meter=None))
        if not self._has_shunt(task):
            return with_rail(task, _fed_too(shown, own))
        outer = task.terminals(self.rail)
        if outer.minus == task.fed.minus:
            raise Unserved(
                f"its shunt lies in the return of {rail.name}, which is that of the input; give "
                "the output a minus of its own"
            )
        nets = moved(outer, self._return(task), upper=False)
        ohms = spread_of(entry, "shunt_resistance").high
        return with_rail(task, replace(_fed_too(behind(shown, ohms), own), nets=nets))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        entry, outer = self.meter(task), task.terminals(self.rail)
        fed, ground, most = self._fed(task, sketch)
        limit = spread_of(entry, "supply_maximum").high
        if most > task.bears(entry, "supply_maximum"):
            raise Unserved(
                f"its supply would see {show(most, 'V')}; of its {show(limit, 'V')} "
                f"{show(task.share(entry, 'supply_maximum'), '1')} may be used"
            )
        pins = {"supply": fed, "ground": ground, "input": outer.plus}
        why = f"shows the voltage; fed with at most {show(most, 'V')} of {show(limit, 'V')}"
        if self._has_shunt(task):
            pins["shunt"] = outer.minus
            ohms = spread_of(entry, "shunt_resistance").high
            drop = show(ohms * self.output(task).current.max, "V")
            why += f"; its shunt in the return of the load takes {drop} at most"
        sheet = Sheet.of(sketch.parts)
        sheet.add("M", entry.kind, BLOCK, pins, why, use=entry.name)
        return replace(sketch, parts=tuple(sheet.parts))

    def meter(self, task: Task) -> Entry:
        """The cheapest meter whose ranges are wide enough; Unserved where there is none."""
        rail = self.output(task)
        acts = rail.overload.act_by if rail.overload is not None else None
        most, highest = max(rail.current.max, acts or 0.0), rail.never_above or rail.voltage.max
        found = [
            entry
            for entry in of_kind(task.catalogue, "panel-meter")
            if task.bears(entry, "input_maximum") >= highest
            and (
                not self._has_shunt(task)
                or task.bears(entry, "current_maximum") >= max(most, NO_SHUNT)
            )
        ]
        if not found:
            raise Unserved(
                f"no meter of the catalogue goes to {show(highest, 'V')} and {show(most, 'A')}"
            )
        return min(found, key=price_of)

    def _has_shunt(self, task: Task) -> bool:
        return self.output(task).panel.meter != "voltage"

    def _return(self, task: Task) -> str:
        """Net at the supply's side of the shunt."""
        common = self.output(task).reference == "common with input"
        return task.fed.minus if common else self.net(task, "RETURN")

    def _fed(self, task: Task, sketch: Sketch) -> tuple[str, str, float]:
        """What the meter lives on, its return, and the most of it [V]."""
        inner = self._return(task) if self._has_shunt(task) else task.terminals(self.rail).minus
        if task.need.input.kind != "ac":
            return behind_fuse(task, sketch), task.fed.minus, task.need.input.voltage.max
        for part in sketch.parts:
            if part["kind"] == "bridge-rectifier":
                raw = Terminals(pins_of(part)["plus"], pins_of(part)["minus"])
                return raw.plus, inner, _most_of(task, sketch, raw)
        raise Unserved("this kind has no raw voltage that it could live on")


def _fed_too(rail: Output, current: float) -> Output:
    """A rail sized for the own current of its meter, too, which what feeds it has to give [A]."""
    return replace(rail, current=Range(rail.current.min, rail.current.max + current))


def _most_of(task: Task, sketch: Sketch, raw: Terminals) -> float:
    """What a reservoir may have, by how it was chosen [V]."""
    borne = [
        bears(task, entry_of(task, part))
        for part in sketch.parts
        if part["kind"] == "capacitor" and pins_of(part)["plus"] == raw.plus
    ]
    return min(borne, default=float("inf"))
