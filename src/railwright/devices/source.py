"""Source: what feeds a supply (a brick, a rectified mains rail, a bench supply)."""

from __future__ import annotations

from railwright.devices.arithmetic import clipped
from railwright.devices.device import Device, Number, Pin, Rating, Terms, Unknown, Value

IDLE = 1e-5  # A; what a source takes in at most, so that its voltage is defined without a load
BLEED = 1e-4  # S; and on top of it per volt too much: the bleeder of a usual supply (from memory)
OHM = 1.0  # Ω; how far the drive runs beyond a limit per volt that is left


class Source(Device):
    """A voltage behind a resistance (Thévenin), with a current limit.

    In its limit it is a current source, the usual straight-line limit of laboratory supplies
    (common practice, no source). It cannot sink: overfed, it takes in what its bleeder takes.
    `inductance` is that of its cable. It is the surroundings, so it has no faults and no noise:
    what it brings along is a matter of its voltage.
    """

    kind = "source"
    pins = {"plus": Pin("power-output"), "minus": Pin("ground")}
    values = {
        "resistance": Value("Ω", "output resistance", least=1e-6),
        "current_limit": Value("A", "current limit", default=1e3, least=1e-4),
        "inductance": Value("H", "of its cable", default=0.0, least=0.0, dynamic=True),
    }
    inputs = {"voltage": 0.0}
    drives = ("voltage",)
    ratings = {"rated_current": Rating("A", "current")}
    unknowns = {"drive": Unknown("A")}
    observes = {"current": "A", "voltage": "V", "power": "W", "current_limit": "A"}
    conducts = (("plus", "minus"),)
    symbol = "source"
    surroundings = True

    def equations(self, t: Terms) -> None:
        give(t, t.p.current_limit)
        t.observe("current_limit", t.p.current_limit)


def give(t: Terms, limit: Number) -> None:
    """State what a source gives, with a limit of its current [A]."""
    drive, voltage = t.x("drive"), t.v("plus") - t.v("minus")
    inside = clipped(drive, -IDLE, limit, IDLE)
    overrun = (drive - inside) * OHM
    current = inside + BLEED * overrun
    t.zero("drive", t.p.voltage - voltage - current * t.p.resistance - overrun)
    t.flux("drive", t.p.inductance * current)
    t.through("minus", "plus", current)
    t.observe("current", current)
    t.observe("voltage", voltage)
    t.observe("power", -voltage * current)
