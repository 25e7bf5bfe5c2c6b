"""Fan with a brushless motor for direct voltage."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import limited, maximum, positive, sqrt, step
from railwright.devices.device import Device, Number, Pin, Rating, Terms, Unknown, Value
from railwright.devices.motor import STICTION, Motor
from railwright.devices.noise import shot_noise

DRY_SHARE = 0.37  # of the rated current that dry friction takes: fits a 12 V fan of 40 mm
STARTING = 0.05  # share of the start voltage over which the electronics wakes
CORNER = 1e-3  # V
LEAK = 1e-6  # S; of the sleeping or reversed electronics, some µA at its rated voltage
STILL = 0.01  # share of the rated speed below which the air hardly moves
LEAST_BACK = 0.05  # of the rated voltage, beyond any real part


class Fan(Device):
    """A motor that turns against the air, v = R i + k w, behind electronics that never feeds back.

    J dw/dt = k i - friction - air, with a torque of the air that rises with the square of the
    speed (fan laws; Fitzgerald, Kingsley and Umans, Electric Machinery, for the motor); all in
    the terms of data sheets, as `motor` does it. R follows from the current of the locked rotor.
    Below the start voltage, and backwards, it takes next to nothing. In a stream at the speed w
    the heat transfer of a laminar layer rises as the root of w (Incropera and DeWitt,
    Fundamentals of Heat and Mass Transfer, chapter 7): so much does the fan add to a sink whose
    nets its thermal pins share. How much that is lies with the sink, not with the fan: see
    `standards.forced_convection`. It does not know where its air goes, and warms none.
    Left out: ripple of commutation, restarts of a locked rotor, the fall of the flow with
    pressure. Noise: shot noise of its current.
    Faults and their shares: as of motors, MIL-HDBK-338B (from memory).
    """

    kind = "fan"
    pins = {
        "plus": Pin("power-input"),
        "minus": Pin("ground"),
        "face": Pin("thermal", optional=True),
        "air": Pin("thermal", optional=True),
    }
    values = {
        "rated_voltage": Value("V", "at which it is stated, in free air", least=0.5),
        "rated_current": Value("A", "there", least=1e-4),
        "rated_speed": Value("Hz", "turns per second there", least=0.1),
        "locked_current": Value("A", "with a locked rotor there", least=1e-4),
        "start_voltage": Value("V", "from which it turns", least=0.1),
        "blown_resistance": Value("K/W", "of the sink in its air, at rated speed", least=1e-3),
        "spin_up_time": Value("s", "time constant of its speed", least=0.0, dynamic=True),
    }
    ratings = {"voltage_maximum": Rating("V", "voltage")}
    unknowns = {"speed": Unknown("1")}
    observes = {"current": "A", "voltage": "V", "power": "W", "speed": "Hz", "blown_heat": "W"}
    faults = Motor.faults
    conducts = (("plus", "minus"),)
    symbol = "fan"

    def constants(self, v: Any) -> dict[str, Number]:
        resistance = v.rated_voltage / v.locked_current
        back = v.rated_voltage - resistance * v.rated_current
        back = maximum(back, LEAST_BACK * v.rated_voltage)
        return {
            "conductance": 1.0 / resistance,
            "full_back_voltage": back,
            "swing": v.spin_up_time * back / resistance,
            "waking": 1.0 / (STARTING * v.start_voltage),
        }

    def equations(self, t: Terms) -> None:
        speed, voltage = t.x("speed"), t.v("plus") - t.v("minus")
        awake = step(1.0 + (voltage - t.p.start_voltage) * t.p.waking)
        left = positive(voltage - t.p.full_back_voltage * speed, CORNER)
        driven = awake * left * t.p.conductance
        dry = DRY_SHARE * t.p.rated_current * limited(speed / STICTION, 1.0)
        air = (1.0 - DRY_SHARE) * t.p.rated_current * speed * abs(speed)
        t.zero("speed", driven - dry - air)
        t.flux("speed", t.p.swing * speed)
        current = driven + LEAK * voltage
        t.through("plus", "minus", current)
        t.noise("plus", "minus", shot_noise(driven))
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("power", voltage * current)
        t.observe("speed", t.p.rated_speed * speed)
        t.observe("blown_heat", self._blow(t, speed))

    def _blow(self, t: Terms, speed: Number) -> Number:
        """State what its air carries off a sink [W]."""
        if not (t.connected("face") and t.connected("air")):
            return 0.0
        moving = sqrt(speed * speed + STILL * STILL)
        root = speed * speed / (moving * sqrt(moving))
        heat = (t.v("face") - t.v("air")) * root / t.p.blown_resistance
        t.through("face", "air", heat)
        return heat
