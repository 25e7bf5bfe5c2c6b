"""Potentiometer and trimmer."""

from __future__ import annotations

from railwright.devices.arithmetic import clipped, maximum
from railwright.devices.device import Device, Fault, Pin, Rating, Terms, Value

STOP = 1e-5  # width of the rounded end stops, as a share of the travel


class Potentiometer(Device):
    """Track with a wiper: two resistors whose sum stays (Ohm's law).

    Position 0 has the wiper at `one`, position 1 at `two`. At either end the end resistance
    remains. The rated power is that of the whole track; where only a part of it carries the
    current, it is the current that stays limited, so the heaviest section current counts as if
    it went through the whole track (IEC 60393-1, from memory).
    Faults and their shares: variable resistors, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "potentiometer"
    pins = {"one": Pin("passive"), "wiper": Pin("passive"), "two": Pin("passive")}
    values = {
        "resistance": Value("Ω", "resistance of the track, end to end", least=1e-3),
        "end_resistance": Value("Ω", "resistance left at an end stop", least=1e-3),
        "travel": Value("°", "turning angle from stop to stop", least=1.0),
    }
    inputs = {"position": 0.5}
    options = {"taper": ("linear",)}
    ratings = {"rated_power": Rating("W", "track_power", "resistor", "power")}
    observes = {
        "power": "W",
        "track_power": "W",
        "voltage": "V",
        "position": "1",
    }
    faults = (
        Fault("open", 0.53, ("wiper",)),
        Fault("drift", 0.40),
        Fault("short", 0.07, ("one", "wiper")),
    )
    conducts = (("one", "wiper"), ("wiper", "two"), ("one", "two"))
    symbol = "potentiometer"

    def equations(self, t: Terms) -> None:
        position = clipped(t.p.position, 0.0, 1.0, STOP)
        first, second = t.v("one") - t.v("wiper"), t.v("wiper") - t.v("two")
        into = first / (t.p.end_resistance + t.p.resistance * position)
        out = second / (t.p.end_resistance + t.p.resistance * (1.0 - position))
        t.through("one", "wiper", into)
        t.through("wiper", "two", out)
        t.observe("power", first * into + second * out)
        t.observe("track_power", maximum(into * into, out * out) * t.p.resistance)
        t.observe("voltage", first + second)
        t.observe("position", position)
