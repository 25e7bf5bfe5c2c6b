"""Bridge rectifier: four diodes in one package."""

from __future__ import annotations

from railwright.devices.arithmetic import maximum
from railwright.devices.device import (
    CASE,
    JUNCTION,
    JUNCTION_OBSERVES,
    Fault,
    Number,
    Pin,
    Terms,
    Unknown,
    dissipate,
)
from railwright.devices.diode import Diode, rectify

ARMS = {
    "first_up": ("first", "plus"),
    "second_up": ("second", "plus"),
    "first_down": ("minus", "first"),
    "second_down": ("minus", "second"),
}
"""Running coordinate of each diode, its anode and its cathode."""


class BridgeRectifier(Diode):
    """Four diodes of one kind, by the law of `diode`, that share one chip temperature.

    The values are those of one diode; `current` is what leaves at the plus pin, for which
    bridges are rated, `reverse_voltage` that of the diode which blocks the most. A package
    carries its heat to one case, so that all four count as equally warm (common practice, no
    source).
    Faults and their shares: rectifiers, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "bridge-rectifier"
    pins = {
        "first": Pin("passive"),
        "second": Pin("passive"),
        "plus": Pin("cathode"),
        "minus": Pin("anode"),
        **CASE,
    }
    unknowns = {**{name: Unknown("V") for name in ARMS}, **JUNCTION}
    observes = {"current": "A", "voltage": "V", "reverse_voltage": "V", **JUNCTION_OBSERVES}
    faults = (
        Fault("short", 0.49, ("first", "plus")),
        Fault("open", 0.36, ("first",)),
        Fault("leaky", 0.15, ("first", "plus")),
    )
    conducts = tuple(ARMS.values())
    symbol = "bridge-rectifier"

    def equations(self, t: Terms) -> None:
        arms = {walk: rectify(t, *ends, walk) for walk, ends in ARMS.items()}
        lost: Number = 0.0
        blocked: Number = 0.0
        for voltage, current in arms.values():
            lost = lost + voltage * current
            blocked = maximum(blocked, -voltage)
        dissipate(t, lost)
        t.observe("current", arms["first_up"][1] + arms["second_up"][1])
        t.observe("voltage", t.v("plus") - t.v("minus"))
        t.observe("reverse_voltage", blocked)
