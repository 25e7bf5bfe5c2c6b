"""Alternating-current mains, or the secondary of a transformer that is not looked into."""

from __future__ import annotations

import math

from railwright.devices.arithmetic import sin
from railwright.devices.device import Device, Pin, Terms, Unknown, Value

PACE = 0.01
"""Longest step as a share of the period: a rectifier's pulse of current lasts longer."""


class MainsSource(Device):
    """A sine voltage behind a resistance and an inductance (Thévenin).

    v = sqrt(2) V sin(2 pi f t + phase) - R i - L di/dt, the definition of an effective value.
    What public mains may do is in `standards.mains`.
    It is the surroundings, so it has no faults. Where nothing moves it stands at its phase: an
    operating point sees no mean of it.
    """

    kind = "mains-source"
    pins = {"live": Pin("power-output"), "neutral": Pin("ground")}
    values = {
        "frequency": Value("Hz", "frequency of the mains", least=1.0),
        "resistance": Value("Ω", "output resistance", least=1e-6),
        "inductance": Value("H", "output inductance", default=0.0, least=0.0),
    }
    inputs = {"voltage": 0.0, "phase": 0.0}
    """Effective value [V]; phase at the start [rad]."""
    drives = ("voltage",)
    unknowns = {"current": Unknown("A")}
    observes = {"current": "A", "voltage": "V", "power": "W"}
    conducts = (("live", "neutral"),)
    symbol = "mains-source"
    surroundings = True

    def equations(self, t: Terms) -> None:
        current = t.x("current")
        voltage = t.v("live") - t.v("neutral")
        turned = 2.0 * math.pi * t.p.frequency * t.time + t.p.phase
        inner = math.sqrt(2.0) * t.p.voltage * sin(turned)
        t.pace(PACE / t.p.frequency)
        t.zero("current", inner - voltage - t.p.resistance * current)
        t.flux("current", t.p.inductance * current)
        t.through("neutral", "live", current)
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("power", -voltage * current)
