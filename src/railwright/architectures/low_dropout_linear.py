"""Low-dropout linear regulator from a direct source, of a fixed voltage or set by two legs."""

from __future__ import annotations

from dataclasses import replace

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.fixed_linear import fixed_setting
from railwright.architectures.legs import Legs
from railwright.architectures.linear import RAW, LinearFromDC, Setting
from railwright.architectures.sizing.choice import spread_of
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.quantity import show

LEG_CURRENT = 100e-6
"""A through the legs: a thousand times what the pin takes (common practice, no source)."""


class LowDropoutLinear(LinearFromDC):
    """A regulator that works with little more at its input than it gives."""

    name = "low-dropout linear"
    gives_up = "stable only with the capacitors that its datasheet asks for; survives less input"
    kinds = ("low-dropout-regulator", "adjustable-low-dropout-regulator")

    def setting(self, task: Task, rail: Output, entry: Entry) -> Setting:
        pins = {"ground": task.fed.minus}
        if entry.kind == "low-dropout-regulator":
            found = fixed_setting(task, rail, entry, pins)
            return replace(found, pins={**found.pins, **_enabled(task, entry)})
        most_across = spread_of(entry, "reference").low / LEG_CURRENT
        legs = Legs(
            "feedback", task.inner("FB"), most_across, on_output=False, current="feedback_current"
        )
        found = legs.setting(task, rail, entry, pins)
        return replace(found, pins={**found.pins, **_enabled(task, entry)})


def _enabled(task: Task, entry: Entry) -> dict[str, str]:
    """The pin that switches it on, where it has one, tied so that it is always on."""
    if "disable" not in entry.pins:
        return {}
    if entry.options.get("enable_active") == "low":
        return {"disable": task.fed.minus}
    highest, limit = task.need.input.voltage.max, spread_of(entry, "enable_maximum").high
    if highest > task.kept * limit:
        raise Unserved(
            f"its enable pin would see {show(highest, 'V')}; it survives {show(limit, 'V')}",
            reached=3,
        )
    return {"disable": task.inner(RAW)}
