"""Wire, trace or lead."""

from __future__ import annotations

from typing import Any, ClassVar

from railwright.devices.device import Device, Fault, Number, Rating, Terms, Value
from railwright.devices.ohmic import OHMIC_OBSERVES, OHMIC_PINS, conduct


class Wire(Device):
    """A conductor with the resistance that it has: i = v / R (Ohm's law).

    That a wire fails open only is common practice, no source.
    """

    kind = "wire"
    pins = OHMIC_PINS
    values = {"resistance": Value("Ω", "resistance from end to end", least=1e-6)}
    ratings = {"rated_current": Rating("A", "current", "wire", "current", over="rms")}
    observes = OHMIC_OBSERVES
    faults: ClassVar[tuple[Fault, ...]] = (Fault("open", 1.0),)
    conducts = (("one", "two"),)
    symbol = "wire"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"conductance": 1.0 / v.resistance}

    def equations(self, t: Terms) -> None:
        conduct(t, t.p.conductance)
