"""A switch with a clock and a comparator, by itself small enough for closed forms."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from railwright.devices.arithmetic import step
from railwright.devices.device import Device, Pin, Terms, Unknown, Value


@dataclass(frozen=True)
class Placed:
    """A part for a topology."""

    ref: str
    device: Device
    pins: Mapping[str, str]
    options: Mapping[str, str] = field(default_factory=dict)


class ClockedSwitch(Device):
    """Closes at each tick of a clock where it is wanted and opens when a ramp passes the control.

    The control is `level` plus the amplified error of the feedback pin, lagging by `lag`.
    """

    kind = ""
    pins = {
        "input": Pin("passive"),
        "switch": Pin("passive"),
        "feedback": Pin("feedback"),
    }
    values = {
        "period": Value("s", "clock period"),
        "gain": Value("V/V", "gain of the error amplifier"),
        "level": Value("V", "control without error, of a ramp of 1 V"),
        "reference": Value("V", "reference"),
        "lag": Value("s", "time constant of the error amplifier"),
        "on_resistance": Value("Ω", "resistance of the closed switch"),
    }
    holds = {"tick": 0.0, "on": 1.0}
    unknowns = {"control": Unknown("V"), "current": Unknown("A")}

    def equations(self, t: Terms) -> None:
        control, current = t.x("control"), t.x("current")
        error = t.p.reference - t.v("feedback")
        t.zero("control", t.p.level + t.p.gain * error - control)
        t.flux("control", t.p.lag * control)
        voltage = t.v("input") - t.v("switch")
        closed = voltage - current * t.p.on_resistance
        t.zero("current", t.p.on * closed + (1.0 - t.p.on) * (1e-9 * voltage - current))
        t.through("input", "switch", current)
        ramp = (t.time - t.p.tick) / t.p.period
        wanted = step(1e6 * control)
        t.event(t.time - t.p.tick - t.p.period, tick=t.p.tick + t.p.period, on=wanted)
        t.event(ramp - control, on=0.0)
