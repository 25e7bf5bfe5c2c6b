"""Light-emitting diode."""

from __future__ import annotations

from railwright.devices.device import Fault, Terms
from railwright.devices.diode import Diode


class LightEmittingDiode(Diode):
    """A diode of a wide gap, whose light is proportional to its current.

    The law is that of `diode`. Its gap is to be the one extrapolated to absolute zero, from which
    the forward voltage falls with temperature in a straight line; that of the colour, 1240 nm over
    the wavelength in volts, is some tenths less (Sze, Physics of Semiconductor Devices, chapter on
    LEDs and lasers). `brightness` is the light as a share of that at the test
    current; that it grows straight with the current holds up to there. All of the power taken
    counts as heat, which is on the safe side by the tenth or so that leaves as light.
    Faults and their shares: light-emitting diodes, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "light-emitting-diode"
    observes = {**Diode.observes, "brightness": "1"}
    faults = (Fault("open", 0.70), Fault("short", 0.30))
    symbol = "light-emitting-diode"

    def equations(self, t: Terms) -> None:
        current = self.conduct(t)
        t.observe("brightness", current / t.p.test_current)
