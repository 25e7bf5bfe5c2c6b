"""Enclosure."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import sqrt
from railwright.devices.device import Device, Number, Pin, Terms, Value

TEST_RISE = 10.0  # K; at which the resistance of the vents is stated
CORNER = 0.01  # K


class Enclosure(Device):
    """Carries heat from the air inside through its walls and vents to the air around it.

    Walls: watts = kelvins / R, from the surface and a heat transfer coefficient, VDE 0660-500 as
    in IEC TR 60890 (`standards.enclosure`). Vents, one low and one high: the draught of warm air
    grows with the root of the rise, so the heat with its power of 1.5 (`standards.enclosure`,
    stack effect). The air inside counts as evenly warm. Only what gives its heat to the net at
    `inside` warms it, such as a heat sink whose air is there: parts without a thermal pin keep
    to the air of the surroundings. It does not fail by itself (common practice, no source).
    """

    kind = "enclosure"
    pins = {"inside": Pin("thermal"), "air": Pin("thermal")}
    values = {
        "resistance": Value("K/W", "through the walls, air to air", least=1e-3),
        "vent_resistance": Value("K/W", "of vents at a rise of 10 K", default=1e9, least=1e-3),
        "heat_capacity": Value("J/K", "of walls and air", default=0.0, least=0.0, dynamic=True),
    }
    observes = {"heat": "W", "rise": "K", "inside": "°C"}
    symbol = "enclosure"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"walls": 1.0 / v.resistance, "vents": 1.0 / (v.vent_resistance * TEST_RISE**0.5)}

    def equations(self, t: Terms) -> None:
        rise = t.v("inside") - t.v("air")
        draught = sqrt(sqrt(rise * rise + CORNER * CORNER))
        heat = rise * (t.p.walls + t.p.vents * draught)
        t.through("inside", "air", heat)
        t.heat("inside", t.p.heat_capacity * t.v("inside"))
        t.observe("heat", heat)
        t.observe("rise", rise)
        t.observe("inside", t.v("inside"))
