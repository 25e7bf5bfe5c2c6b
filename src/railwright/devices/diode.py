"""Diode: signal, rectifier and Schottky."""

from __future__ import annotations

from typing import Any, ClassVar

from railwright.devices.arithmetic import (
    ROOM,
    exp,
    junction_curve,
    log,
    saturation_current,
    thermal_voltage,
)
from railwright.devices.device import (
    CASE,
    JUNCTION,
    JUNCTION_OBSERVES,
    JUNCTION_VALUES,
    Device,
    Fault,
    Number,
    Pin,
    Rating,
    Terms,
    Unknown,
    Value,
    dissipate,
)
from railwright.devices.junction import depletion_charge
from railwright.devices.noise import NOISE_VALUES, shot_noise, thermal_noise


def _junction(t: Terms) -> tuple[Number, Number]:
    """Slope [V] and saturation current [A] of a diode's law, from its own terms."""
    temperature = t.v("junction")
    slope = t.p.ideality * thermal_voltage(temperature)
    return slope, saturation_current(t.p.saturation_at_room, temperature, t.p.ideality, t.p.gap)


def forward_drop(t: Terms, current: Number) -> Number:
    """Voltage of a diode at a current that is not negative [V], from its own terms."""
    slope, saturation = _junction(t)
    return slope * log(1.0 + current / saturation) + t.p.series_resistance * current


def passing(t: Terms) -> Number:
    """Current that a diode passes by itself [A], from its own terms."""
    slope, saturation = _junction(t)
    return junction_curve(t.x("walk"), saturation, slope)[1]


class Diode(Device):
    """Shockley's law in series with a resistance, at the junction's own temperature.

    The saturation current follows from the forward voltage at the test current. It stores the
    charge of its depletion layer and, in forward conduction, transit time times current. See
    Sze, Physics of Semiconductor Devices, for the law, its temperature, both charges and the
    shot noise 2 q (I + 2 Is); the noise rises as 1/f below a corner.
    """

    kind = "diode"
    pins = {"anode": Pin("anode"), "cathode": Pin("cathode"), **CASE}
    values = {
        "forward_voltage": Value("V", "forward voltage at the test current, 25 °C", least=0.05),
        "test_current": Value("A", "current at which the forward voltage is stated", least=1e-9),
        "ideality": Value("1", "ideality factor", least=0.9, most=3.0),
        "series_resistance": Value("Ω", "ohmic part of the forward voltage", least=1e-6),
        "gap": Value("V", "band gap (Schottky: barrier height)", least=0.2, most=4.0),
        "junction_capacitance": Value(
            "F", "at the capacitance's test voltage", least=0.0, dynamic=True
        ),
        "capacitance_voltage": Value(
            "V", "reverse voltage of that capacitance", default=0.0, least=0.0, dynamic=True
        ),
        "transit_time": Value("s", "stored charge over forward current", least=0.0, dynamic=True),
        "surge_current": Value(
            "A",
            "peak of one half wave of 8.3 ms that it survives; nil: none is promised",
            default=0.0,
            least=0.0,
            dynamic=True,
        ),
        "noise_corner": NOISE_VALUES["noise_corner"],
        **JUNCTION_VALUES,
    }
    ratings = {
        "reverse_voltage": Rating("V", "reverse_voltage", "diode", "reverse voltage"),
        "forward_current": Rating("A", "current", "diode", "forward current", over="mean"),
        "junction_limit": Rating("°C", "junction", "diode", "junction"),
    }
    unknowns = {"walk": Unknown("V"), **JUNCTION}
    observes = {"current": "A", "voltage": "V", "reverse_voltage": "V", **JUNCTION_OBSERVES}
    faults: ClassVar[tuple[Fault, ...]] = (
        Fault("short", 0.49),
        Fault("open", 0.36),
        Fault("leaky", 0.15),
    )
    conducts: ClassVar[tuple[tuple[str, str], ...]] = (("anode", "cathode"),)
    symbol = "diode"

    def constants(self, v: Any) -> dict[str, Number]:
        slope = v.ideality * thermal_voltage(ROOM)
        across = v.forward_voltage - v.series_resistance * v.test_current
        return {"saturation_at_room": v.test_current / (exp(across / slope) - 1.0)}

    def equations(self, t: Terms) -> None:
        self.conduct(t)

    def conduct(self, t: Terms) -> Number:
        """State all that a diode does; its current [A]."""
        voltage, current = rectify(t, "anode", "cathode", "walk")
        dissipate(t, voltage * current)
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("reverse_voltage", -voltage)
        return current


def rectify(t: Terms, anode: str, cathode: str, walk: str) -> tuple[Number, Number]:
    """State one junction with the values of a diode between two pins; its voltage and current.

    Its temperature is that of the part's `junction`, its running coordinate the unknown `walk`.
    """
    slope, saturation = _junction(t)
    inner, current = junction_curve(t.x(walk), saturation, slope)
    voltage = t.v(anode) - t.v(cathode)
    t.zero(walk, voltage - inner - current * t.p.series_resistance)
    t.through(anode, cathode, current)
    depletion = depletion_charge(inner, t.p.junction_capacitance, t.p.capacitance_voltage)
    t.charge(anode, cathode, depletion + t.p.transit_time * current, parasitic=True)
    t.noise(anode, cathode, shot_noise(current + 2.0 * saturation), t.p.noise_corner)
    t.noise_in(walk, thermal_noise(t.v("junction"), t.p.series_resistance))
    return voltage, current
