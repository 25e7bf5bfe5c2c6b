"""Amplifiers, comparators and gates in small circuits."""

import itertools

import numpy as np
import pytest
from devices.solving import Part, resistor, solved, source

AMPLIFIER_PINS = {"plus": "IN", "minus": "FB", "output": "O", "supply": "VCC", "ground": "GND"}
EXACT = {
    "offset": 0.0,
    "bias_current": 0.0,
    "offset_current": 0.0,
    "common_mode_error": 0.0,
    "supply_error": 0.0,
}


def amplifier(**values: float) -> list[Part]:
    """Non-inverting amplifier of gain 3."""
    return [
        source("V", "VCC"),
        source("VI", "IN"),
        Part("A", "operational-amplifier", AMPLIFIER_PINS, {**EXACT, **values}, name="358 type"),
        resistor("R1", "O", "FB", 20e3),
        resistor("R2", "FB", "GND", 10e3),
        resistor("L", "O", "GND", 1e4),
    ]


def test_closed_loop_gain_falls_short_by_the_loop_gain() -> None:
    """Vout = G Vin / (1 + G/A) (Gray, Hurst, Lewis and Meyer)."""
    found = solved(amplifier(gain=1e3), V_voltage=12.0, VI_voltage=[1.0, 2.0])
    assert found["O"] == pytest.approx(np.array([3.0, 6.0]) / (1 + 3e-3), rel=1e-5)


def test_offset_is_amplified() -> None:
    found = solved(amplifier(offset=5e-3, gain=1e8), V_voltage=12.0, VI_voltage=1.0)
    assert found["O"] == pytest.approx(3.0 * 1.005, rel=1e-5)


def test_bias_current_makes_an_offset_in_the_feedback_resistors() -> None:
    """PNP inputs give current: 20 nA out of the minus input lift it; the output falls by Ib R1."""
    found = solved(amplifier(bias_current=-20e-9, gain=1e8), V_voltage=12.0, VI_voltage=1.0)
    assert found["O"] == pytest.approx(3.0 - 20e-9 * 20e3, abs=2e-5)


def test_output_stays_within_its_swing_and_says_so() -> None:
    found = solved(amplifier(), V_voltage=5.0, VI_voltage=[-0.0, 1.0, 3.0])
    assert found["O"][2] == pytest.approx(5.0 - 1.3, abs=0.02)
    assert found["O"][2] == pytest.approx(found["A.swing_high"][2], abs=1e-3)
    assert found["A.control"][1] > 0.99
    assert found["A.control"][2] < 0.01


def test_358_type_cannot_pull_low_against_more_than_a_light_current() -> None:
    """It sinks some 30 µA at 0.2 V only (datasheet tables of the 358 type)."""
    parts = [*amplifier(), source("W", "X"), resistor("RX", "X", "O")]
    found = solved(
        parts,
        V_voltage=5.0,
        VI_voltage=0.0,
        W_voltage=5.0,
        RX_resistance=[1e7, 160e3, 5e3],
        L_resistance=1e9,
    )
    assert found["O"][0] < 0.02
    assert 0.15 < found["O"][1] < 0.35
    assert 0.55 < found["O"][2] < 0.75


def test_output_current_is_limited() -> None:
    found = solved(amplifier(), V_voltage=12.0, VI_voltage=3.0, L_resistance=[1e3, 10.0])
    assert found["A.output_current"][1] == pytest.approx(30e-3, rel=1e-3)
    assert found["A.control"][1] < 0.01


@pytest.mark.parametrize(("bias", "rail"), [(-20e-9, 5.0), (20e-9, 0.0)])
def test_unconnected_input_floats_to_the_rail_its_current_comes_from(
    bias: float, rail: float
) -> None:
    pins = {**AMPLIFIER_PINS, "minus": "O"}
    parts = [
        source("V", "VCC"),
        Part("A", "operational-amplifier", pins, {**EXACT, "bias_current": bias}, name="358 type"),
    ]
    assert solved(parts, V_voltage=5.0)["IN"] == pytest.approx(rail, abs=0.02)


def test_unpowered_amplifier_gives_nothing() -> None:
    found = solved(amplifier(), V_voltage=0.0, VI_voltage=1.0)
    assert abs(found["O"][0]) < 1e-3


def test_current_sense_amplifier_reads_its_shunt_above_its_supply() -> None:
    pins = {"sense_plus": "IN", "sense_minus": "X", "output": "O", "supply": "VCC", "ground": "GND"}
    load = Part("L", "load", {"plus": "X", "minus": "GND"}, {}, {"style": "constant-current"})
    parts = [
        source("V", "VCC"),
        source("VI", "IN"),
        resistor("S", "IN", "X", 0.1),
        load,
        Part(
            "A",
            "current-sense-amplifier",
            pins,
            {"input_current": 0.0, "offset": 1e-4},
            name="current-sense amplifier 26 V gain 50",
        ),
    ]
    found = solved(parts, V_voltage=5.0, VI_voltage=12.0, L_current=[0.0, 0.5, 0.9, 2.0])
    assert found["O"][1:3] == pytest.approx(50 * (0.1 * np.array([0.5, 0.9]) + 1e-4), rel=1e-3)
    assert found["O"][0] == pytest.approx(5.1e-3, abs=2e-3)
    assert found["O"][3] == pytest.approx(4.95, abs=0.01)


def comparator(output: str) -> list[Part]:
    pins = {"plus": "IN", "minus": "REF", "output": "O", "supply": "VCC", "ground": "GND"}
    return [
        source("V", "VCC"),
        source("VI", "IN"),
        source("VR", "REF"),
        Part("C", "comparator", pins, EXACT, {"output": output}, "393 type"),
        resistor("R", "VCC", "O", 4750.0 / 4.0),
    ]


def test_comparator_meets_its_saturation_voltage() -> None:
    """250 mV at 4 mA (datasheet tables of the 393 type)."""
    found = solved(
        comparator("open-collector"), V_voltage=5.0, VR_voltage=1.0, VI_voltage=[0.99, 1.01]
    )
    assert found["C.sink_current"][0] == pytest.approx(4e-3, rel=1e-3)
    assert found["O"] == pytest.approx(np.array([0.25, 5.0]), abs=2e-3)
    assert found["C.state"] == pytest.approx(np.array([0.0, 1.0]), abs=0.03)


def test_comparator_sinks_no_more_than_its_limit() -> None:
    found = solved(
        comparator("open-collector"),
        V_voltage=5.0,
        VR_voltage=1.0,
        VI_voltage=0.0,
        R_resistance=10.0,
    )
    assert 0.9 * 16e-3 < found["C.sink_current"][0] < 16e-3


def test_push_pull_comparator_drives_high_against_a_load() -> None:
    parts = [*comparator("push-pull"), resistor("L", "O", "GND", 2e3)]
    found = solved(parts, V_voltage=5.0, VR_voltage=1.0, VI_voltage=[0.0, 2.0], R_resistance=1e9)
    assert found["O"] == pytest.approx(np.array([0.0, 4.85]), abs=0.05)


def gate(function: str, ref: str = "G", **pins: str) -> Part:
    nets = {"a": "A", "b": "B", "output": "O", "supply": "VCC", "ground": "GND", **pins}
    return Part(
        ref, "logic-gate", nets, {"input_leakage": 0.0}, {"function": function}, "4011 type"
    )


@pytest.mark.parametrize(
    ("function", "truth"),
    [
        ("nand", [1, 1, 1, 0]),
        ("nor", [1, 0, 0, 0]),
        ("and", [0, 0, 0, 1]),
        ("or", [0, 1, 1, 1]),
        ("xor", [0, 1, 1, 0]),
        ("inverter", [1, 1, 0, 0]),
        ("buffer", [0, 0, 1, 1]),
    ],
)
def test_gates_do_what_their_function_says(function: str, truth: list[int]) -> None:
    levels = np.array(list(itertools.product([0.0, 12.0], repeat=2)))
    parts = [
        source("V", "VCC"),
        source("VA", "A"),
        source("VB", "B"),
        gate(function),
        resistor("L", "O", "GND", 1e6),
    ]
    found = solved(parts, V_voltage=12.0, VA_voltage=levels[:, 0], VB_voltage=levels[:, 1])
    assert found["O"] == pytest.approx(12.0 * np.array(truth), abs=0.05)


def test_gate_output_resistance() -> None:
    parts = [
        source("V", "VCC"),
        source("VA", "A"),
        gate("inverter", b="A"),
        resistor("L", "O", "GND", 350.0),
    ]
    found = solved(parts, V_voltage=10.0, VA_voltage=0.0)
    assert found["O"] == pytest.approx(5.0, abs=0.05)


def test_two_gates_make_a_latch_with_two_states() -> None:
    parts = [
        source("V", "VCC"),
        gate("nor", "G1", a="GND", b="Q", output="N"),
        gate("nor", "G2", a="GND", b="N", output="Q"),
    ]
    for forced, expected in ((1.0, 0.0), (0.0, 5.0)):
        held = solved(parts, V_voltage=5.0, G1_free=0.0, G1_forced=forced)
        assert held["Q"] == pytest.approx(expected, abs=0.01)
        assert held["G2.state"] == pytest.approx(expected / 5.0, abs=0.01)
