"""Operational amplifier."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import ROOM
from railwright.devices.device import Device, Number, Pin, Rating, Terms, Unknown, Value
from railwright.devices.following import AMPLIFIER_DYNAMICS, follow
from railwright.devices.integrated import (
    AMPLIFIER_CONDUCTS,
    AMPLIFIER_FAULTS,
    INPUT_OBSERVES,
    INPUT_VALUES,
    OUTPUT_OBSERVES,
    OUTPUT_VALUES,
    SUPPLY_OBSERVES,
    SUPPLY_PINS,
    SUPPLY_VALUES,
    bias_noise,
    draw_inputs,
    draw_supply,
    drive_output,
    input_constants,
    input_difference,
)
from railwright.devices.noise import NOISE_VALUES, input_noise


class OperationalAmplifier(Device):
    """Amplifies its input difference, within its swing and its output current.

    Vout = A (V+ - V- + errors), with offset, bias currents, finite gain, and common-mode and
    supply errors; in time with one dominant pole and a slew rate (`following.follow`). Source:
    Gray, Hurst, Lewis and Meyer, Analysis and Design of Analog Integrated Circuits, chapter on
    operational amplifiers, and on noise: input voltage noise, shot noise of the input currents;
    the rise of the low swing with the sink current follows the datasheet of the 358 type.
    Faults and their shares: linear integrated circuits, RAC FMD-97 as commonly quoted (from
    memory).
    """

    kind = "operational-amplifier"
    pins = {
        "plus": Pin("plus"),
        "minus": Pin("minus"),
        "output": Pin("output"),
        **SUPPLY_PINS,
    }
    values = {
        "gain": Value("V/V", "open-loop gain", least=10.0),
        **AMPLIFIER_DYNAMICS,
        **NOISE_VALUES,
        **INPUT_VALUES,
        **OUTPUT_VALUES,
        **SUPPLY_VALUES,
    }
    ratings = {
        "supply_maximum": Rating("V", "supply_voltage", "op amp", "supply voltage"),
        "rated_power": Rating("W", "power", "op amp", "power"),
    }
    unknowns = {"state": Unknown("V"), "drive": Unknown("A")}
    observes = {**INPUT_OBSERVES, **OUTPUT_OBSERVES, **SUPPLY_OBSERVES}
    faults = AMPLIFIER_FAULTS
    conducts = AMPLIFIER_CONDUCTS
    symbol = "amplifier"

    def constants(self, v: Any) -> dict[str, Number]:
        return {**input_constants(v), "inverse_gain": 1.0 / v.gain}

    def equations(self, t: Terms) -> None:
        inner, beyond, output_power = drive_output(t)
        difference = t.signal("difference", input_difference(t, ROOM))
        error = difference - inner * t.p.inverse_gain / t.gain
        follow(t, error, beyond, t.p.unity_gain_frequency, t.p.slew_rate)
        input_noise(t, "state")
        bias_noise(t)
        t.observe("power", output_power + draw_inputs(t) + draw_supply(t))
