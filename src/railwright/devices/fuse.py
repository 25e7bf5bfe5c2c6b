"""Fuse."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import maximum, where
from railwright.devices.device import Device, Fault, Number, Rating, Terms, Unknown, Value
from railwright.devices.ohmic import OHMIC_OBSERVES, OHMIC_PINS, conduct

BLOWN = 1e-6  # S; IEC 60127-1 (from memory) wants 0.1 MΩ at least of one that has opened


class Fuse(Device):
    """A whole fuse: its cold resistance, i = v / R (Ohm's law). Cycle by cycle it heats and opens.

    `heat` is the temperature of its element over the air, as a share of that at which it melts:
    tau d(heat)/dt = (i / Im)² - heat, one heat capacity and one resistance to the air, the thermal
    model of every textbook. So a steady current opens it after -tau ln(1 - (Im / i)²); one below
    the melting current Im never does, and of a short surge only the melting integral counts,
    tau Im² = i² t, which makers publish. Once it has melted it stays `blown`; `overstrained` tells
    that it then carried more than it can break, so that it may burst or go on burning. What is
    left out: the arc, a resistance that rises as the element warms (at the rated current about a
    quarter, from memory), and that a warm place ages it. `equations` have no time: there it is
    whole, whatever it carries.
    Faults and their shares: fuses, RAC FMD-97 as commonly quoted (from memory); one that does
    not open when it should is no failure of a circuit that works, so it is left out.
    """

    kind = "fuse"
    pins = OHMIC_PINS
    values = {
        "resistance": Value("Ω", "cold resistance", least=1e-6),
        "melting_current": Value("A", "least one that ever opens it", least=1e-3, dynamic=True),
        "melting_integral": Value(
            "A²s", "of the current squared, that opens it at once", least=1e-7, dynamic=True
        ),
        "breaking_capacity": Value(
            "A", "greatest current that it can break", least=0.1, dynamic=True
        ),
    }
    holds = {"blown": 0.0, "overstrained": 0.0}
    ratings = {"rated_current": Rating("A", "current", "fuse", "current", over="rms")}
    switched_unknowns = {"heat": Unknown("1")}
    observes = {**OHMIC_OBSERVES, "blown": "1", "overstrained": "1"}
    faults = (Fault("open", 1.0),)
    conducts = (("one", "two"),)
    symbol = "fuse"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"conductance": 1.0 / v.resistance}

    def equations(self, t: Terms) -> None:
        conduct(t, t.p.conductance)
        t.observe("blown", t.p.blown)
        t.observe("overstrained", t.p.overstrained)

    def switched_equations(self, t: Terms) -> None:
        conductance = t.p.conductance + t.p.blown * (BLOWN - t.p.conductance)
        conduct(t, conductance)
        current = (t.v("one") - t.v("two")) * conductance
        share = current / t.p.melting_current
        t.zero("heat", share * share - t.x("heat"))
        square = t.p.melting_current * t.p.melting_current
        t.flux("heat", t.p.melting_integral / square * t.x("heat"))
        beyond = where(abs(current) - t.p.breaking_capacity, 1.0, 0.0)
        strained = maximum(t.p.overstrained, beyond)
        t.event(t.x("heat") - 1.0, blown=1.0, overstrained=strained)
        t.observe("blown", t.p.blown)
        t.observe("overstrained", t.p.overstrained)
