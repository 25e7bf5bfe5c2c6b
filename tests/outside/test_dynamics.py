"""How supplies answer in frequency: figures of others."""

from dataclasses import replace

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.moving import Moving
from devices.solving import Part, resistor, source
from devices.terms import LonePart
from devices.test_regulator_dynamics import adjustable, capacitor, control_to_output
from published import Row, published

from railwright.catalogue.loader import load
from railwright.devices.resistor import Resistor
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import transient


@pytest.mark.parametrize("row", published("ripple rejection"), ids=str)
def test_ripple_rejection_of_the_317_type(row: Row) -> None:
    """At 120 Hz it is what the line regulation leaves: 0.01 %/V in the same table, 25 °C."""
    more = [capacitor("CA", "ADJ", row.inputs["bypass"])] if row.inputs["bypass"] else []
    moving = Moving(
        adjustable(1680.0, capacitor("CO", "OUT", 1e-6), *more, line_regulation=1e-4),
        V_voltage=15.0,
        LD_current=0.5,
    )
    found = -20.0 * np.log10(np.abs(moving.response("V.voltage", "OUT", 120.0)[0]))
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("ripple rejection of a fixed regulator"), ids=str)
def test_ripple_rejection_of_a_fixed_regulator(row: Row) -> None:
    pins = {"input": "IN", "output": "OUT", "ground": "GND"}
    parts = [
        source("V", "IN"),
        Part("U", "fixed-regulator", pins, name=row.inputs["part"]),
        capacitor("CO", "OUT", 1e-7),
        resistor("L", "OUT", "GND", 125.0),
    ]
    moving = Moving(parts, V_voltage=10.0)
    found = -20.0 * np.log10(np.abs(moving.response("V.voltage", "OUT", 120.0)[0]))
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("noise of a regulator"), ids=str)
def test_noise_of_a_regulator(row: Row) -> None:
    """From 10 Hz on: what is above the corner, and what falls as 1/f (any textbook of noise)."""

    def noise(part: str, most: float, share_of: str = "") -> float:
        known = {name: value.spread.typical for name, value in load()[part].values.items()}
        width = most - 10.0 + known["noise_corner"] * np.log(most / 10.0)
        return float(known["noise_voltage"] * np.sqrt(width) / known.get(share_of, 1.0))

    assert noise(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("control to output of a step-down regulator"), ids=str)
def test_resonance_in_continuous_conduction(row: Row) -> None:
    """Second order: V/D at low frequency, a resonance of L and C, damped by the load."""
    frequencies = np.linspace(950.0, 1060.0, 441)
    found = np.abs(control_to_output(3.0, frequencies))
    low = abs(control_to_output(3.0, np.array([1.0]))[0])
    assert low == pytest.approx(28.0, rel=0.01)
    quantity = {"frequency": frequencies[found.argmax()], "quality": found.max() / low}
    assert quantity[row.inputs["quantity"]] == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("thermal noise"), ids=str)
def test_thermal_noise_of_a_resistor(row: Row) -> None:
    ohms = row.inputs["resistance"]
    part = LonePart(Resistor(), {"resistance": ohms}, {"one": 1.0, "two": 0.0})
    part.ambient = row.inputs["temperature"]
    ((pins, density, corner),) = part.run().noises
    assert (pins, corner) == (("one", "two"), 0.0)
    assert np.sqrt(density) * ohms == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("inrush into a capacitor"), ids=str)
def test_inrush_into_a_capacitor(row: Row) -> None:
    """At the peak of the mains through the resistance that leaves the greatest current."""
    peak = np.sqrt(2.0) * row.inputs["effective"]
    ohms = peak / row.inputs["greatest"]
    board = Board().source("V", "IN", 0.0, resistance=1e-3, current_limit=1e3)
    board.resistor("R", "IN", "P", ohms)
    ends = {"plus": "P", "minus": GROUND}
    board.part("C", "capacitor", ends, capacitance=row.inputs["capacitance"], esr=1e-6, leakage=0.0)
    times = np.linspace(0.0, 20.0 * ohms * row.inputs["capacitance"], 4001)
    switched_on = PiecewiseLinear(np.zeros(2), np.array([0.0, peak]))
    model = replace(board.model, topology=replace(board.topology, isothermal=True))
    found = transient(model, {}, 1, times, stimuli={("V", "voltage"): switched_on})
    current = (found.potential("IN") - found.potential("P"))[0] / ohms
    of = {
        "resistance": peak / current.max(),
        "energy": np.trapezoid(current**2 * ohms, times),
    }
    assert of[row.inputs["of"]] == row.expected_within_its_tolerance


@pytest.mark.parametrize(
    "row", published("output ripple by the resistance of the capacitor"), ids=str
)
def test_ripple_over_the_resistance_of_a_capacitor(row: Row) -> None:
    """At 150 kHz, where 1 mF itself adds next to nothing."""
    parts = [
        source("V", "IN"),
        resistor("R", "IN", "OUT", 1e3),
        Part("LD", "load", {"plus": "OUT", "minus": "GND"}, {}, {"style": "constant-current"}),
        capacitor("C", "OUT", 1e-3, esr=row.inputs["resistance"]),
    ]
    moving = Moving(parts, V_voltage=5.0, LD_current=1e-3)
    impedance = abs(moving.response("LD.current", "OUT", 150e3)[0])
    assert impedance * row.inputs["ripple"] * 1e3 == row.expected_within_its_tolerance
