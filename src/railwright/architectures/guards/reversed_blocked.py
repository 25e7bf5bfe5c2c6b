"""A p-channel transistor that blocks a battery which is connected the wrong way round.

Its drain is on the battery, so that its body diode carries what starts the supply; its gate is
drawn to the return, and a battery the wrong way round turns it off. Source: common practice, no
source; every value has its own formula.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard, with_input
from railwright.architectures.guards.in_the_way import drawn, outlasts, parted
from railwright.architectures.guards.p_channel import PChannel, none_carries, p_channels
from railwright.architectures.guards.reversed_battery import BLOCK, guarded_behind
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import price_of, spread_of
from railwright.architectures.sketched import behind_fuse, fuse_of
from railwright.architectures.small_parts import draw_resistor
from railwright.quantity import show
from railwright.standards.iec60063 import nearest

GATE = 100e3
"""Ω at the gate, about: turns it off within a millisecond, and takes no current to speak of from
the battery where a zener diode stands (common practice, no source)."""


@dataclass(frozen=True)
class ReversedBlocked(Guard):
    """Where the drop of a diode in series is not to be had; nothing opens and nothing is lost.

    The outermost, so that all that stands behind the fuse is behind it, too.
    """

    name = "transistor against the wrong polarity"
    purpose = "wrong polarity"
    preference = -1
    of_input = True

    def wanted(self, task: Task) -> bool:
        return task.need.input.kind == "battery"

    def inside(self, task: Task) -> Task:
        source = task.need.input
        ohms = source.resistance + self.switch(task).on
        return with_input(task, replace(source, resistance=ohms))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        net, fuse = behind_fuse(task, sketch), fuse_of(task, sketch)
        if fuse is None:
            raise Unserved("no fuse is at the input, behind which it would stand")
        if guarded_behind(sketch, net):
            return sketch
        if any(part["kind"] == "thyristor" for part in sketch.parts):
            raise Unserved("the current that a crowbar draws until the fuse opens is not sized")
        switch = self.switch(task)
        outlasts(task, sketch, spread_of(switch.entry, "on_resistance").low)
        battery, gate = self.net(task, "BATTERY"), self.net(task, "POLARITY_GATE")
        sheet = parted(sketch, fuse, net, battery)
        self._draw(task, sheet, switch, (battery, net, gate))
        return replace(sketch, parts=tuple(sheet.parts))

    def switch(self, task: Task) -> PChannel:
        """The transistor of the least price, then the least resistance; Unserved without one."""
        source, taken = task.need.input, drawn(task)
        fed = source.voltage.min - taken * source.resistance, source.voltage.max
        found: list[PChannel] = []
        refused: list[Unserved] = []
        for entry in p_channels(task, taken, source.voltage.max):
            switch = PChannel(task, entry, taken, fed)
            try:
                assert switch.zener or fed
                assert switch.cooling
            except Unserved as unserved:
                refused.append(Unserved(f"{entry.name}: {unserved.reason}"))
                continue
            blocked = source.voltage.max + spread_of(entry, "threshold_voltage").high
            if entry in p_channels(task, taken, blocked):
                found.append(switch)
        if not found:
            raise refused[0] if refused else none_carries(taken, source.voltage.max)
        return min(found, key=lambda each: (price_of(each.entry), each.on))

    def _draw(self, task: Task, sheet: Sheet, switch: PChannel, nets: tuple[str, str, str]) -> None:
        battery, net, gate = nets
        (low, high), zener, cooling = switch.fed, switch.zener, switch.cooling
        tab, sink = self.net(task, "POLARITY_TAB"), self.net(task, "POLARITY_SINK")
        case = {"case": tab} if cooling.sink is not None else {}
        why = (
            "blocks a battery that is the wrong way round, where a diode in series would take more "
            f"than is to be had; else on: at most {show(switch.on, 'Ω')} hot, "
            f"{show(switch.current * switch.on, 'V')} at {show(switch.current, 'A')}; {cooling.why}"
        )
        pins = {"source": net, "drain": battery, "gate": gate} | case
        sheet.add("Q", switch.entry.kind, BLOCK, pins, why, use=switch.entry.name)
        draw_cooling(sheet, cooling, tab, sink, BLOCK)
        most = high
        if zener is not None:
            most = spread_of(zener, "zener_voltage").high
            why = f"bounds the gate at {show(most, 'V')}; {show(switch.most, 'V')} may be used"
            pins = {"anode": gate, "cathode": net}
            sheet.add("D", zener.kind, BLOCK, pins, why, use=zener.name)
        why = (
            f"{show(min(low, most), 'V')} to {show(most, 'V')} at the gate; its resistance is "
            f"stated for {show(spread_of(switch.entry, 'on_gate_voltage').typical, 'V')}"
        )
        ohms = nearest(GATE, task.need.parts.series)
        draw_resistor(sheet, task, BLOCK, (gate, task.fed.minus), ohms, why)
