"""What resistors, wires and contacts share: Ohm's law between two pins; no kind of its own."""

from __future__ import annotations

from railwright.devices.arithmetic import log
from railwright.devices.device import Number, Pin, Terms, Value
from railwright.devices.noise import thermal_noise

OHMIC_PINS = {"one": Pin("passive"), "two": Pin("passive")}
OHMIC_OBSERVES = {"power": "W", "voltage": "V", "current": "A"}
EXCESS_NOISE = {
    "excess_noise": Value(
        "V/V",
        "noise in a decade of frequency, over the voltage across",
        default=0.0,
        least=0.0,
        dynamic=True,
    )
}


def conduct(t: Terms, conductance: Number, excess: Number = 0.0) -> None:
    """State i = G v from `one` to `two`, G in S, with its noise at the air's temperature.

    excess [V/V]: root of the 1/f noise in any decade, over the voltage across, as makers state it.
    Source: definition of the noise of resistors in IEC 60195 (from memory).
    """
    voltage = t.v("one") - t.v("two")
    current = voltage * conductance
    t.through("one", "two", current)
    thermal, pushed = thermal_noise(t.ambient, 1.0), excess * voltage
    corner = conductance * pushed * pushed / (log(10.0) * thermal)
    t.noise("one", "two", thermal * conductance, corner)
    t.observe("power", voltage * current)
    t.observe("voltage", voltage)
    t.observe("current", current)
