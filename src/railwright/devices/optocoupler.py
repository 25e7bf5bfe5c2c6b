"""Optocoupler with a phototransistor."""

from __future__ import annotations

from math import pi
from typing import Any

from railwright.devices.arithmetic import (
    ROOM,
    exp,
    in_use,
    maximum,
    minimum,
    positive,
    saturation_current,
    thermal_voltage,
    where,
)
from railwright.devices.device import (
    CASE,
    JUNCTION,
    JUNCTION_OBSERVES,
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
from railwright.devices.diode import Diode, rectify
from railwright.devices.noise import shot_noise

DARK_IDEALITY = 1.37  # 1 nA at 25 °C, 1 µA at 100 °C: typical, datasheet of the 4N25 type
ISOLATION = 1e-11  # S; between both sides: 100 GΩ, typical in datasheets of the 817 and 4N25 types
LEAST_DARK = 1e-12  # A; no phototransistor is darker
CORNER = 1e-9  # A; below which the input's current makes no light
EARLY_CORNER = 0.01  # V
GREATEST_SHARE = 0.95  # of what the light could drive, that a saturated output carries


class Optocoupler(Device):
    """A light-emitting diode and, isolated from it, a phototransistor that its light drives.

    Input: the law of `diode`. Output: the collector current is the input's times the transfer
    ratio, I = ratio i (1 - k) / (1 + m k) (1 + v/VA), k = e^(-v/VT): the equations of
    `bipolar-transistor` solved for a base that is fed by light alone, with m the gain over the
    reverse gain; m follows from the saturation voltage. The ratio falls at low current, where
    the diode shines less than in proportion, as i / (i + il), at high current as
    1 / (1 + i/ih), both from memory, a shape for the curves in datasheets of the 817 type; with
    temperature as e^(d x - (x/w)^2), x from 25 °C, likewise. `transfer_left` is what age has
    left of it. Without light it passes the dark current of a junction, between that of diffusion
    and that of generation (Sze, Physics of Semiconductor Devices). In time the light follows with
    one pole, and collector to emitter is a capacitance, the one at the base times the gain.
    Both chips count as equally warm. Noise: shot noise of the diode's current; that of the
    photocurrent, amplified. The isolation is a resistance and a capacitance.
    Faults and their shares: half each those of light-emitting diodes and of optical sensors, RAC
    FMD-97 as commonly quoted (from memory).
    """

    kind = "optocoupler"
    pins = {
        "anode": Pin("anode"),
        "cathode": Pin("cathode"),
        "collector": Pin("collector"),
        "emitter": Pin("emitter"),
        **CASE,
    }
    values = {
        **Diode.values,
        "transfer_ratio": Value("1", "collector over input current, 25 °C, new", least=1e-3),
        "transfer_current": Value("A", "input current of that ratio", least=1e-6),
        "transfer_voltage": Value("V", "collector to emitter there", least=0.5),
        "low_current": Value("A", "input current at which half of the light is lost", least=0.0),
        "high_current": Value("A", "input current that halves the ratio again", least=1e-5),
        "transfer_drift": Value("1/K", "relative change of the ratio at 25 °C", signed=True),
        "transfer_width": Value("K", "from 25 °C, where its bend takes 63 % of it", least=20.0),
        "transfer_left": Value("1", "share that age has left", default=1.0, least=0.01, most=1.0),
        "saturation_voltage": Value("V", "collector to emitter, saturated, 25 °C", least=0.01),
        "saturation_current": Value("A", "collector current of that voltage", least=1e-6),
        "saturation_input": Value("A", "input current of that voltage", least=1e-6),
        "early_voltage": Value("V", "its output conductance", default=1e6, least=1.0),
        "dark_current": Value("A", "collector current without light, 25 °C", least=0.0),
        "cut_off_frequency": Value("Hz", "with next to no load", least=10.0, dynamic=True),
        "output_capacitance": Value(
            "F", "collector to emitter, multiplied by the gain", least=0.0, dynamic=True
        ),
        "current_gain": Value("1", "of the phototransistor", least=1.0, dynamic=True),
        "isolation_capacitance": Value("F", "between both sides", least=0.0, dynamic=True),
    }
    ratings = {
        "forward_current": Rating("A", "input_current", "diode", "forward current"),
        "reverse_voltage": Rating("V", "reverse_voltage", "diode", "reverse voltage"),
        "collector_emitter_voltage": Rating("V", "voltage", "transistor", "voltage"),
        "emitter_collector_voltage": Rating("V", "output_reverse_voltage", "transistor", "voltage"),
        "collector_current": Rating("A", "current", "transistor", "current"),
        "rated_power": Rating("W", "power", "transistor", "power"),
        "isolation_voltage": Rating("V", "isolated_voltage"),
        "junction_limit": Rating("°C", "junction", "transistor", "junction"),
    }
    unknowns = {"walk": Unknown("V"), "lit": Unknown("A"), **JUNCTION}
    observes = {
        "input_current": "A",
        "input_voltage": "V",
        "reverse_voltage": "V",
        "transfer_ratio": "1",
        "current": "A",
        "voltage": "V",
        "output_reverse_voltage": "V",
        "isolated_voltage": "V",
        **JUNCTION_OBSERVES,
    }
    faults = (
        Fault("open", 0.35, ("anode",)),
        Fault("short", 0.15, ("anode", "cathode")),
        Fault("open", 0.25, ("collector",)),
        Fault("short", 0.25, ("collector", "emitter")),
    )
    conducts = (("anode", "cathode"), ("collector", "emitter"))
    symbol = "optocoupler"

    def constants(self, v: Any) -> dict[str, Number]:
        volts = thermal_voltage(ROOM)
        early = 1.0 + v.transfer_voltage / v.early_voltage
        full = v.transfer_ratio / (_shape(v, v.transfer_current) * early)
        driven = v.saturation_input * full * _shape(v, v.saturation_input)
        share = minimum(v.saturation_current / driven, GREATEST_SHARE)
        over = exp(v.saturation_voltage / volts) * (1.0 - share) - 1.0
        return {
            **Diode().constants(v),
            "full_ratio": full * v.transfer_left,
            "gain_over_reverse": maximum(over / share, 1.0),
            "inverse_early": 1.0 / v.early_voltage,
            "dark": maximum(v.dark_current, LEAST_DARK),
        }

    def equations(self, t: Terms) -> None:
        across, into = rectify(t, "anode", "cathode", "walk")
        warm = in_use(t.v("junction"))
        ratio = t.p.full_ratio * _shape(t.p, positive(into, CORNER)) * _warmed(t, warm)
        t.zero("lit", positive(into, CORNER) * ratio - t.x("lit"))
        t.flux("lit", t.x("lit") / (2.0 * pi * t.p.cut_off_frequency))

        voltage = t.v("collector") - t.v("emitter")
        dark = saturation_current(t.p.dark, warm, DARK_IDEALITY)
        current = (t.signal("light", t.x("lit")) + dark) * self._saturating(t, voltage, warm)
        t.through("collector", "emitter", current)
        t.charge("collector", "emitter", t.p.output_capacitance * voltage)
        t.noise("collector", "emitter", shot_noise(abs(current) * (1.0 + t.p.current_gain)))

        between = t.v("cathode") - t.v("emitter")
        leaked = between * ISOLATION
        t.through("cathode", "emitter", leaked)
        t.charge("cathode", "emitter", t.p.isolation_capacitance * between, parasitic=True)
        dissipate(t, across * into + voltage * current + between * leaked)
        t.observe("input_current", into)
        t.observe("input_voltage", across)
        t.observe("reverse_voltage", -across)
        t.observe("transfer_ratio", ratio)
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("output_reverse_voltage", -voltage)
        t.observe("isolated_voltage", between)

    def _saturating(self, t: Terms, voltage: Number, warm: Number) -> Number:
        """Collector current over what the light drives, by the voltage across."""
        fall = exp(-abs(voltage) / thermal_voltage(warm))
        over = t.p.gain_over_reverse
        ahead, back = (1.0 - fall) / (1.0 + over * fall), (fall - 1.0) / (fall + over)
        early = 1.0 + positive(voltage, EARLY_CORNER) * t.p.inverse_early
        return where(voltage, ahead, back) * early


def _shape(v: Any, current: Number) -> Number:
    """How the ratio goes with the input current, over what it would be without its falls."""
    least = CORNER * CORNER
    return current / (current + v.low_current + least) / (1.0 + current / v.high_current)


def _warmed(t: Terms, warm: Number) -> Number:
    """Transfer ratio over that at 25 °C."""
    away = warm - ROOM
    bent = away / t.p.transfer_width
    return exp(t.p.transfer_drift * away - bent * bent)
