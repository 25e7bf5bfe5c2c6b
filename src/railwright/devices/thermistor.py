"""What thermistors share; no kind of its own."""

from __future__ import annotations

from railwright.devices.device import (
    CASE,
    JUNCTION,
    JUNCTION_OBSERVES,
    Device,
    Fault,
    Number,
    Terms,
    dissipate,
)
from railwright.devices.noise import thermal_noise
from railwright.devices.ohmic import OHMIC_OBSERVES, OHMIC_PINS


class Thermistor(Device):
    """A resistance at the temperature of its own body, which its own power heats.

    The body takes the place of a junction: its resistance to the air is one over the dissipation
    factor, and a sensor is warmed through its `case`.
    """

    pins = {**OHMIC_PINS, **CASE}
    unknowns = JUNCTION
    observes = {**OHMIC_OBSERVES, "resistance": "Ω", **JUNCTION_OBSERVES}
    faults = (
        Fault("open", 0.63),
        Fault("drift", 0.22, moves=("resistance",)),
        Fault("short", 0.15),
    )
    conducts = (("one", "two"),)
    symbol = "thermistor"

    def carry(self, t: Terms, conductance: Number) -> None:
        """State its current and heat at a conductance [S]."""
        voltage = t.v("one") - t.v("two")
        current = voltage * conductance
        t.through("one", "two", current)
        t.noise("one", "two", thermal_noise(t.v("junction"), conductance))
        dissipate(t, voltage * current)
        t.observe("voltage", voltage)
        t.observe("current", current)
        t.observe("resistance", 1.0 / conductance)
