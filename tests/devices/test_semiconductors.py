"""Diodes, transistors, thyristors and shunt references in small circuits."""

import numpy as np
import pytest
from devices.solving import Part, resistor, solved, source
from published import Row, published

from railwright.catalogue.loader import load
from railwright.devices.arithmetic import BOLTZMANN, CHARGE, ROOM

SERIES = [source("V", "IN"), resistor("R", "IN", "A")]


def test_diode_meets_its_stated_point_and_falls_two_millivolts_per_kelvin() -> None:
    """About -2 mV/K at a constant current is the textbook figure for silicon (Sze)."""
    values = {"junction_to_ambient": 1e-3 + 0.1}
    diode = Part("D", "diode", {"anode": "A", "cathode": "GND"}, values, name="1N4148")
    parts = [source("V", "IN"), resistor("R", "IN", "A", 1e5), diode]
    cool = solved(parts, V_voltage=0.72 + 1e5 * 0.01)
    assert cool["D.current"] == pytest.approx(0.01, rel=1e-4)
    assert cool["D.voltage"] == pytest.approx(0.72, abs=1e-3)
    currents = {"V_voltage": 0.7 + 1e5 * 0.01}
    rise = {"D_junction_to_ambient": [0.1, 25.0 / (0.72 * 0.01)]}
    found = solved(parts, **currents, **rise)
    kelvins = np.diff(found["D.junction"])[0]
    assert kelvins == pytest.approx(25.0, abs=2.0)
    assert -2.6e-3 < np.diff(found["D.voltage"])[0] / kelvins < -1.3e-3


@pytest.mark.parametrize(
    "row", published("greatest forward voltage far above the test current"), ids=str
)
def test_schottky_diode_far_above_its_test_current(row: Row) -> None:
    known = load()[row.inputs["part"]].values
    worst = {name: known[name].spread.high for name in ("forward_voltage", "series_resistance")}
    pins = {"anode": "A", "cathode": "GND"}
    diode = Part("D", "diode", pins, {**worst, "junction_to_ambient": 0.1}, name=row.inputs["part"])
    drive = [source("V", "IN", limit=100.0), resistor("R", "IN", "A", 10.0)]
    found = solved([*drive, diode], V_voltage=10.0 * row.inputs["current"] + row.expected)
    assert found["D.voltage"] == row.expected_within_its_tolerance


@pytest.mark.parametrize(("name", "volts"), [("1N5820", 20.0), ("1N5821", 30.0), ("1N5822", 40.0)])
def test_schottky_diode_leaks_no_more_than_its_limit(name: str, volts: float) -> None:
    """2 mA at 25 °C and 20 mA at 100 °C (datasheets of the 1N5820 to 1N5822 types)."""
    pins = {"anode": "GND", "cathode": "K"}
    diode = Part("D", "diode", pins, {"junction_to_ambient": 0.1}, name=name)
    found = solved([source("V", "K"), diode], V_voltage=volts, _ambient=[298.15, 373.15])
    leaked = -found["D.current"]
    assert np.all(leaked < [2e-3, 20e-3])
    assert leaked[1] > 10.0 * leaked[0] > 1e-6


def test_zener_meets_its_stated_point_and_slope() -> None:
    zener = Part(
        "Z",
        "zener",
        {"anode": "GND", "cathode": "A"},
        {"junction_to_ambient": 0.1},
        name="zener 12 V 0.5 W",
    )
    at = np.array([5e-3, 5.05e-3, 1e-3])
    found = solved(
        [source("V", "IN"), resistor("R", "IN", "A", 1e5), zener], V_voltage=12.0 + 1e5 * at
    )
    assert found["Z.cathode_voltage"][0] == pytest.approx(12.0, abs=2e-3)
    slope = np.diff(found["A"][:2]) / np.diff(found["Z.current"][:2])
    assert slope == pytest.approx(10.0, rel=0.02)  # typical: half of the published 20 Ω


def test_zener_conducts_forward_like_a_diode() -> None:
    zener = Part("Z", "zener", {"anode": "A", "cathode": "GND"}, name="zener 5V1 0.5 W")
    found = solved([*SERIES, zener], V_voltage=[0.0, 10.0])
    assert abs(found["A"][0]) < 1e-3
    assert 0.7 < found["A"][1] < 0.85  # 0.75 V at 10 mA and an ohmic part


def test_zener_voltage_follows_its_temperature_coefficient() -> None:
    zener = Part("Z", "zener", {"anode": "GND", "cathode": "A"}, name="zener 15 V 1 W")
    found = solved(
        [source("V", "IN"), resistor("R", "IN", "A", 1e4), zener],
        V_voltage=15.0 + 1e4 * 17e-3,
        Z_junction_to_ambient=[0.1, 200.0],
    )
    kelvins = np.diff(found["Z.junction"])[0]
    assert np.diff(found["A"])[0] == pytest.approx(15.0 * 7e-4 * kelvins, rel=0.05)


def transistor(polarity: str, name: str, **values: float) -> Part:
    pins = {"collector": "C", "base": "B", "emitter": "GND"}
    return Part("Q", "bipolar-transistor", pins, values, {"polarity": polarity}, name)


def test_transistor_meets_its_stated_points() -> None:
    """2N3904: 0.65 V at 1 mA; gain 180 below its fall; 0.15 V saturated at 50 mA, base 5 mA."""
    quiet = {"junction_to_ambient": 0.1, "early_voltage": 1e6}
    parts = [
        source("VB", "BB"),
        resistor("RB", "BB", "B", 1e6),
        source("VC", "CC"),
        resistor("RC", "CC", "C", 1.0),
        transistor("npn", "2N3904", **quiet),
    ]
    active = solved(parts, VB_voltage=0.65 + 1e6 * 1e-3 / 180 * (1 + 1e-3 / 0.08), VC_voltage=5.0)
    assert active["Q.current"] == pytest.approx(1e-3, rel=0.01)
    assert active["Q.base_emitter_voltage"] == pytest.approx(0.65, abs=1e-3)
    hard = solved(
        parts, VB_voltage=0.8 + 5.0, RB_resistance=1e3, VC_voltage=0.2 + 5.0, RC_resistance=100.0
    )
    assert hard["Q.current"] == pytest.approx(0.05, rel=0.02)
    assert hard["Q.voltage"] == pytest.approx(0.15, rel=0.05)


@pytest.mark.parametrize("collector", [0.06, 0.1, 0.2, 0.4, 5.0])
def test_transistor_in_the_injection_form_of_the_equations(collector: float) -> None:
    """Second form: Ebers and Moll (1954), Ic = aF IF - IR and Ie = IF - aR IR."""
    gain, back_gain, volts = 100.0, 4.0, BOLTZMANN * ROOM / CHARGE
    values = {
        "current_gain": gain,
        "reverse_gain": back_gain,
        "base_emitter_voltage": 0.65,
        "test_current": 1e-3,
        "saturation_voltage": 0.0,
        "saturation_test_current": 1e3,
        "early_voltage": 1e9,
        "gain_half_current": 1e9,
        "junction_to_ambient": 0.1,
    }
    parts = [source("VB", "B"), source("VC", "C"), transistor("npn", "2N3904", **values)]
    found = solved(parts, VB_voltage=0.65, VC_voltage=collector)
    saturation = 1e-3 / np.expm1(0.65 / volts)
    forward, backward = gain / (gain + 1.0), back_gain / (back_gain + 1.0)
    injected = saturation / forward * np.expm1(0.65 / volts)
    returned = saturation / backward * np.expm1((0.65 - collector) / volts)
    collects, emits = forward * injected - returned, injected - backward * returned
    assert found["Q.current"] == pytest.approx(collects, rel=1e-3, abs=1e-6)
    assert found["Q.current"] + found["Q.base_current"] == pytest.approx(emits, rel=1e-3, abs=1e-6)


def test_transistor_gain_falls_at_high_current() -> None:
    """2N3055: 20 to 70 at 4 A, at least 5 at 10 A (datasheets of the 2N3055 type)."""
    parts = [
        source("VB", "BB", limit=20),
        resistor("RB", "BB", "B", 1.0),
        source("VC", "C", limit=100),
        transistor("npn", "2N3055", junction_to_ambient=0.1),
    ]
    found = solved(parts, VB_voltage=np.linspace(1.0, 2.5, 60), VC_voltage=4.0)
    gains = found["Q.current"] / found["Q.base_current"]
    at_four, at_ten = (np.interp(a, found["Q.current"], gains) for a in (4.0, 10.0))
    assert 20.0 < at_four < 70.0
    assert 5.0 < at_ten < at_four


def test_power_transistor_saturates_below_its_limit_at_high_current() -> None:
    """2N3055: at most 3 V at 10 A, base 3.3 A (datasheets of the 2N3055 type)."""
    parts = [
        source("VB", "BB", limit=20),
        resistor("RB", "BB", "B", 1.0),
        source("VC", "CC", limit=100),
        resistor("RC", "CC", "C", 1.0),
        transistor("npn", "2N3055", junction_to_ambient=0.1),
    ]
    found = solved(parts, VB_voltage=3.3 + 1.2, VC_voltage=11.0)
    assert found["Q.current"] == pytest.approx(10.0, abs=0.5)
    assert 0.3 < found["C"][0] < 3.0


def test_early_effect_tilts_the_collector_current() -> None:
    parts = [
        source("VB", "BB"),
        resistor("RB", "BB", "B", 1e6),
        source("VC", "C"),
        transistor("npn", "BC547B", junction_to_ambient=0.1, early_voltage=60.0),
    ]
    found = solved(parts, VB_voltage=5.0, VC_voltage=[5.0, 15.0])
    tilt = found["Q.current"][1] / found["Q.current"][0]
    assert tilt == pytest.approx((60.0 + 15.0 - 0.65) / (60.0 + 5.0 - 0.65), rel=2e-3)


def test_pnp_mirrors_npn() -> None:
    quiet = {"current_gain": 100.0, "base_emitter_voltage": 0.65, "saturation_voltage": 0.2}
    npn = [
        source("V", "IN"),
        resistor("RC", "IN", "C", 100.0),
        resistor("RB", "IN", "B", 1e4),
        transistor("npn", "2N3904", **quiet),
    ]
    pins = {"collector": "C", "base": "B", "emitter": "IN"}
    pnp = [
        source("V", "IN"),
        resistor("RC", "C", "GND", 100.0),
        resistor("RB", "B", "GND", 1e4),
        Part("Q", "bipolar-transistor", pins, quiet, {"polarity": "pnp"}, "2N3904"),
    ]
    one, other = solved(npn, V_voltage=[3.0, 9.0]), solved(pnp, V_voltage=[3.0, 9.0])
    for name in ("Q.current", "Q.base_current", "Q.voltage", "Q.power"):
        assert one[name] == pytest.approx(other[name], rel=1e-6)


THYRISTOR = [
    source("V", "IN"),
    resistor("R", "IN", "A", 10.0),
    source("VG", "GG"),
    resistor("RG", "GG", "G", 1e3),
    Part(
        "T",
        "thyristor",
        {"anode": "A", "cathode": "GND", "gate": "G"},
        {"junction_to_ambient": 0.1},
        name="thyristor 0.8 A sensitive gate",
    ),
]


def test_thyristor_blocks_until_its_gate_current_is_reached() -> None:
    needed = 0.62 + 1e3 * 40e-6  # trigger voltage plus trigger current in the series resistor
    found = solved(THYRISTOR, V_voltage=12.0, VG_voltage=[0.0, needed - 0.02, needed + 0.02, 5.0])
    assert found["T.state"] == pytest.approx(np.array([0.0, 0.0, 1.0, 1.0]), abs=1e-3)
    assert np.all(found["T.current"][:2] < 1e-6)
    assert found["A"][2:] == pytest.approx(1.2, abs=0.1)  # 1.25 V at 1.2 A


def test_thyristor_has_two_states_above_its_holding_current_only() -> None:
    """With the gate open: on keeps itself on above 1 mA, not below."""
    for resistance, stays in ((1e3, True), (1e5, False)):
        on = solved(THYRISTOR, V_voltage=12.0, R_resistance=resistance, T_free=0.0, T_forced=1.0)
        push = on["T.current"] / 1e-3 - 1.0
        assert bool(push[0] > 0.0) is stays


def reference_at(cathode_to_reference: float, grounded: float) -> list[Part]:
    pins = {"cathode": "K", "anode": "GND", "reference": "REF"}
    values = {"cathode_voltage_effect": 0.0, "junction_to_ambient": 0.1}
    return [
        source("V", "IN"),
        resistor("R", "IN", "K"),
        resistor("R1", "K", "REF", cathode_to_reference),
        resistor("R2", "REF", "GND", grounded),
        Part("U", "shunt-reference", pins, values, name="431 type 2 %"),
    ]


def test_shunt_reference_meets_the_set_formula() -> None:
    """V = Vref (1 + R1/R2) + Iref R1 = 5.01 V with two 10 kΩ (set formula of the 431 type)."""
    found = solved(reference_at(1e4, 1e4), V_voltage=8.0)
    dynamic = 0.2 * found["U.current"] * 2
    assert found["K"] - dynamic == pytest.approx(5.01, abs=1e-4)


def test_shunt_reference_lets_go_without_enough_supply() -> None:
    found = solved(reference_at(1e4, 1e4), V_voltage=[4.0, 6.0])
    assert found["U.current"][0] < 1e-6
    assert found["U.current"][1] > 5e-4
    assert found["K"][0] == pytest.approx(4.0 * 20 / 21, rel=1e-3)


def test_shunt_reference_saturates_as_a_comparator() -> None:
    supply, pull, *_, shunt = reference_at(1.0, 1.0)
    parts = [supply, pull, source("W", "REF"), shunt]
    found = solved(parts, V_voltage=12.0, W_voltage=[2.4, 2.6, 5.0])
    assert found["K"] == pytest.approx(np.array([12.0, 1.9, 1.9]), abs=0.01)
