"""Current-sense amplifier: measures across a shunt on a rail that may lie above its supply."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import ROOM, positive, step
from railwright.devices.device import Device, Number, Pin, Rating, Terms, Unknown, Value
from railwright.devices.following import AMPLIFIER_DYNAMICS, follow
from railwright.devices.integrated import (
    AMPLIFIER_CONDUCTS,
    AMPLIFIER_FAULTS,
    CORNER,
    INPUT_OBSERVES,
    OUTPUT_OBSERVES,
    OUTPUT_VALUES,
    SUPPLY_OBSERVES,
    SUPPLY_PINS,
    SUPPLY_VALUES,
    draw_supply,
    drive_output,
)
from railwright.devices.noise import NOISE_VALUES, input_noise


class CurrentSenseAmplifier(Device):
    """Vout = Vref + G (Vsense + errors), within its swing and its output current.

    The offset holds at the test common mode; off it, the common-mode error adds. The inputs'
    range does not depend on the supply. In time it has one pole at its bandwidth, and a slew
    rate (`following.follow`). Source: datasheets of the 26 V single-supply type (transfer
    function and input range). An unconnected reference pin is at ground.
    Faults and their shares: linear integrated circuits, RAC FMD-97 as commonly quoted (from
    memory).
    """

    kind = "current-sense-amplifier"
    pins = {
        "sense_plus": Pin("plus"),
        "sense_minus": Pin("minus"),
        "output": Pin("output"),
        "reference": Pin("input", optional=True),
        **SUPPLY_PINS,
    }
    values = {
        "gain": Value("V/V", "output over sense voltage", least=0.1),
        "bandwidth": Value("Hz", "where its gain is 3 dB down", least=1.0, dynamic=True),
        "slew_rate": AMPLIFIER_DYNAMICS["slew_rate"],
        **NOISE_VALUES,
        "offset": Value("V", "offset at the input, at the test common mode", signed=True),
        "offset_drift": Value(
            "V/K", "its change with the air temperature", signed=True, default=0.0
        ),
        "test_common_mode": Value("V", "common mode of the stated offset"),
        "common_mode_error": Value("V/V", "input error per volt of common mode", signed=True),
        "input_current": Value("A", "current into each sense pin", least=0.0),
        "input_range_low": Value("V", "lowest common mode that works, above ground"),
        "input_range_high": Value("V", "highest common mode that works, above ground"),
        **OUTPUT_VALUES,
        **SUPPLY_VALUES,
    }
    ratings = {
        "supply_maximum": Rating("V", "supply_voltage", "op amp", "supply voltage"),
        "input_maximum": Rating("V", "input_high"),
        "rated_power": Rating("W", "power", "op amp", "power"),
    }
    unknowns = {"state": Unknown("V"), "drive": Unknown("A")}
    observes = {**INPUT_OBSERVES, **OUTPUT_OBSERVES, **SUPPLY_OBSERVES, "sense_voltage": "V"}
    faults = AMPLIFIER_FAULTS
    conducts = AMPLIFIER_CONDUCTS
    symbol = "amplifier"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"inverse_gain": 1.0 / v.gain}

    def equations(self, t: Terms) -> None:
        ground = t.v("ground")
        plus, minus = t.v("sense_plus") - ground, t.v("sense_minus") - ground
        base = t.v("reference") - ground if t.connected("reference") else 0.0
        inner, beyond, power = drive_output(t)
        sensed = (
            plus
            - minus
            + t.p.offset
            + t.p.offset_drift * (t.ambient - ROOM)
            + t.p.common_mode_error * (0.5 * (plus + minus) - t.p.test_common_mode)
        )
        sensed = t.signal("sensed", sensed)
        error = sensed - (inner - base) * t.p.inverse_gain
        follow(t, error, beyond, t.p.bandwidth * t.p.gain, t.p.slew_rate)
        input_noise(t, "state")
        for pin, level in (("sense_plus", plus), ("sense_minus", minus)):
            current = t.p.input_current * step(level)
            t.through(pin, "ground", current)
            power = power + level * current
        highest = minus + positive(plus - minus, CORNER)
        t.observe("sense_voltage", plus - minus)
        t.observe("input_low", plus + minus - highest)
        t.observe("input_high", highest)
        t.observe("input_range_low", t.p.input_range_low)
        t.observe("input_range_high", t.p.input_range_high)
        t.observe("power", power + draw_supply(t))
