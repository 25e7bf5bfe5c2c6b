"""Regulators and references in time and in frequency."""

from dataclasses import replace

import numpy as np
import pytest
from devices.moving import Complex, Moving, when
from devices.solving import Part, resistor, source
from published import Row, published

PINS = {"input": "IN", "output": "OUT", "adjust": "ADJ"}
LOAD = {"plus": "OUT", "minus": "GND"}
STEADY = {"style": "constant-current"}


def capacitor(ref: str, plus: str, capacitance: float, esr: float = 0.05) -> Part:
    return Part(
        ref,
        "capacitor",
        {"plus": plus, "minus": "GND"},
        {"capacitance": capacitance, "esr": esr, "leakage": 0.0},
        {"dielectric": "film"},
    )


def adjustable(lower: float, *more: Part, **values: float) -> list[Part]:
    return [
        source("V", "IN"),
        Part("U", "adjustable-regulator", PINS, values, name="317 type 1.5 A"),
        resistor("R1", "OUT", "ADJ", 240.0),
        resistor("R2", "ADJ", "GND", lower),
        Part("LD", "load", LOAD, {}, STEADY),
        *more,
    ]


def impedance(moving: Moving, frequencies: np.ndarray) -> Complex:
    return -moving.response("LD.current", "OUT", frequencies)


class TestLinearRegulator:
    def test_output_impedance_rises_like_that_of_a_coil(self) -> None:
        """r + (j w L in parallel with R), as the docstring has it."""
        stated = {"output_inductance": 1e-7, "open_loop_resistance": 0.5, "feedthrough": 0.0}
        stated["load_regulation"] = 1e-3
        moving = Moving(adjustable(1e-3, **stated), V_voltage=8.0, LD_current=0.5)
        frequencies = np.logspace(2, 8, 13)
        reactance = 2j * np.pi * frequencies * 1e-7
        wanted = 1.25 * 1e-3 / 1.5 + reactance * 0.5 / (reactance + 0.5)
        assert impedance(moving, frequencies) == pytest.approx(wanted, rel=3e-3)

    def test_ripple_rejection_falls_towards_high_frequencies(self) -> None:
        """317 type with 10 µF at its adjust pin: some 45 dB at 100 kHz (curve, from memory)."""
        parts = adjustable(1680.0, capacitor("CA", "ADJ", 10e-6))
        moving = Moving(parts, V_voltage=15.0, LD_current=0.5)
        found = -20.0 * np.log10(np.abs(moving.response("V.voltage", "OUT", [1e3, 1e4, 1e5])))
        assert found[0] > found[1] + 6.0 > found[2] + 12.0
        assert found[2] == pytest.approx(45.0, abs=3.0)

    def test_a_load_step_dips_by_the_impedance_of_loop_and_capacitor(self) -> None:
        """Without damping the dip would be dI sqrt(L/C); it heals, and rests at the new load."""
        stated = {"output_inductance": 1e-7, "open_loop_resistance": 0.3}
        parts = adjustable(1e-3, capacitor("CO", "OUT", 10e-6, esr=1e-3), **stated)
        moving = Moving(parts, V_voltage=8.0, LD_current=0.1)
        times = np.linspace(0.0, 60e-6, 601)
        (output,) = moving.course(times, "OUT", LD_current=lambda time: 1.1)
        dip = output[0] - output.min()
        assert 0.6 * np.sqrt(1e-7 / 10e-6) < dip < 1.05 * np.sqrt(1e-7 / 10e-6)
        rest = Moving(parts, V_voltage=8.0, LD_current=1.1)
        assert output[-1] == pytest.approx(rest.x[rest.topology.index["OUT", ""]], abs=1e-3)

    def test_it_comes_out_of_its_current_limit_at_once(self) -> None:
        """After 1 ms of overload it regulates again as soon as its capacitor is charged."""
        parts = adjustable(720.0, capacitor("CO", "OUT", 10e-6), current_limit=2.0, limit_fall=0.0)
        moving = Moving(parts, V_voltage=12.0, LD_current=4.0)
        times = np.linspace(0.0, 200e-6, 801)
        (output,) = moving.course(times, "OUT", LD_current=lambda time: 4.0 if time < 1e-4 else 1.0)
        assert output[399] < 0.5
        charging = 10e-6 * 4.9 / 1.0
        assert when(times, output, 5.0) - 1e-4 == pytest.approx(charging, rel=0.1)
        assert output.max() < 5.3

    def test_it_leaves_dropout_without_an_overshoot_that_lasts(self) -> None:
        parts = adjustable(720.0, capacitor("CO", "OUT", 10e-6))
        moving = Moving(parts, V_voltage=6.0, LD_current=0.5)
        times = np.linspace(0.0, 100e-6, 401)
        (output,) = moving.course(times, "OUT", V_voltage=lambda time: 12.0 if time > 1e-5 else 6.0)
        assert output[0] < 4.5
        assert output[-1] == pytest.approx(5.04, abs=0.02)


def test_fixed_regulator_has_the_impedance_of_its_type() -> None:
    """7805: about 17 mΩ at 1 kHz, 1 Ω at 1 MHz (datasheet of the 78xx type, from memory)."""
    pins = {"input": "IN", "output": "OUT", "ground": "GND"}
    parts = [
        source("V", "IN"),
        Part("U", "fixed-regulator", pins, {}, name="7805 type 1 A"),
        Part("LD", "load", LOAD, {}, STEADY),
    ]
    found = np.abs(impedance(Moving(parts, V_voltage=10.0, LD_current=0.5), np.array([1e3, 1e6])))
    assert 0.005 < found[0] < 0.03
    assert 0.3 < found[1] < 1.5


SHUNT = {"cathode": "K", "anode": "GND", "reference": "R"}


class TestShuntReference:
    def test_gain_into_the_test_load_is_one_at_the_stated_frequency(self) -> None:
        moving = Moving(
            [
                source("V", "VCC"),
                source("VR", "R"),
                resistor("RL", "VCC", "K", 230.0),
                Part("U", "shunt-reference", SHUNT, {"cathode_voltage_effect": 0.0}),
            ],
            V_voltage=10.0,
            VR_voltage=2.496,
        )
        slow, fast = moving.response("VR.voltage", "K", [1.0, 1.5e6])
        assert slow == pytest.approx(-230.0 / 0.2, rel=0.01)
        assert abs(fast) == pytest.approx(1.0, rel=0.01)

    @pytest.mark.parametrize("capacitance", [1e-9, 1e-7, 1e-5, 1e-3])
    def test_a_capacitor_across_it_rings_with_its_lag(self, capacitance: float) -> None:
        """s² L C + s (z C + L/R) + 1 + z/R, L = load / (2 pi f_u); least damped in between."""
        series, lag, z = 1e3, 230.0 / (2.0 * np.pi * 1.5e6), 0.2
        moving = Moving(
            [
                source("V", "VCC", resistance=series),
                resistor("RS", "VCC", "R", 1e-3),
                resistor("RT", "R", "K", 1e-3),
                capacitor("C", "K", capacitance, esr=1e-4),
                Part("U", "shunt-reference", SHUNT, {"cathode_voltage_effect": 0.0}),
            ],
            V_voltage=12.0,
        )
        wanted = np.roots([lag * capacitance, z * capacitance + lag / series, 1.0 + z / series])
        found = moving.poles()
        for pole in wanted:
            assert np.abs(found - pole).min() < 0.02 * abs(pole)

    def test_it_wakes_up_soon_after_being_cut_off(self) -> None:
        parts = [
            source("V", "VCC"),
            source("VR", "R"),
            resistor("RL", "VCC", "K", 1e3),
            Part("U", "shunt-reference", SHUNT, {}),
        ]
        moving = Moving(parts, V_voltage=10.0, VR_voltage=1.0)
        times = np.linspace(0.0, 10e-6, 401)
        (cathode,) = moving.course(times, "K", VR_voltage=lambda time: 2.6)
        assert cathode[0] > 9.9
        assert when(times, cathode, 5.0) < 3e-6


STAGE = {"input": "IN", "switch": "SW", "ground": "GND", "feedback": "FB"}
IDEAL = {
    "saturation_voltage": 0.0,
    "switch_resistance": 1e-4,
    "transition_time": 0.0,
    "quiescent_current": 0.0,
    "standby_current": 0.0,
    "feedback_current": 0.0,
    "gain": 1e4,
    "current_limit": 100.0,
    "frequency": 1e5,
    "reference": 5.0,
}
COIL = {"inductance": 50e-6, "winding_resistance": 1e-6, "saturation_current": 1e6}


def stage(load: float, **values: float) -> list[Part]:
    """28 V to 15 V at 100 kHz with 50 µH and 500 µF; a diode would only add its drop."""
    return [
        source("V", "IN", limit=1e3),
        Part("U", "step-down-regulator", STAGE, {**IDEAL, **values}),
        Part("L", "inductor", {"one": "SW", "two": "OUT"}, COIL),
        capacitor("C", "OUT", 500e-6, esr=1e-4),
        resistor("R", "OUT", "GND", load),
        resistor("RA", "OUT", "FB", 20e3),
        resistor("RB", "FB", "GND", 10e3),
    ]


def control_to_output(load: float, frequencies: np.ndarray) -> Complex:
    moving = Moving(stage(load), V_voltage=28.0)
    return moving.response_to_unknown("U.state", "OUT", frequencies)


class TestStepDown:
    def test_second_order_in_continuous_conduction(self) -> None:
        """V/D / (1 + s/(Q w0) + (s/w0)²) (Erickson and Maksimovic, table 8.2)."""
        frequencies = np.array([10.0, 300.0, 3e3, 2e4])
        s = 2j * np.pi * frequencies
        wanted = 28.0 / (1.0 + s * 50e-6 / 3.0 + s * s * 50e-6 * 500e-6)
        assert control_to_output(3.0, frequencies) == pytest.approx(wanted, rel=0.02)

    def test_first_order_in_discontinuous_conduction(self) -> None:
        """2 V/D (1-M)/(2-M) and (2-M)/((1-M) R C) (Erickson and Maksimovic, table 11.3)."""
        load, ratio = 100.0, 15.0 / 28.0
        moving = Moving(stage(load), V_voltage=28.0)
        duty = moving.x[moving.topology.index["U", "state"]]
        # D² = K M² / (1 - M), K = 2 L f / R (chapter 5)
        k = 2.0 * 50e-6 * 1e5 / load
        assert duty == pytest.approx(np.sqrt(k * ratio**2 / (1.0 - ratio)), rel=0.01)
        gain = 2.0 * 15.0 / duty * (1.0 - ratio) / (2.0 - ratio)
        pole = (2.0 - ratio) / ((1.0 - ratio) * load * 500e-6)
        frequencies = np.array([0.1, 1.0, 10.0, 100.0, 1000.0])
        wanted = gain / (1.0 + 2j * np.pi * frequencies / pole)
        found = moving.response_to_unknown("U.state", "OUT", frequencies)
        assert found == pytest.approx(wanted, rel=0.02)

    @pytest.mark.parametrize(
        "row", published("pole of a step-down regulator in current mode"), ids=str
    )
    def test_first_order_in_current_mode(self, row: Row) -> None:
        """Well below the clock the coil is a current source that the ramp makes imperfect."""

        known = row.inputs
        duty, limit = known["output"] / known["input"], 10.0
        ramp = known["ramp"] * known["output"] / known["inductance"]
        values = {
            "current_limit": limit,
            "frequency": known["frequency"],
            "slope_compensation": ramp,
            "gain": 1.0,
            "compensation_pole": 1e9,
            "compensation_zero": 1e9,
        }
        parts = {part.ref: part for part in stage(known["load"], **values)}
        parts["U"] = replace(parts["U"], given_options={"control": "peak-current-mode"})
        parts["L"] = replace(parts["L"], values={**COIL, "inductance": known["inductance"]})
        parts["C"] = capacitor("C", "OUT", known["capacitance"], esr=1e-4)
        parts["RA"] = source("VF", "FB")
        rise = (known["input"] - known["output"]) / known["inductance"]
        commanded = known["output"] / known["load"]
        commanded += (0.5 * rise + ramp) * duty / known["frequency"]
        fed_back = IDEAL["reference"] - commanded / limit
        moving = Moving(list(parts.values()), V_voltage=known["input"], VF_voltage=fed_back)
        assert moving.x[moving.topology.index["OUT", ""]] == pytest.approx(8.0, rel=1e-3)
        found = moving.response("U.reference", "OUT", 50.0)[0]
        assert -50.0 * found.real / found.imag == row.expected_within_its_tolerance

    def test_error_amplifier_integrates_up_to_its_zero(self) -> None:
        """A (1 + j f/fz) / (1 + j f/fp)."""
        parts = [
            p if p.ref != "RA" else source("VF", "FB")
            for p in stage(3.0, gain=500.0, compensation_pole=80.0, compensation_zero=2e3)
        ]
        moving = Moving(parts, V_voltage=28.0, VF_voltage=5.0 - 0.536 / 500.0)
        frequencies = np.array([1.0, 80.0, 2e3, 1e5])
        wanted = 500.0 * (1.0 + 1j * frequencies / 2e3) / (1.0 + 1j * frequencies / 80.0)
        found = moving.response("U.reference", "U.state", frequencies)
        assert found == pytest.approx(wanted, rel=0.01)

    def test_its_duty_does_not_wind_up_at_its_limit(self) -> None:
        """An input that comes back after a rest at full duty is met without a long overshoot."""
        loop = {"gain": 500.0, "compensation_pole": 80.0, "compensation_zero": 2e3}
        parts = stage(3.0, duty_limit=0.9, **loop)
        parts = [p if p.ref != "C" else capacitor("C", "OUT", 500e-6, esr=0.05) for p in parts]
        moving = Moving(parts, V_voltage=14.0)
        times = np.linspace(0.0, 3e-3, 601)
        (output,) = moving.course(
            times, "OUT", V_voltage=lambda time: 14.0 if time < 2e-4 else 28.0
        )
        assert output[0] < 12.7
        assert output.max() < 18.0
        assert output[-1] == pytest.approx(15.0, abs=0.2)
