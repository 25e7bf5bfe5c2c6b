"""Latch with set and reset inputs and a three-state output."""

from __future__ import annotations

from railwright.devices.arithmetic import clipped, step
from railwright.devices.device import Number, Pin, Terms
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

DISABLED = 1e-6
"""What is left of a disabled output's conductance: some 40 nA at 15 V, where datasheets of the
4043 type allow 100 nA at 25 °C (from memory)."""


class SrLatch(LogicCircuit):
    """Output high from set on, low from reset on; with neither it keeps what it was.

    Two gates that drive each other: of nor gates set = S or (not R and Q), active high, where
    set wins; of nand gates active low, where reset wins. So datasheets of the 4043 and 4044
    types have it in their truth tables. With neither input active both states are steady: which
    one it is in when its supply rises is not determined. A low `enable` takes the output off
    both rails and leaves the state alone; unconnected, it is tied to the supply. Thresholds,
    output and delay are those of `logic-gate`; an edge that is too short to turn it over leaves
    it as it was. What edges take from the supply inside the part is left out.
    Source: the truth tables of these types; IEC 60748-4 for the family (from memory).
    Faults and their shares: digital CMOS circuits, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "sr-latch"
    pins = {
        "set": Pin("logic-input"),
        "reset": Pin("logic-input"),
        "enable": Pin("logic-input", optional=True),
        "output": Pin("output"),
        **SUPPLY_PINS,
    }
    options = {"gates": ("nor", "nand")}
    remembers = True
    symbol = "latch"

    def equations(self, t: Terms) -> None:
        high = clipped(t.x("state"), 0.0, 1.0, CORNER)
        held = held_level(t, high)
        if t.option("gates") == "nor":
            on, off = urges(t, high, level(t, "set"), level(t, "reset"))
            drive = greater(on, lesser(off, held))
        else:
            on, off = urges(t, high, -level(t, "set"), -level(t, "reset"))
            drive = lesser(off, greater(on, held))
        decide(t, high, drive, t.p.propagation_delay)

        wired = t.connected("enable")
        enabled: Number = 1.0
        if wired:
            enabled = DISABLED + (1.0 - DISABLED) * step(level(t, "enable") / HANDOVER + 0.5)
        current, power = give(t, "output", high, enabled)
        power = power + take(t, ["set", "reset", *(["enable"] if wired else [])])
        t.observe("output", t.v("output") - t.v("ground"))
        t.observe("output_current", current)
        t.observe("state", high)
        t.observe("power", power + draw_supply(t))
