"""Bipolar transistor, small signal and power."""

from __future__ import annotations

from typing import Any, ClassVar, NamedTuple

from railwright.devices.arithmetic import (
    ROOM,
    exp,
    in_use,
    junction_curve,
    log,
    maximum,
    positive,
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

FORCED_GAIN = 10.0  # collector to base current at which saturation is stated: common practice


class BipolarTransistor(Device):
    """Transport form of the Ebers-Moll equations at the junction's own temperature.

    Ic = Is (e^(vbe/VT) - e^(vbc/VT)) (1 + vcb/VA) - Ibc, Ib = Ibe + Ibc, with Ibe the transport
    current over the gain and Ibc the reverse one over the reverse gain. The gain rises with
    (T/T0)^2, about 7000 ppm/K. Source: Gray, Hurst, Lewis and Meyer, Analysis and Design of
    Analog Integrated Circuits, chapter 1. It falls at high current as 1 / (1 + Ic/Ik): Webster
    (1954), On the Variation of Junction-Transistor Current-Gain with Emitter Current. The
    collector's resistance follows from the saturation voltage. Both junctions store the charge
    of their depletion layers and a transit time times their current, which gives the transition
    frequency 1 / (2 pi (tau + (Ce + Cc) VT/Ic)). Noise: shot noise of both currents, that of the
    base with a corner, and the thermal one of the collector's resistance (chapters 1 and 11
    there).
    Faults and their shares: bipolar transistors, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "bipolar-transistor"
    pins = {
        "collector": Pin("collector"),
        "base": Pin("base"),
        "emitter": Pin("emitter"),
        **CASE,
    }
    options = {"polarity": ("npn", "pnp")}
    values = {
        "current_gain": Value("1", "collector over base current, 25 °C, before its fall", least=1),
        "reverse_gain": Value("1", "emitter over base current, upside down", least=0.01),
        "base_emitter_voltage": Value("V", "at the test current, 25 °C", least=0.2, most=3.0),
        "test_current": Value("A", "collector current of that voltage", least=1e-6),
        "saturation_voltage": Value("V", "collector to emitter, base current a tenth", least=0.01),
        "saturation_test_current": Value("A", "collector current of that voltage", least=1e-6),
        "early_voltage": Value("V", "its output conductance", default=1e6, least=1.0),
        "gain_half_current": Value("A", "where the gain has halved", default=1e6, least=1e-6),
        "transit_time": Value("s", "stored charge over collector current", least=0.0, dynamic=True),
        "reverse_transit_time": Value(
            "s", "the same upside down; stored in saturation", least=0.0, dynamic=True
        ),
        "emitter_capacitance": Value("F", "base to emitter, nil volts", least=0.0, dynamic=True),
        "collector_capacitance": Value(
            "F", "base to collector, nil volts", least=0.0, dynamic=True
        ),
        "noise_corner": NOISE_VALUES["noise_corner"],
        "second_breakdown_voltage": Value(
            "V",
            "above it second breakdown bounds the lasting current; nil: nothing is stated",
            default=0.0,
            least=0.0,
            dynamic=True,
        ),
        "second_breakdown_current": Value(
            "A",
            "lasting one that is safe at the rated voltage, case 25 °C; nil: nothing is stated",
            default=0.0,
            least=0.0,
            dynamic=True,
        ),
        **JUNCTION_VALUES,
    }
    ratings = {
        "collector_emitter_voltage": Rating("V", "voltage", "transistor", "voltage"),
        "collector_current": Rating("A", "current", "transistor", "current"),
        "rated_power": Rating("W", "power", "transistor", "power"),
        "emitter_base_voltage": Rating("V", "emitter_base_voltage", "transistor", "voltage"),
        "junction_limit": Rating("°C", "junction", "transistor", "junction"),
    }
    unknowns = {"base_emitter": Unknown("V"), "base_collector": Unknown("V"), **JUNCTION}
    observes = {
        "voltage": "V",
        "current": "A",
        "base_current": "A",
        "base_emitter_voltage": "V",
        "emitter_base_voltage": "V",
        **JUNCTION_OBSERVES,
    }
    faults = (
        Fault("short", 0.73, ("collector", "emitter")),
        Fault("open", 0.27, ("collector",)),
    )
    conducts: ClassVar[tuple[tuple[str, str], ...]] = (
        ("collector", "emitter"),
        ("base", "emitter"),
        ("base", "collector"),
    )
    symbol = "bipolar-transistor"

    def constants(self, v: Any) -> dict[str, Number]:
        volts = thermal_voltage(ROOM)
        gain = v.current_gain / (1.0 + v.saturation_test_current / v.gain_half_current)
        ohmic = v.saturation_voltage - saturated_drop(FORCED_GAIN, gain, v.reverse_gain)
        return {
            "saturation_at_room": v.test_current / (exp(v.base_emitter_voltage / volts) - 1.0),
            "inverse_gain": 1.0 / v.current_gain,
            "inverse_reverse_gain": 1.0 / v.reverse_gain,
            "inverse_early": 1.0 / v.early_voltage,
            "inverse_half": 1.0 / v.gain_half_current,
            "collector_resistance": maximum(ohmic, 1e-3) / v.saturation_test_current,
        }

    def equations(self, t: Terms) -> None:
        sign = 1.0 if t.option("polarity") == "npn" else -1.0
        temperature = t.v("junction")
        carried = transport(t, ("base_emitter", "base_collector"), t.p.saturation_at_room, "drive")
        base, collector = carried.base, carried.current

        base_emitter = sign * (t.v("base") - t.v("emitter"))
        base_collector = sign * (t.v("base") - t.v("collector"))
        drop = collector * t.p.collector_resistance
        t.zero("base_emitter", base_emitter - carried.emitter.volts)
        t.zero("base_collector", base_collector + drop - carried.collector.volts)
        store(t, sign, ("collector", "base", "emitter"), carried)
        t.noise("base", "emitter", shot_noise(abs(base)), t.p.noise_corner)
        t.noise("collector", "emitter", shot_noise(abs(collector)))
        t.noise_in("base_collector", thermal_noise(temperature, t.p.collector_resistance))
        t.through("base", "emitter", sign * base)
        t.through("collector", "emitter", sign * collector)
        voltage = base_emitter - base_collector
        dissipate(t, voltage * collector + base_emitter * base)
        t.observe("voltage", voltage)
        t.observe("current", collector)
        t.observe("base_current", base)
        t.observe("base_emitter_voltage", base_emitter)
        t.observe("emitter_base_voltage", -base_emitter)


class Junction(NamedTuple):
    """A junction's voltage [V] and its transport current [A]."""

    volts: Number
    amperes: Number


class Carried(NamedTuple):
    """Both junctions of a transistor, and its currents into base and collector [A]."""

    emitter: Junction
    collector: Junction
    base: Number
    current: Number


def saturated_drop(forced: Number, gain: Number, reverse_gain: Number) -> Number:
    """Voltage across a saturated transistor without its resistance, 25 °C [V]; for `constants`.

    forced: collector over base current. Source: both equations of `BipolarTransistor`, solved
    for the difference of the junctions' voltages.
    """
    drive = 1.0 + (forced + 1.0) / reverse_gain
    spare = maximum(1.0 - forced / gain, 0.05)
    return thermal_voltage(ROOM) * log(drive / spare)


def transport(t: Terms, walks: tuple[str, str], saturation_at_room: Number, drive: str) -> Carried:
    """What a transistor carries by the equations of `BipolarTransistor`, from its own terms.

    walks: unknowns along the curves of base to emitter and base to collector; drive: the signal
    at which a loop through the part is opened.
    """
    temperature = t.v("junction")
    volts = thermal_voltage(temperature)
    saturation = saturation_current(saturation_at_room, temperature, 1.0)
    emitter = Junction(*junction_curve(t.x(walks[0]), saturation, volts))
    collector = Junction(*junction_curve(t.x(walks[1]), saturation, volts))
    ahead, back = emitter.amperes, collector.amperes

    warm = in_use(temperature) / ROOM
    fall = 1.0 + positive(ahead, 1e-9) * t.p.inverse_half
    early = 1.0 + positive(-collector.volts, 0.01) * t.p.inverse_early
    reverse = back * t.p.inverse_reverse_gain
    base = ahead * fall * t.p.inverse_gain / (warm * warm) + reverse
    # A loop through the part is opened where its drive commands the collector current.
    current = (t.signal(drive, ahead) - back) * early - reverse
    return Carried(emitter, collector, base, current)


def store(
    t: Terms, sign: float, pins: tuple[str, str, str], carried: Carried, share: float = 1.0
) -> None:
    """State the charges of both junctions between collector, base and emitter.

    share: of the stated capacitances.
    """
    collector, base, emitter = pins
    layer = depletion_charge(carried.emitter.volts, share * t.p.emitter_capacitance)
    at_emitter = layer + t.p.transit_time * carried.emitter.amperes
    layer = depletion_charge(carried.collector.volts, share * t.p.collector_capacitance)
    at_collector = layer + t.p.reverse_transit_time * carried.collector.amperes
    t.charge(base, emitter, sign * at_emitter, parasitic=True)
    t.charge(base, collector, sign * at_collector, parasitic=True)
