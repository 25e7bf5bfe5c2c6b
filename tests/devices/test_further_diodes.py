"""Bridge rectifiers, light-emitting diodes and suppressors in small circuits."""

import numpy as np
import pytest
from devices.samples import typical_values
from devices.solving import Part, Solution, resistor, solved, source
from published import Row, published
from scipy.special import lambertw

from railwright.devices.arithmetic import BOLTZMANN, CHARGE

COOL = {"junction_to_ambient": 0.1}
BRIDGE = {"first": "A", "second": "B", "plus": "P", "minus": "M"}
VOLTS = BOLTZMANN / CHARGE * 298.15


def bridge(plus: str, minus: str) -> Solution:
    """A bridge fed with 11.86 V from a source between its nets A and B, its minus on ground."""
    pins = {**BRIDGE, "minus": "GND"}
    fed = {"resistance": 1e-3, "current_limit": 100.0}
    parts = [
        Part("V", "source", {"plus": plus, "minus": minus}, fed),
        resistor("R", "P", "GND", 10.0),
        Part("D", "bridge-rectifier", pins, COOL, name="bridge 1.5 A 400 V"),
    ]
    return solved(parts, V_voltage=11.86)


@pytest.mark.parametrize("poles", ["AB", "BA"])
def test_a_bridge_turns_either_sign_the_same_way_with_two_drops(poles: str) -> None:
    """At 1 A each of two diodes drops its stated 0.93 V."""
    found = bridge(*poles)
    assert found["P"] == pytest.approx(10.0, abs=5e-3)
    assert found["D.current"] == pytest.approx(1.0, rel=1e-3)
    assert found["D.power"] == pytest.approx(2 * 0.93, rel=1e-3)
    assert found["D.reverse_voltage"] == pytest.approx(11.86 - 0.93, abs=5e-3)


def test_a_bridge_does_what_four_diodes_do() -> None:
    known = typical_values("bridge-rectifier", "bridge 4 A 400 V")
    ends = {"D1": ("A", "P"), "D2": ("B", "P"), "D3": ("M", "A"), "D4": ("M", "B")}
    four = [
        Part(ref, "diode", {"anode": a, "cathode": k}, {**known, **COOL})
        for ref, (a, k) in ends.items()
    ]
    one = [Part("D", "bridge-rectifier", BRIDGE, {**known, **COOL})]
    around = [
        source("V", "A"),
        resistor("RB", "B", "GND", 1.0),
        resistor("R", "P", "M", 20.0),
        resistor("RM", "M", "GND", 1e4),
    ]
    volts = [0.0, 0.5, 1.5, 5.0, 30.0]
    apart, whole = (solved([*around, *parts], V_voltage=volts) for parts in (four, one))
    for net in ("P", "M", "B"):
        assert whole[net] == pytest.approx(apart[net], abs=2e-4)


def lit(name: str, current: object) -> Solution:
    """A light-emitting diode that takes a current from 100 V by a resistor."""
    pins = {"anode": "A", "cathode": "GND"}
    part = Part("D", "light-emitting-diode", pins, COOL, name=name)
    parts = [source("V", "IN"), resistor("R", "IN", "A"), part]
    return solved(parts, V_voltage=100.0, R_resistance=98.0 / np.asarray(current))


@pytest.mark.parametrize("row", published("forward voltage of a light-emitting diode"), ids=str)
def test_measured_forward_voltages(row: Row) -> None:
    found = lit(row.inputs["name"], [row.inputs["current"]])
    assert found["D.voltage"][0] == row.expected_within_its_tolerance


def test_forward_law_in_closed_form() -> None:
    """i by v for a junction with a resistance: Lambert's W (Banwell and Jayakumar, 2000)."""
    known = typical_values("light-emitting-diode", "LED red 5 mm")
    pins = {"anode": "A", "cathode": "GND"}
    part = Part("D", "light-emitting-diode", pins, COOL, name="LED red 5 mm")
    volts = np.linspace(1.4, 2.4, 21)
    found = solved([source("V", "A", resistance=1e-6), part], V_voltage=volts)
    slope, ohms = known["ideality"] * VOLTS, known["series_resistance"]
    inner = known["forward_voltage"] - ohms * known["test_current"]
    leak = known["test_current"] / np.expm1(inner / slope)
    share = leak * ohms / slope
    current = slope / ohms * lambertw(share * np.exp((volts + leak * ohms) / slope)).real - leak
    assert found["D.current"] == pytest.approx(current, rel=0.01)


def test_brightness_is_the_share_of_the_test_current() -> None:
    found = lit("LED red 5 mm", [2e-3, 10e-3, 20e-3])
    assert found["D.brightness"] == pytest.approx(np.array([0.1, 0.5, 1.0]), rel=0.01)


def test_its_voltage_falls_by_two_millivolts_per_kelvin() -> None:
    """-2 mV/K: red and yellow diodes, usual datasheet figure (from memory)."""
    pins = {"anode": "A", "cathode": "GND"}
    part = Part("D", "light-emitting-diode", pins, name="LED red 5 mm")
    parts = [source("V", "IN"), resistor("R", "IN", "A", 4900.0), part]
    found = solved(parts, V_voltage=100.0, D_junction_to_ambient=[0.1, 750.0])
    kelvins = np.diff(found["D.junction"])[0]
    assert kelvins == pytest.approx(30.0, abs=2.0)
    assert np.diff(found["D.voltage"])[0] / kelvins == pytest.approx(-2e-3, abs=0.6e-3)


def clamped(name: str, current: object, sign: float = 1.0) -> Solution:
    """A suppressor that takes a current, cool, in the direction of its breakdown."""
    polarity = "bidirectional" if name.endswith("both") else "unidirectional"
    ends = ("GND", "A") if sign > 0.0 else ("A", "GND")
    pins = dict(zip(("anode", "cathode"), ends, strict=True))
    part = Part(
        "D", "suppressor", pins, {"junction_to_ambient": 1e-3}, {"polarity": polarity}, name
    )
    parts = [source("V", "IN", limit=1e3), resistor("R", "IN", "A"), part]
    return solved(parts, V_voltage=1e3, R_resistance=1e3 / np.asarray(current))


@pytest.mark.parametrize("row", published("voltage of a suppressor"), ids=str)
def test_published_breakdown_voltages(row: Row) -> None:
    found = clamped(row.inputs["name"], [row.inputs["current"]])
    assert found["D.voltage"][0] == row.expected_within_its_tolerance


@pytest.mark.parametrize("name", ["suppressor 24 V 600 W", "suppressor 24 V 600 W both"])
def test_it_clamps_a_surge_and_leaks_little_at_its_standoff_voltage(name: str) -> None:
    """Datasheet tables of 600 W suppressors: 38.9 V at most at 15.5 A, 1 µA at most at 24 V."""
    known = typical_values("suppressor", name)
    surge = clamped(name, [15.5 * 1e3 / (1e3 - 37.0)])
    assert surge["D.voltage"] == pytest.approx(known["clamping_voltage"], rel=2e-3)
    assert surge["D.voltage"] < 38.9
    option = {"polarity": "bidirectional" if name.endswith("both") else "unidirectional"}
    pins = {"anode": "GND", "cathode": "A"}
    part = Part("D", "suppressor", pins, COOL, option, name)
    quiet = solved([source("V", "A"), part], V_voltage=24.0)
    assert quiet["D.current"] == pytest.approx(known["leakage"], rel=0.05)


def test_one_polarity_conducts_forward_and_both_clamp_alike() -> None:
    assert clamped("suppressor 24 V 600 W", [0.01], -1.0)["A"] == pytest.approx(0.75, abs=0.01)
    either = (clamped("suppressor 24 V 600 W both", [0.01, 5.0], sign)["A"] for sign in (1.0, -1.0))
    one, other = either
    assert one == pytest.approx(other, rel=1e-6)
    assert np.all(one > 28.0)


def test_its_breakdown_rises_with_temperature() -> None:
    """0.1 %/K of the breakdown voltage, datasheet tables of suppressors."""
    pins = {"anode": "GND", "cathode": "A"}
    part = Part("D", "suppressor", pins, name="suppressor 24 V 600 W")
    parts = [source("V", "IN"), resistor("R", "IN", "A", 1e4), part]
    found = solved(parts, V_voltage=38.1, D_junction_to_ambient=[0.1, 1000.0])
    kelvins = np.diff(found["D.junction"])[0]
    rise = np.diff(found["D.voltage"])[0] / kelvins / found["D.voltage"][0]
    assert kelvins > 20.0
    assert rise == pytest.approx(1e-3, rel=0.1)
