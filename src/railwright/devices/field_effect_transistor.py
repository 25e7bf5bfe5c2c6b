"""Insulated-gate field-effect transistor of the enhancement type, small signal and power."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import (
    BOLTZMANN,
    ROOM,
    exp,
    in_use,
    junction_curve,
    log,
    maximum,
    minimum,
    saturation_current,
    soft_ramp,
    sqrt,
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
from railwright.devices.noise import NOISE_VALUES

SLOPE_FACTOR = 1.5  # of weak inversion: the gate moves the channel by 1/1.5 (from memory)
BODY_IDEALITY = 1.2  # of the body diode (from memory)
BODY_SHARE = 0.1  # of the on-resistance in series with it: it floods the drift zone (from memory)
LEAST_BODY = 0.1  # V; of its forward voltage across the junction
BUILT_IN = 0.8  # V; of the depletion layers, silicon (Sze)
WARMING = 100.0  # K above room at which the warm on-resistance is stated: 125 °C
CHANNEL_SHARE = 0.95  # of the on-resistance, at most: some of it lies in the drain
LEAST_DRIVE = 0.1  # V; of the stated gate voltage above the threshold
CORNER = 0.01  # V; over which the channel-length effect turns over with the drain voltage


class FieldEffectTransistor(Device):
    """Square law with a drift resistance in the drain and a body diode, at its own temperature.

    Id = (b/2) (f(Vgs - Vt)^2 - f(Vgd - Vt)^2), symmetrical in source and drain, where f(u) is u
    in strong inversion and falls as e^(u/(2 n VT)) below the threshold, so that the square law
    goes over into weak inversion. Source: Enz, Krummenacher and Vittoz (1995), An Analytical MOS
    Transistor Model Valid in All Regions of Operation; the square law itself: Gray, Hurst, Lewis
    and Meyer, Analysis and Design of Analog Integrated Circuits, chapter 1, as is the channel
    noise (2/3) 4kT gm. b follows from the transconductance gm = sqrt(2 b I), the threshold from
    the gate voltage at the threshold current, the drift resistance is what the channel leaves of
    the on-resistance. The threshold moves in proportion to the temperature; b and the drift
    resistance follow the power of it that meets the warm on-resistance. Capacitances are those
    between pins: gate to source constant, the others of abrupt depletion layers.
    Left out: avalanche, second breakdown and the stored charge of the body diode.
    Of a p-channel type all voltages and currents are stated as magnitudes.
    Faults and their shares: field-effect transistors, MIL-HDBK-338 as commonly quoted (from
    memory); its "output low" and "output high" are counted as drift.
    """

    kind = "field-effect-transistor"
    pins = {"drain": Pin("drain"), "gate": Pin("gate"), "source": Pin("source"), **CASE}
    options = {"channel": ("n", "p")}
    values = {
        "threshold_voltage": Value("V", "gate to source at the threshold current", least=0.1),
        "threshold_current": Value("A", "drain current of that voltage", least=1e-9),
        "threshold_drift": Value("V/K", "change of the threshold's magnitude", signed=True),
        "transconductance": Value("A/V", "at the test current, saturated", least=1e-6),
        "transconductance_current": Value("A", "drain current of that slope", least=1e-6),
        "on_resistance": Value("Ω", "drain to source at the on gate voltage", least=1e-5),
        "on_gate_voltage": Value("V", "gate to source at which it is stated", least=0.5),
        "warm_factor": Value("1", "on-resistance at 125 °C over that at 25 °C", least=0.5, most=4),
        "channel_length_voltage": Value("V", "its output conductance", default=1e6, least=1.0),
        "body_voltage": Value("V", "body diode forward voltage at the body current", least=0.2),
        "body_current": Value("A", "current of that voltage", least=1e-6),
        "input_capacitance": Value("F", "gate to source and drain", least=1e-14, dynamic=True),
        "output_capacitance": Value("F", "drain to source and gate", least=1e-14, dynamic=True),
        "reverse_capacitance": Value("F", "drain to gate", least=1e-15, dynamic=True),
        "capacitance_voltage": Value(
            "V", "drain to source at which they are stated", least=0.0, dynamic=True
        ),
        "leakage": Value("A", "drain current at the rated voltage, gate at nil", least=0.0),
        "gate_leakage": Value("A", "gate current at the rated gate voltage", least=0.0),
        "drain_source_voltage": Value("V", "rated voltage", least=1.0),
        "gate_source_voltage": Value("V", "rated gate voltage", least=1.0),
        "noise_corner": NOISE_VALUES["noise_corner"],
        **JUNCTION_VALUES,
    }
    ratings = {
        "drain_source_voltage": Rating("V", "voltage", "transistor", "voltage"),
        "drain_current": Rating("A", "current", "transistor", "current"),
        "rated_power": Rating("W", "power", "transistor", "power"),
        "gate_source_voltage": Rating("V", "gate_voltage", "transistor", "gate voltage"),
        "junction_limit": Rating("°C", "junction", "transistor", "junction"),
    }
    unknowns = {"channel": Unknown("V"), "body": Unknown("V"), **JUNCTION}
    observes = {"voltage": "V", "current": "A", "gate_voltage": "V", **JUNCTION_OBSERVES}
    faults = (
        Fault("short", 0.51, ("drain", "source")),
        Fault("open", 0.05, ("drain",)),
        Fault("drift", 0.44, moves=("threshold_voltage",)),
    )
    conducts = (("drain", "source"),)
    symbol = "field-effect-transistor"

    def constants(self, v: Any) -> dict[str, Number]:
        drive = maximum(v.on_gate_voltage - v.threshold_voltage, LEAST_DRIVE)
        by_slope = v.transconductance * v.transconductance / (2.0 * v.transconductance_current)
        factor = maximum(by_slope, 1.0 / (CHANNEL_SHARE * v.on_resistance * drive))
        threshold = v.threshold_voltage - _drive_of(sqrt(2.0 * v.threshold_current / factor))
        drive = maximum(v.on_gate_voltage - threshold, LEAST_DRIVE)
        channel = 1.0 / (factor * drive)
        drift = maximum(v.on_resistance - channel, 0.0)
        warm_drive = maximum(drive - WARMING * v.threshold_drift, LEAST_DRIVE)
        growth = v.warm_factor * v.on_resistance / (channel * drive / warm_drive + drift)
        volts = BODY_IDEALITY * thermal_voltage(ROOM)
        body_resistance = BODY_SHARE * v.on_resistance
        across = maximum(v.body_voltage - body_resistance * v.body_current, LEAST_BODY)
        return {
            "factor_at_room": factor,
            "threshold_at_room": threshold,
            "drift_at_room": drift,
            "growth_power": log(growth) / log((ROOM + WARMING) / ROOM),
            "body_at_room": v.body_current / (exp(across / volts) - 1.0),
            "body_resistance": body_resistance,
            "leak": v.leakage / v.drain_source_voltage,
            "gate_leak": v.gate_leakage / v.gate_source_voltage,
        }

    def equations(self, t: Terms) -> None:
        sign = 1.0 if t.option("channel") == "n" else -1.0
        gate = sign * (t.v("gate") - t.v("source"))
        voltage = sign * (t.v("drain") - t.v("source"))
        channel = self._channel(t, gate, voltage)
        body = self._body(t, voltage)
        current = channel - body + t.p.leak * voltage
        through_gate = t.p.gate_leak * gate
        t.through("drain", "source", sign * current)
        t.through("gate", "source", sign * through_gate)
        self._charges(t, sign, gate, voltage)
        dissipate(t, voltage * current + gate * through_gate)
        t.observe("voltage", voltage)
        t.observe("current", current)
        t.observe("gate_voltage", gate)

    def _channel(self, t: Terms, gate: Number, voltage: Number) -> Number:
        """Current through channel and drift resistance [A]; `channel` is the voltage across it."""
        inner = t.x("channel")
        warm = in_use(t.v("junction"))
        growth = exp(t.p.growth_power * log(warm / ROOM))
        width = _width(warm)
        above = gate - t.p.threshold_at_room - t.p.threshold_drift * (warm - ROOM)
        ahead, back = soft_ramp(above, width), soft_ramp(above - inner, width)
        longer = 1.0 + sqrt(inner * inner + CORNER * CORNER) / t.p.channel_length_voltage
        factor = t.p.factor_at_room / growth
        current = 0.5 * factor * (ahead - back) * (ahead + back) * longer
        drift = t.p.drift_at_room * growth
        t.zero("channel", voltage - inner - current * drift)
        squares = ahead * ahead + ahead * back + back * back
        density = 4.0 * BOLTZMANN * warm * factor * (2.0 / 3.0) * squares / (ahead + back + 1e-12)
        t.noise("drain", "source", density, t.p.noise_corner)
        t.noise_in("channel", 4.0 * BOLTZMANN * warm * drift)
        return current

    def _body(self, t: Terms, voltage: Number) -> Number:
        """Current of the body diode, from source to drain [A]."""
        warm = t.v("junction")
        saturation = saturation_current(t.p.body_at_room, warm, BODY_IDEALITY)
        slope = BODY_IDEALITY * thermal_voltage(warm)
        volts, current = junction_curve(t.x("body"), saturation, slope)
        t.zero("body", -voltage - volts - current * t.p.body_resistance)
        return current

    def _charges(self, t: Terms, sign: float, gate: Number, voltage: Number) -> None:
        at_nil = sqrt(1.0 + t.p.capacitance_voltage / BUILT_IN)
        reverse = t.p.reverse_capacitance
        gate_source = maximum(t.p.input_capacitance - reverse, 0.0)
        channel = maximum(t.p.output_capacitance - reverse, 0.0)
        drain_gate = _layer_charge(voltage - gate, at_nil * reverse)
        drain_source = _layer_charge(voltage, at_nil * channel)
        t.charge("gate", "source", sign * gate_source * gate, parasitic=True)
        t.charge("drain", "gate", sign * drain_gate, parasitic=True)
        t.charge("drain", "source", sign * drain_source, parasitic=True)


def _layer_charge(reverse: Number, at_nil: Number) -> Number:
    """Charge of a depletion layer at a reverse voltage, from its capacitance at nil [C].

    C(v) = C(0) / sqrt(1 + v/phi), of an abrupt junction (Sze, the same). Forward of nil it stays
    C(0), unlike that of a mere junction: there the oxide under the gate is all that is left.
    """
    root = sqrt(1.0 + maximum(reverse, 0.0) / BUILT_IN)
    return at_nil * (minimum(reverse, 0.0) + 2.0 * BUILT_IN * (root - 1.0))


def _width(temperature: Number) -> Number:
    """2 n VT: voltage of the exponential tail of f [V]."""
    return 2.0 * SLOPE_FACTOR * thermal_voltage(temperature)


def _drive_of(ramp: Number) -> Number:
    """The gate voltage above the threshold at which f reaches a value, at room [V]."""
    width = _width(ROOM)
    return ramp + width * log(1.0 - exp(-ramp / width))
