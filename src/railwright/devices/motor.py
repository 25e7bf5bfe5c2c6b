"""Direct-current motor with permanent magnets."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import limited
from railwright.devices.device import (
    Device,
    Fault,
    Number,
    Pin,
    Rating,
    Terms,
    Unknown,
    Value,
)
from railwright.devices.noise import thermal_noise

STICTION = 0.01  # share of the rated speed below which dry friction fades


class Motor(Device):
    """Winding with a back-EMF, and a rotor that torques speed up: v = R i + L di/dt + k w.

    J dw/dt = k i - friction - load, both from Fitzgerald, Kingsley and Umans, Electric
    Machinery, chapter on direct-current machines. All is in the terms of data sheets: k w = E
    times `speed` (over that without load), torques as the currents that make them, and J from
    the mechanical time constant tau = J R / k². Of the current without load half stands for dry
    friction and half for losses that rise with the speed (from memory). The load is a torque
    against the rotation, `load_current` = torque / k; it fades like the dry friction where the
    rotor stands, and turns nothing by itself. A turning rotor gives back what it has stored.
    The ripple of commutation is averaged. Operating points have the steady speed.
    Noise: thermal, of the winding. Faults and their shares: electric motors, MIL-HDBK-338B (from
    memory): windings and starting against bearings.
    """

    kind = "motor"
    pins = {"plus": Pin("passive"), "minus": Pin("passive")}
    values = {
        "rated_voltage": Value("V", "at which it is stated without load", least=0.1),
        "no_load_speed": Value("Hz", "turns per second there", least=0.1),
        "no_load_current": Value("A", "there", least=1e-6),
        "resistance": Value("Ω", "of the winding and the brushes", least=1e-4),
        "inductance": Value("H", "of the winding", least=0.0, dynamic=True),
        "mechanical_time_constant": Value(
            "s", "of the speed, without load, at a stiff voltage", least=0.0, dynamic=True
        ),
    }
    inputs = {"load_current": 0.0}
    loads = ("load_current",)
    ratings = {
        "rated_current": Rating("A", "current"),
        "voltage_maximum": Rating("V", "voltage"),
    }
    unknowns = {"current": Unknown("A"), "speed": Unknown("1")}
    observes = {
        "current": "A",
        "voltage": "V",
        "power": "W",
        "copper_loss": "W",
        "back_voltage": "V",
        "speed": "Hz",
    }
    faults = (Fault("open", 0.72), Fault("drift", 0.28, moves=("no_load_speed", "rated_speed")))
    conducts = (("plus", "minus"),)
    symbol = "motor"

    def constants(self, v: Any) -> dict[str, Number]:
        back_voltage = v.rated_voltage - v.resistance * v.no_load_current
        return {
            "full_back_voltage": back_voltage,
            "swing": v.mechanical_time_constant * back_voltage / v.resistance,
        }

    def equations(self, t: Terms) -> None:
        current, speed = t.x("current"), t.x("speed")
        voltage = t.v("plus") - t.v("minus")
        back_voltage = t.p.full_back_voltage * speed
        t.through("plus", "minus", current)
        t.zero("current", voltage - t.p.resistance * current - back_voltage)
        t.flux("current", t.p.inductance * current)
        half = 0.5 * t.p.no_load_current
        braking = (half + t.p.load_current) * limited(speed / STICTION, 1.0) + half * speed
        t.zero("speed", current - braking)
        t.flux("speed", t.p.swing * speed)
        t.noise_in("current", thermal_noise(t.ambient, t.p.resistance))
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("power", voltage * current)
        t.observe("copper_loss", t.p.resistance * current * current)
        t.observe("back_voltage", back_voltage)
        t.observe("speed", t.p.no_load_speed * speed)
