"""The limit that a linear regulator has by itself, where the band of the need is wide enough.

Nothing is added: what is sized is whether the limit of the type lies within the band.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard, with_rail
from railwright.architectures.sizing.capacitors import bears
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sketched import entry_of, pins_of, rectified
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.tables import Range
from railwright.quantity import show

STYLES = "constant-current", "foldback"
"""What such a limit is: it falls where much voltage is across."""
HEAVY = 1.2
"""Times the current by which it is to act would the least overload take that is looked at."""


@dataclass(frozen=True)
class OwnLimit(Guard):
    """Of one regulator with nothing beside it that carries a part of the current."""

    name = "the regulator's own limit"
    purpose = "overload"
    depth = 60
    dispensable = True

    def wanted(self, task: Task) -> bool:
        overload = self.output(task).overload
        return overload is not None and overload.style in STYLES

    def inside(self, task: Task) -> Task:
        rail = self.output(task)
        carry, _ = band_of(rail)
        current = Range(rail.current.min, max(rail.current.max, carry))
        return with_rail(task, replace(rail, current=current, overload=None))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        rail = self.output(task)
        nets = task.terminals(self.rail)
        ends = {nets.plus, nets.minus}
        gives = [part for part in sketch.parts if ends & {pins_of(part).get("output", "")}]
        passes = [p for p in sketch.parts if ends & {pins_of(p).get("collector", "")}]
        if not gives or passes or "current_limit" not in entry_of(task, gives[0]).values:
            raise Unserved("what gives the output has no limit of its own that bounds all of it")
        entry = entry_of(task, gives[0])
        low, high = limits(rail, entry, _highest(task, sketch))
        carry, act_by = band_of(rail)
        spare = (1.0 - task.kept) * (act_by - carry)
        told = (
            f"the limit of the {entry.name} lies between {show(low, 'A')} and {show(high, 'A')}; "
            f"{show(carry, 'A')} are to be carried, and it is to act by {show(act_by, 'A')}"
        )
        if low < carry + spare or high > act_by - spare:
            raise Unserved(f"{told}, the wanted reserve left on either side")
        why = f"{gives[0]['why']}; {told}"
        parts = tuple({**part, "why": why} if part is gives[0] else part for part in sketch.parts)
        return replace(sketch, parts=parts)


def band_of(rail: Output) -> tuple[float, float]:
    """What is to be carried, and by which current it is to act [A]; Unserved where nobody says."""
    overload = rail.overload
    if overload is None or overload.act_by is None:
        raise Unserved(f"nobody says by which current the limit of {rail.name} is to act")
    return overload.carry or rail.current.max, overload.act_by


def _highest(task: Task, sketch: Sketch) -> float:
    """What feeds it at most [V]; behind a rectifier by what its reservoir is made for."""
    if task.need.input.kind != "ac":
        return task.need.input.voltage.max
    raw = rectified(sketch)
    borne = [
        bears(task, entry_of(task, part))
        for part in sketch.parts
        if part["kind"] == "capacitor" and raw & set(pins_of(part).values())
    ]
    return max(borne, default=0.0)


def limits(rail: Output, entry: Entry, highest: float) -> tuple[float, float]:
    """Least and greatest current that a limit lets through into a heavy load [A].

    I = L (1 - f (Vin - I R - V0)) with R = Vout / (1.2 times the current by which it is to act), as
    `devices.linear_regulator` has it: solved for I at the unfavourable ends. highest: what feeds
    it [V].
    """
    stated = spread_of(entry, "current_limit")
    if "limit_fall" not in entry.values:
        return stated.low, stated.high
    _, act_by = band_of(rail)
    fall = spread_of(entry, "limit_fall").high
    begins = spread_of(entry, "limit_fall_from").typical
    ohms = rail.voltage.min / (HEAVY * act_by)
    sloped = stated.low * (1.0 - fall * (highest - begins)) / (1.0 - stated.low * fall * ohms)
    return max(0.0, min(stated.low, sloped)), stated.high
