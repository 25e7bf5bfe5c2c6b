"""Flip-flop with data, clock, set and reset inputs."""

from __future__ import annotations

from railwright.devices.arithmetic import clipped, step
from railwright.devices.device import Number, Pin, Terms, Unknown, Value
from railwright.devices.integrated import SUPPLY_PINS, draw_supply
from railwright.devices.logic import (
    CORNER,
    HANDOVER,
    LogicCircuit,
    decide,
    give,
    greater,
    held_level,
    lesser,
    level,
    take,
    urges,
)


class DFlipFlop(LogicCircuit):
    """Takes over its data where the clock rises; set and reset override that at any time.

    Two latches one behind the other, as in the logic diagram in datasheets of the 4013 type: the
    first (`master`) follows the data while the clock is low and holds them while it is high, the
    second (`state`) follows the first while the clock is high. The first closes before the
    second opens, so that a slow edge lets nothing through. Both set and reset active make both
    outputs high, as the truth table has it. Data must stand before the edge for the set-up time,
    in which the first latch turns over; no hold time is needed.

    While neither set nor reset is active both states are steady at any level of data and clock:
    which one it is in when its supply rises is not determined. Thresholds, outputs and delay are
    those of `logic-gate`. What edges take from the supply inside the part is left out. Source:
    truth table and logic diagram in datasheets of the 4013 type; IEC 60748-4 for the family (from
    memory).
    Faults and their shares: digital CMOS circuits, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "d-flip-flop"
    pins = {
        "data": Pin("logic-input"),
        "clock": Pin("logic-input"),
        "set": Pin("logic-input"),
        "reset": Pin("logic-input"),
        "output": Pin("output"),
        "inverted": Pin("output", optional=True),
        **SUPPLY_PINS,
    }
    values = {
        **LogicCircuit.values,
        "setup_time": Value(
            "s", "for which data must stand before the clock rises", least=1e-10, dynamic=True
        ),
    }
    unknowns = {"state": Unknown("1"), "master": Unknown("1")}
    remembers = True
    conducts = (*LogicCircuit.conducts, ("supply", "inverted"), ("inverted", "ground"))
    symbol = "flip-flop"

    def equations(self, t: Terms) -> None:
        first, high = (clipped(t.x(name), 0.0, 1.0, CORNER) for name in ("master", "state"))
        set_level, reset_level = level(t, "set"), level(t, "reset")

        def overridden(drive: Number, own: Number) -> Number:
            on, off = urges(t, own, set_level, reset_level)
            return greater(on, lesser(off, drive))

        clock = level(t, "clock") / HANDOVER
        closed, opened = step(clock + 1.0), step(clock)
        stored = held_level(t, first)
        taken = (1.0 - closed) * level(t, "data") + closed * stored
        shown = (1.0 - opened) * held_level(t, high) + opened * stored
        decide(t, first, overridden(taken, first), t.p.setup_time, "master")
        decide(t, high, overridden(shown, high), t.p.propagation_delay)

        current, power = give(t, "output", high)
        if t.connected("inverted"):
            both = step(lesser(set_level, reset_level) / HANDOVER)
            _, other = give(t, "inverted", 1.0 - high * (1.0 - both))
            power = power + other
        power = power + take(t, ["data", "clock", "set", "reset"])
        t.observe("output", t.v("output") - t.v("ground"))
        t.observe("output_current", current)
        t.observe("state", high)
        t.observe("power", power + draw_supply(t))
