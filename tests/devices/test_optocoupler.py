"""Optocouplers: published points, the transistor's equations, age, speed, isolation."""

from __future__ import annotations

import numpy as np
import pytest
from devices.moving import Moving
from devices.samples import typical_values
from devices.solving import Part, Solution, resistor, solved, source
from devices.terms import LonePart
from published import Row, published

from railwright.devices import kinds

KIND, NAMES = "optocoupler", ["817 type A", "817 type D", "4N25", "4N35"]
PINS = {"anode": "A", "cathode": "GND", "collector": "C", "emitter": "GND"}
COOL = {"junction_to_ambient": 1e-3}
INPUT = 100.0  # V; behind such a resistance that it is nearly a current
ZERO = 273.15


def lit(name: str, current: object, volts: object, **values: float) -> Solution:
    """A cool part with currents through its diode and voltages across its output."""
    part = Part("U", KIND, PINS, {**COOL, **values}, name=name)
    parts = [source("V", "IN"), resistor("R", "IN", "A"), source("W", "C"), part]
    ohms = (INPUT - 1.1) / np.asarray(current)
    return solved(parts, V_voltage=INPUT, R_resistance=ohms, W_voltage=volts)


def lone(name: str, celsius: float, **at: object) -> LonePart:
    """The part with its chips held at a temperature."""
    kelvin = ZERO + celsius
    place = {"anode": 0.0, "cathode": 0.0, "collector": 0.0, "emitter": 0.0, "lit": 0.0}
    place |= {"walk": 0.0, "case": kelvin, "junction": kelvin, **at}
    return LonePart(kinds()[KIND], typical_values(KIND, name), place).run()


def at_current(name: str, celsius: float, amperes: float) -> tuple[float, float]:
    """Voltage and transfer ratio of a part at a current through its diode."""
    part = lone(name, celsius, walk=np.linspace(0.5, 2.0, 30001))
    current = part.observed["input_current"]
    wanted = -part.zeros["walk"]  # at nil volts across, its equation lacks what it wants there
    ratio = part.observed["transfer_ratio"]
    return float(np.interp(amperes, current, wanted)), float(np.interp(amperes, current, ratio))


@pytest.mark.parametrize("name", NAMES)
def test_stated_ratio_and_saturation(name: str) -> None:
    known = typical_values(KIND, name)
    found = lit(name, [known["transfer_current"]], known["transfer_voltage"])
    ratio = found["U.current"] / found["U.input_current"]
    assert ratio == pytest.approx(known["transfer_ratio"], rel=0.01)
    bright = lit(name, [known["saturation_input"]], known["saturation_voltage"])
    assert bright["U.current"] == pytest.approx(known["saturation_current"], rel=0.03)


@pytest.mark.parametrize("row", published("forward voltage of an optocoupler"), ids=str)
def test_published_forward_voltages(row: Row) -> None:
    volts, _ = at_current(row.inputs["name"], row.inputs["temperature"], 10e-3)
    assert volts == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("dark current of an optocoupler"), ids=str)
def test_published_dark_current(row: Row) -> None:
    dark = lone(row.inputs["name"], row.inputs["temperature"], collector=10.0).observed["current"]
    room = lone(row.inputs["name"], 25.0, collector=10.0).observed["current"]
    early = 1.0 + 10.0 / 60.0  # both are stated at 10 V, where the output conductance adds to it
    assert float(dark) / early == row.expected_within_its_tolerance
    assert float(room) / early == pytest.approx(1e-9, rel=1e-3)


def test_output_is_that_of_a_transistor_whose_base_is_fed_by_light_alone() -> None:
    """The second form: the equations of `bipolar-transistor` with a base current."""
    known = typical_values(KIND, "817 type A")
    part = Part("U", KIND, PINS, {**COOL, "early_voltage": 1e6}, name="817 type A")
    over = part.device.constants(_Values({**part.known}))["gain_over_reverse"]
    gain, amperes = 5e3, known["transfer_ratio"] * known["transfer_current"]
    stated = {"current_gain": gain, "reverse_gain": gain / over, "saturation_voltage": 1e-3}
    stated |= {"early_voltage": 1e6, "gain_half_current": 1e6, "saturation_test_current": 1.0}
    ends = {"collector": "C", "base": "B", "emitter": "GND"}
    single = Part("Q", "bipolar-transistor", ends, {**COOL, **stated}, {"polarity": "npn"})
    volts = np.array([0.0, 0.02, 0.05, 0.1, 0.15, 0.3, 1.0, 10.0])
    fed = [source("V", "IN"), resistor("R", "IN", "B", 1e9), source("W", "C"), single]
    base = solved(fed, V_voltage=1e9 * amperes / gain, W_voltage=volts)
    found = lit("817 type A", np.full(8, known["transfer_current"]), volts, early_voltage=1e6)
    assert found["U.current"] == pytest.approx(base["Q.current"], abs=0.01 * amperes)


class _Values:
    """Values by attribute, as `constants` asks for them."""

    def __init__(self, known: object) -> None:
        self.__dict__.update(known)  # type: ignore[call-overload]


def test_ratio_falls_at_both_ends_and_with_age() -> None:
    """The shape of the curve in datasheets of the 817 type: broad top near 10 mA (from memory)."""
    currents = np.array([1e-4, 1e-3, 5e-3, 1e-2, 5e-2])
    found = lit("817 type A", currents, 5.0)
    ratio = found["U.current"] / found["U.input_current"]
    assert ratio / ratio[2] == pytest.approx([0.13, 0.65, 1.0, 1.0, 0.65], abs=0.03)
    old = lit("817 type A", currents, 5.0, transfer_left=0.5)
    assert old["U.current"] == pytest.approx(0.5 * found["U.current"], rel=1e-3)


def test_ratio_over_temperature() -> None:
    """Typical curve of the 817 type, read by eye: 0.9 at -30 °C, 0.57 at 100 °C (from memory)."""
    cold, room, hot = (at_current("817 type A", c, 5e-3)[1] for c in (-30.0, 25.0, 100.0))
    assert [cold / room, hot / room] == pytest.approx([0.9, 0.57], abs=0.02)


@pytest.mark.parametrize("row", published("cut-off frequency of an optocoupler"), ids=str)
def test_published_cut_off_frequency(row: Row) -> None:
    assert cut_off(row.inputs["name"], row.inputs["load"]) == row.expected_within_its_tolerance


def test_a_large_load_makes_it_slow() -> None:
    """One pole of 10 kΩ and 6 nF: 2.7 kHz."""
    wanted = 1.0 / (2.0 * np.pi * 10e3 * 6e-9)
    assert cut_off("817 type A", 10e3) == pytest.approx(wanted, rel=0.05)


def cut_off(name: str, load: float) -> float:
    """Frequency at which a change of the input's current has fallen by 3 dB at the output [Hz]."""
    part = Part("U", KIND, PINS, {**COOL, "early_voltage": 1e6}, name=name)
    parts = [source("V", "IN"), resistor("R", "IN", "A", 1e5), part]
    parts += [source("W", "CC"), resistor("RL", "CC", "C", load)]
    moving = Moving(parts, V_voltage=101.1, W_voltage=5.0 + load * 1e-3)
    frequencies = np.geomspace(100.0, 1e6, 400)
    found = np.abs(moving.response("V.voltage", "C", frequencies))
    return float(np.interp(-(0.5**0.5), -found / found[0], frequencies))


def test_both_sides_know_nothing_of_each_other_but_a_leak() -> None:
    """1 kV between them drives 10 nA through 1e11 Ω."""
    beside = lone("817 type A", 25.0, collector=5.0, lit=1e-3)
    lifted = lone("817 type A", 25.0, collector=5.0, lit=1e-3, anode=1e3, cathode=1e3)
    assert lifted.flows["collector"] == beside.flows["collector"] > 0.9e-3
    assert lifted.flows["anode"] == beside.flows["anode"]
    assert lifted.flows["cathode"] - beside.flows["cathode"] == pytest.approx(1e-8)
    assert lifted.observed["isolated_voltage"] == 1e3
