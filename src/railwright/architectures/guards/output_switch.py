"""A switch on the panel that takes an output off its terminals."""

from __future__ import annotations

from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard, with_rail
from railwright.architectures.guards.in_the_way import behind, moved, upper_is_common
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show

BLOCK = "output"
TOGGLE = "toggle"
"""Word in the name of switches that stay as they are put; closed where nobody touches them."""


@dataclass(frozen=True)
class OutputSwitch(Guard):
    """A contact in the lead of the terminal that is not joined to the input."""

    name = "output switch"
    purpose = "switch on the panel"
    depth = 2

    def wanted(self, task: Task) -> bool:
        return self.output(task).panel.switch

    def inside(self, task: Task) -> Task:
        rail, entry = self.output(task), self.contact(task)
        nets = moved(task.terminals(self.rail), self._inner(task), upper=self._in_upper(task))
        ohms = spread_of(entry, "contact_resistance").high
        panel = replace(rail.panel, switch=False)
        return with_rail(task, replace(behind(rail, ohms), nets=nets, panel=panel))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        entry, nets = self.contact(task), task.terminals(self.rail)
        sheet = Sheet.of(sketch.parts)
        outer = nets.plus if self._in_upper(task) else nets.minus
        why = (
            f"takes the output off; {show(self._most(task), 'A')} of its "
            f"{show(spread_of(entry, 'rated_current').high, 'A')}"
        )
        pins = {"one": self._inner(task), "two": outer}
        sheet.add("S", entry.kind, BLOCK, pins, why, use=entry.name)
        return replace(sketch, parts=tuple(sheet.parts))

    def contact(self, task: Task) -> Entry:
        """The cheapest switch for current and voltage; Unserved where there is none."""
        rail, most = self.output(task), self._most(task)
        highest = max(rail.voltage.max, rail.never_above or 0.0)
        found = [
            entry
            for entry in of_kind(task.catalogue, "switch")
            if TOGGLE in entry.name
            and entry.options.get("rest") == "closed"
            and task.bears(entry, "rated_current") >= most
            and task.bears(entry, "rated_voltage") >= highest
        ]
        if not found:
            raise Unserved(
                f"no switch of the catalogue breaks {show(most, 'A')} at {show(highest, 'V')}"
            )
        return min(found, key=price_of)

    def _most(self, task: Task) -> float:
        rail = self.output(task)
        acts = rail.overload.act_by if rail.overload is not None else None
        return max(rail.current.max, acts or 0.0)

    def _in_upper(self, task: Task) -> bool:
        return not upper_is_common(task, self.output(task))

    def _inner(self, task: Task) -> str:
        return self.net(task, "UNSWITCHED")
