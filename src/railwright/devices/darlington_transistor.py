"""Darlington transistor: two transistors, their resistors and a diode on one chip."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import (
    ROOM,
    exp,
    junction_curve,
    log,
    maximum,
    saturation_current,
    sqrt,
    thermal_voltage,
)
from railwright.devices.bipolar_transistor import (
    BipolarTransistor,
    saturated_drop,
    store,
    transport,
)
from railwright.devices.device import JUNCTION, Number, Terms, Unknown, Value, dissipate
from railwright.devices.noise import shot_noise, thermal_noise

FORCED_GAIN = 250.0  # collector to base current at which saturation is stated: 122 type
DRIVER_SHARE = 0.2  # of the chip, and so of the capacitances, that is the driver's (from memory)
DIODE_IDEALITY = 1.2  # of the diode from emitter to collector (from memory)
LEAST_DIODE = 0.6  # V; of its forward voltage across the junction: silicon leaks next to nothing
LEAST_SHARE = 0.1  # of the test current that each transistor is left, beyond any real part


class DarlingtonTransistor(BipolarTransistor):
    """A driver whose emitter feeds the base of an output transistor; both share the collector.

    Each follows the equations of `bipolar-transistor`, at one chip temperature. The gains are
    taken as equal, the base-emitter voltages as equal at the test current (from memory). The
    output transistor cannot saturate: what is left across the pair is its base-emitter voltage,
    the saturated driver and the collector's resistance, which follows from the saturation
    voltage. The resistors across both base-emitter paths lead leakage away and set the gain at
    low currents; the diode from emitter to collector is a junction with a resistance. Source:
    Sedra and Smith, Microelectronic Circuits, on the Darlington configuration, and the inner
    circuit in the datasheet of the 122 type. Noise: that of both transistors, of the diode and of
    the resistors.
    Faults and their shares: as of bipolar transistors, RAC FMD-97 as commonly quoted (from
    memory).
    """

    kind = "darlington-transistor"
    values = {
        **BipolarTransistor.values,
        "current_gain": Value("1", "product of both gains, 25 °C, before their fall", least=1),
        "reverse_gain": Value("1", "of each, emitter over base current, upside down", least=0.01),
        "base_emitter_voltage": Value("V", "of the pair, test current, 25 °C", least=0.4, most=5.0),
        "saturation_voltage": Value("V", "of the pair, base current a 250th", least=0.01),
        "gain_half_current": Value(
            "A", "where the output transistor's gain has halved", default=1e6, least=1e-6
        ),
        "driver_resistor": Value("Ω", "base to emitter of the driver", default=1e9, least=1.0),
        "output_resistor": Value(
            "Ω", "base to emitter of the output transistor", default=1e9, least=1.0
        ),
        "diode_voltage": Value("V", "of the diode across it, at the diode's current", least=0.2),
        "diode_current": Value("A", "current of that voltage", least=1e-6),
        "diode_resistance": Value("Ω", "ohmic part of that voltage", least=1e-5),
    }
    unknowns = {
        "middle": Unknown("V", node=True),
        "driver_emitter": Unknown("V"),
        "driver_collector": Unknown("V"),
        "output_emitter": Unknown("V"),
        "output_collector": Unknown("V"),
        "diode": Unknown("V"),
        **JUNCTION,
    }
    conducts = (*BipolarTransistor.conducts, ("emitter", "collector"))
    symbol = "darlington-transistor"

    def constants(self, v: Any) -> dict[str, Number]:
        gain, volts = sqrt(v.current_gain), thermal_voltage(ROOM)
        half = 0.5 * v.base_emitter_voltage
        driver, output = _shares(v, v.test_current, half, gain)
        growth = exp(half / volts) - 1.0
        saturated, base = _saturated(v, output / growth, gain)
        body = DIODE_IDEALITY * volts
        diode = maximum(v.diode_voltage - v.diode_resistance * v.diode_current, LEAST_DIODE)
        ohmic = (v.diode_voltage - diode) / v.diode_current
        return {
            "driver_at_room": driver / growth,
            "output_at_room": output / growth,
            "inverse_gain": 1.0 / gain,
            "inverse_reverse_gain": 1.0 / v.reverse_gain,
            "inverse_early": 1.0 / v.early_voltage,
            "inverse_half": 1.0 / v.gain_half_current,
            "collector_resistance": maximum(v.saturation_voltage - base - saturated, 1e-3)
            / v.saturation_test_current,
            "diode_ohmic": maximum(ohmic, 1e-5),
            "diode_at_room": v.diode_current / (exp(diode / body) - 1.0),
            "driver_conductance": 1.0 / v.driver_resistor,
            "output_conductance": 1.0 / v.output_resistor,
        }

    def equations(self, t: Terms) -> None:
        sign = 1.0 if t.option("polarity") == "npn" else -1.0
        base, middle = sign * t.v("base"), sign * t.v("middle")
        emitter, collector = sign * t.v("emitter"), sign * t.v("collector")
        driver = transport(t, ("driver_emitter", "driver_collector"), t.p.driver_at_room, "driver")
        output = transport(t, ("output_emitter", "output_collector"), t.p.output_at_room, "drive")
        current = driver.current + output.current
        inner = collector - current * t.p.collector_resistance
        t.zero("driver_emitter", base - middle - driver.emitter.volts)
        t.zero("driver_collector", base - inner - driver.collector.volts)
        t.zero("output_emitter", middle - emitter - output.emitter.volts)
        t.zero("output_collector", middle - inner - output.collector.volts)
        store(t, sign, ("collector", "base", "middle"), driver, DRIVER_SHARE)
        store(t, sign, ("collector", "middle", "emitter"), output, 1.0 - DRIVER_SHARE)

        into_base = driver.base + (base - middle) * t.p.driver_conductance
        into_middle = output.base + (middle - emitter) * t.p.output_conductance
        back = self._diode(t, sign, emitter - collector)
        t.through("base", "middle", sign * into_base)
        t.through("middle", "emitter", sign * into_middle)
        t.through("collector", "middle", sign * driver.current)
        t.through("collector", "emitter", sign * (output.current - back))
        self._noise(t, driver.base, driver.current, output.base, output.current)
        voltage, base_emitter = collector - emitter, base - emitter
        dissipate(
            t,
            (base - middle) * into_base
            + (middle - emitter) * into_middle
            + (collector - middle) * driver.current
            + voltage * (output.current - back),
        )
        t.observe("voltage", voltage)
        t.observe("current", current - back)
        t.observe("base_current", into_base)
        t.observe("base_emitter_voltage", base_emitter)
        t.observe("emitter_base_voltage", -base_emitter)

    def _diode(self, t: Terms, sign: float, across: Number) -> Number:
        """Current of the diode, from emitter to collector [A]."""
        warm = t.v("junction")
        saturation = saturation_current(t.p.diode_at_room, warm, DIODE_IDEALITY)
        slope = DIODE_IDEALITY * thermal_voltage(warm)
        volts, current = junction_curve(t.x("diode"), saturation, slope)
        t.zero("diode", across - volts - current * t.p.diode_ohmic)
        t.noise("emitter", "collector", shot_noise(current + 2.0 * saturation))
        return current

    def _noise(
        self, t: Terms, driver_base: Number, driver: Number, output_base: Number, output: Number
    ) -> None:
        warm = t.v("junction")
        t.noise("base", "middle", shot_noise(abs(driver_base)), t.p.noise_corner)
        t.noise("collector", "middle", shot_noise(abs(driver)))
        t.noise("middle", "emitter", shot_noise(abs(output_base)), t.p.noise_corner)
        t.noise("collector", "emitter", shot_noise(abs(output)))
        t.noise("base", "middle", thermal_noise(warm, t.p.driver_conductance))
        t.noise("middle", "emitter", thermal_noise(warm, t.p.output_conductance))
        # Of the driver's equation it is left out: no noise here belongs to two of them.
        t.noise_in("output_collector", thermal_noise(warm, t.p.collector_resistance))


def _shares(v: Any, current: Number, half: Number, gain: Number) -> tuple[Number, Number]:
    """Collector currents of driver and output transistor that make up a current of the pair [A].

    half: voltage of each junction [V]; gain: of each transistor.
    """
    fall = 1.0 + current / v.gain_half_current
    shunted = half / v.output_resistor - half / v.driver_resistor
    through = 1.0 + 1.0 / gain
    output = (current - shunted / through) / (1.0 + fall / (gain * through))
    least = LEAST_SHARE * current
    output = maximum(output, least)
    return maximum(current - output, LEAST_SHARE * least), output


def _saturated(v: Any, output_at_room: Number, gain: Number) -> tuple[Number, Number]:
    """Voltages of the saturated driver and of the output's junction where saturation is stated [V].

    output_at_room: saturation current of the output transistor [A].
    """
    current, volts = v.saturation_test_current, thermal_voltage(ROOM)
    _, output = _shares(v, current, volts * log(1.0 + current / output_at_room), gain)
    junction = volts * log(1.0 + output / output_at_room)
    driver, _ = _shares(v, current, junction, gain)
    given = current / FORCED_GAIN
    into = maximum(given - junction / v.driver_resistor, LEAST_SHARE * given)
    return saturated_drop(driver / into, gain, v.reverse_gain), junction
