"""What resistors, wires and contacts share: Ohm's law between two pins; no kind of its own."""

from __future__ import annotations

from railwright.devices.device import Number, Pin, Terms
from railwright.devices.noise import thermal_noise

OHMIC_PINS = {"one": Pin("passive"), "two": Pin("passive")}
OHMIC_OBSERVES = {"power": "W", "voltage": "V", "current": "A"}


def conduct(t: Terms, conductance: Number) -> None:
    """State i = G v from `one` to `two`, G in S, with its noise at the air's temperature."""
    voltage = t.v("one") - t.v("two")
    current = voltage * conductance
    t.through("one", "two", current)
    t.noise("one", "two", thermal_noise(t.ambient, conductance))
    t.observe("power", voltage * current)
    t.observe("voltage", voltage)
    t.observe("current", current)
