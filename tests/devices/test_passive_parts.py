"""Switches, coils, capacitors, heat."""

from dataclasses import replace

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.samples import typical_values
from devices.solving import Part, resistor, solved, source
from devices.terms import LonePart

from railwright.devices import kinds
from railwright.devices.inductor import FALL, inductance
from railwright.devices.source import BLEED, IDLE
from railwright.engine.model import Model
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance, transient


@pytest.mark.parametrize(("rest", "expected"), [("open", [0.0, 1.0]), ("closed", [1.0, 0.0])])
def test_switch_conducts_where_it_is_closed(rest: str, expected: list[float]) -> None:
    contact = Part("S", "switch", {"one": "IN", "two": "OUT"}, {}, {"rest": rest})
    found = solved(
        [source("V", "IN"), contact, resistor("R", "OUT", "GND")],
        V_voltage=1.0,
        S_operated=[0.0, 1.0],
    )
    assert found["OUT"] == pytest.approx(np.array(expected), abs=1e-3)


def test_wirewound_resistor_takes_its_time() -> None:
    """i = V/R (1 - exp(-t R/L)), L/R = 3 µs: textbook; at rest it is Ohm's law."""
    board = Board().source("V", "A", 0.0, resistance=1e-6, current_limit=100.0)
    ends = {"one": "A", "two": GROUND}
    board.part("R", "wirewound-resistor", ends, resistance=1.0, inductance=3e-6)
    model = Model(replace(board.topology, isothermal=True), board.nominal)
    on = {("V", "voltage"): PiecewiseLinear(np.zeros(2), np.array([0.0, 5.0]))}
    times = np.linspace(0.0, 1.5e-5, 31)
    course = transient(model, {}, 1, times, stimuli=on, tolerance=Tolerance(1e-6, 1e-8))
    exact = 5.0 * (1.0 - np.exp(-times / 3e-6))
    assert course.of("R", "current")[0] == pytest.approx(exact, abs=5e-3)
    assert board.solve({("V", "voltage"): 5.0}).of("R", "power") == pytest.approx([25.0], rel=1e-4)


def test_inductor_loses_its_stated_share_at_the_saturation_current() -> None:
    values = {"inductance": 68e-6, "winding_resistance": 0.08, "saturation_current": 4.0}
    at = {"one": 1.0, "two": 0.0, "current": 4.0}
    part = LonePart(kinds()["inductor"], values, at).run()
    assert part.observed["inductance"] == pytest.approx((1 - FALL) * 68e-6)


def test_inductor_flux_is_the_integral_of_its_inductance() -> None:
    values = {"inductance": 68e-6, "winding_resistance": 0.08, "saturation_current": 4.0}
    amperes = np.linspace(0.0, 8.0, 2001)
    at = {"one": 1.0, "two": 0.0, "current": amperes}
    part = LonePart(kinds()["inductor"], values, at).run()
    henries = inductance(part, amperes)
    integral = np.trapezoid(henries, amperes)
    assert part.fluxes["current"][-1] == pytest.approx(integral, rel=1e-6)


def test_inductor_loses_its_stated_core_loss_at_the_stated_swing() -> None:
    """A square wave of 2 L D f makes a triangle of 1 A at 100 kHz (Faraday), and so the loss."""
    values = {"inductance": 47e-6, "winding_resistance": 0.03, "saturation_current": 8.0}
    volts = 47e-6 * 1.0 * 2.0 * 1e5
    at = {"one": np.array([volts, -volts]), "two": 0.0, "current": 0.0}
    lossy = LonePart(kinds()["inductor"], {**values, "core_loss": 0.2}, at).run()
    assert lossy.observed["power"] == pytest.approx([0.2, 0.2])
    assert np.all(LonePart(kinds()["inductor"], values, at).run().observed["power"] == 0.0)


@pytest.mark.parametrize("name", ["inductor 47 µH 5 A", "inductor 100 µH 8 A"])
def test_core_loss_is_that_of_a_quality_of_fifteen(name: str) -> None:
    """Second form: Q = Rp / (2 pi f L) at 100 kHz; powdered iron, from memory."""
    known = typical_values("inductor", name)
    part = LonePart(kinds()["inductor"], known, {"one": 1.0, "two": 0.0, "current": 0.0}).run()
    quality = 1.0 / part.observed["power"] / (2 * np.pi * 1e5 * known["inductance"])
    assert quality == pytest.approx(15.0, rel=0.01)


def test_capacitor_leaks_at_rest_what_is_stated_and_stores_c_v() -> None:
    values = {"capacitance": 1e-4, "esr": 0.1, "leakage": 5e-5, "rated_voltage": 50.0}
    can = Part("C", "capacitor", {"plus": "P", "minus": "GND"}, values)
    found = solved([source("V", "IN"), resistor("R", "IN", "P", 1.0), can], V_voltage=[25.0, 50.0])
    assert found["C.current"] == pytest.approx(np.array([2.5e-5, 5e-5]), rel=1e-3)
    at = {"plus": 10.0, "minus": 1.0, "plate": 9.0}
    assert LonePart(kinds()["capacitor"], values, at).run().charges == [("plate", "minus", 8e-4)]


def ceramic(volts: object, dielectric: str = "class-2") -> np.ndarray:
    """Charge of a 10 µF capacitor that loses 78 % at 25 V [C]."""
    values = {"capacitance": 1e-5, "esr": 0.01, "leakage": 1e-8}
    values |= {"rated_voltage": 25.0, "bias_loss": 0.78}
    at = {"plus": volts, "minus": 0.0, "plate": volts}
    part = LonePart(kinds()["capacitor"], values, at, {"dielectric": dielectric}).run()
    ((_, _, charge),) = part.charges
    return np.asarray(charge)


@pytest.mark.parametrize(
    ("volts", "left"),
    [(0.0, 1.0), (5.0, 0.88), (10.0, 0.65), (15.0, 0.44), (20.0, 0.3), (25.0, 0.22)],
)
def test_class_2_loses_capacitance_under_bias(volts: float, left: float) -> None:
    """Usual bias curve of a chip of 10 µF, 25 V, X5R, 0805; read from memory, to 5 %."""
    capacitance = (ceramic(volts + 1e-4) - ceramic(volts - 1e-4)) / 2e-4
    assert capacitance / 1e-5 == pytest.approx(left, abs=0.05)


def test_class_2_gives_back_the_charge_and_the_energy_that_it_took() -> None:
    """Its charge is one of the voltage alone: around any loop both integrals vanish."""
    angle = np.linspace(0.0, 2.0 * np.pi, 2001)
    volts = 12.0 + 10.0 * np.sin(angle)
    charge = ceramic(volts)
    assert charge[-1] - charge[0] == pytest.approx(0.0, abs=1e-15)
    assert np.trapezoid(volts, charge) == pytest.approx(0.0, abs=1e-9 * np.ptp(charge) * 12.0)
    assert ceramic(-volts) == pytest.approx(-charge)


def test_class_2_keeps_the_slope_of_its_rated_voltage_beyond_it() -> None:
    volts = np.array([25.0, 26.0, 40.0, 400.0])
    slopes = np.diff(ceramic(volts)) / np.diff(volts)
    assert slopes == pytest.approx(0.22e-5)
    assert ceramic(-volts) == pytest.approx(-ceramic(volts))


def test_other_dielectrics_keep_their_capacitance() -> None:
    volts = np.array([-30.0, 0.0, 12.0, 25.0])
    for dielectric in ("class-1", "film", "electrolytic"):
        assert ceramic(volts, dielectric) == pytest.approx(1e-5 * volts)


@pytest.mark.parametrize(
    ("dielectric", "polar", "family"),
    [
        ("electrolytic", True, "capacitor aluminium electrolytic"),
        ("tantalum", True, "capacitor tantalum"),
        ("polymer", True, "capacitor polymer"),
        ("class-2", False, "capacitor ceramic"),
        ("film", False, "capacitor film"),
    ],
)
def test_capacitor_polarity_follows_its_dielectric(
    dielectric: str, polar: bool, family: str
) -> None:
    device, options = kinds()["capacitor"], {"dielectric": dielectric}
    assert bool(device.polar_pairs(options)) is polar
    assert device.derating_family("rated_voltage", options) == family


def test_heat_passes_pad_and_sink_to_the_air() -> None:
    """A 2N3055 at 115 W with its case held at 25 °C by a perfect sink reaches 200 °C.

    Source: 2N3055 datasheets: 115 W, 1.52 K/W, 200 °C.
    """
    values = {**typical_values("bipolar-transistor", "2N3055"), "junction_to_case": 1.52}
    pins = {"collector": "C", "base": "B", "emitter": "GND", "case": "TAB"}
    parts = [
        source("VC", "C", limit=100.0),
        source("VB", "BB", limit=100.0),
        resistor("RB", "BB", "B", 10.0),
        Part("Q", "bipolar-transistor", pins, values),
        Part("P", "insulator", {"one": "TAB", "two": "FACE"}, {"resistance": 0.35}),
        Part("H", "heat-sink", {"face": "FACE", "air": "AMBIENT"}, {"resistance": 2.5}),
    ]
    found = solved(parts, VC_voltage=4.0, VB_voltage=[0.95, 1.1])
    watts = found["Q.power"]
    assert np.all(watts > 1.0)
    air = 298.15
    assert found["Q.junction"] == pytest.approx(air + watts * (1.52 + 0.35 + 2.5), rel=1e-6)
    assert found["TAB"] == pytest.approx(air + watts * 2.85, rel=1e-6)
    full = 115.13  # W, the published power at a case of 25 °C
    assert 25.0 + full * 1.52 == pytest.approx(200.0, abs=0.01)


def test_source_holds_its_voltage_then_its_current_and_takes_in_a_bleeder_current() -> None:
    parts = [source("V", "A", limit=2.0, resistance=0.1), source("W", "B"), resistor("R", "B", "A")]
    found = solved(parts, V_voltage=10.0, W_voltage=[0.0, 20.0], R_resistance=[1e9, 1e3])
    assert found["A"][0] == pytest.approx(10.0, abs=1e-3)
    taken = (20.0 - found["A"][1]) / 1e3
    assert taken == pytest.approx(BLEED * (found["A"][1] - 10.0) + IDLE, rel=0.01)
    loaded = solved([parts[0], resistor("L", "A", "GND")], V_voltage=10.0, L_resistance=[10.0, 1.0])
    assert loaded["A"] == pytest.approx(np.array([10.0 * 10 / 10.1, 2.0]), rel=1e-3)


def test_load_styles() -> None:
    ends = {"plus": "A", "minus": "GND"}
    for style, expected in (("resistive", [0.2, 1.0, 2.0]), ("constant-current", [1.0, 1.0, 1.0])):
        parts = [source("V", "A"), Part("L", "load", ends, {}, {"style": style})]
        found = solved(parts, V_voltage=[1.0, 5.0, 10.0], L_current=1.0, L_voltage=5.0)
        assert found["L.current"] == pytest.approx(np.array(expected), rel=2e-3)


def test_constant_current_load_never_gives_current() -> None:
    device = kinds()["load"]
    at = {"plus": np.linspace(-20.0, 0.1, 400), "minus": 0.0}
    part = LonePart(device, {"current": 3.0}, at, {"style": "constant-current"}).run()
    assert np.all(part.observed["current"] == 0.0)
