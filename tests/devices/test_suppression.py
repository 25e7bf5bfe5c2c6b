"""Ferrite beads and common-mode chokes: textbook impedances of the linearised circuit."""

from collections.abc import Mapping

import numpy as np
import pytest
from devices.moving import Moving
from devices.samples import typical_values
from devices.solving import Part, resistor, source
from devices.terms import LonePart

from railwright.devices import kinds
from railwright.devices.inductor import FALL

BEAD, CHOKE = "ferrite bead 600 Ω 0.5 A", "common-mode choke 2 x 10 mH 1 A"


def impedance(parts: list[Part], series: float, frequencies: object) -> np.ndarray:
    """What lies between net A and ground, as a divider with `series` ohms from a source."""
    tested = [source("V", "IN", resistance=1e-6), resistor("R", "IN", "A", series), *parts]
    share = Moving(tested, V_voltage=1.0).response("V.voltage", "A", frequencies)
    return share / (1.0 - share) * series


def bead(frequencies: object, **values: float) -> np.ndarray:
    ends, own = {"one": "A", "two": "GND"}, {"saturation_current": 1e3, **values}
    return impedance([Part("L", "ferrite-bead", ends, own, name=BEAD)], 600.0, frequencies)


def test_a_bead_has_its_stated_impedance_at_100_megahertz() -> None:
    assert abs(bead(100e6)[0]) == pytest.approx(600.0, rel=2e-3)


def test_its_resistance_and_reactance_cross_where_stated() -> None:
    (found,) = bead(35e6)
    assert found.real == pytest.approx(found.imag, rel=5e-3)


def test_its_impedance_peaks_where_stated() -> None:
    hertz = np.linspace(150e6, 220e6, 141)
    size = np.abs(bead(hertz))
    assert hertz[size.argmax()] == pytest.approx(180e6, abs=1e6)
    assert bead(180e6)[0].imag == pytest.approx(0.0, abs=1e-2 * size.max())


@pytest.mark.parametrize(("ohms", "farads", "henries"), [(1.6e3, 1.4e-12, 18.47e-6)])
def test_a_measured_equivalent_circuit_follows_from_its_three_readings(
    ohms: float, farads: float, henries: float
) -> None:
    """R, C and L side by side, taken by an impedance analyser: message of 1998 on a mailing list
    on signal integrity, "power supply filtering and bypassing"."""
    angular = 2.0 * np.pi * 100e6
    admittance = 1.0 / ohms + 1j * (angular * farads - 1.0 / (angular * henries))
    root = np.sqrt(1.0 + 4.0 * ohms**2 * farads / henries)
    crossing = (root - 1.0) / (2.0 * ohms * farads)  # where 1/(w L) - w C = 1/R
    stated = {
        "impedance": 1.0 / abs(admittance),
        "resonance": 1.0 / (2.0 * np.pi * np.sqrt(henries * farads)),
        "crossover": crossing / (2.0 * np.pi),
        "winding_resistance": 0.1,
        "saturation_current": 1.0,
    }
    at = {"one": 0.0, "two": 0.0, "coil": 0.0}
    p = LonePart(kinds()["ferrite-bead"], stated, at).p
    assert 1.0 / p.loss == pytest.approx(ohms, rel=1e-6)
    assert p.capacitance == pytest.approx(farads, rel=1e-6)
    assert p.inductance == pytest.approx(henries, rel=1e-6)


def test_a_bead_loses_its_stated_share_of_inductance_under_bias() -> None:
    known, step = typical_values("ferrite-bead", BEAD), 1e-6

    def flux(current: float) -> float:
        at = {"one": 0.0, "two": 0.0, "coil": current}
        return float(LonePart(kinds()["ferrite-bead"], known, at).run().fluxes["coil"])

    bent = (flux(0.1 + step) - flux(0.1 - step)) / (2 * step)
    assert bent == pytest.approx((1 - FALL) * flux(step) / step, rel=1e-4)


def choke(pins: Mapping[str, str], hertz: float = 1e4) -> float:
    """Inductance between net A and ground [H] of a choke whose pins are joined so."""
    values = {"winding_resistance": 1e-3, "saturation_current": 1e3}
    part = Part("L", "common-mode-choke", pins, values, name=CHOKE)
    parts = [part, *(resistor(f"R{n}", n, "GND", 1e6) for n in {*pins.values()} - {"A", "GND"})]
    (found,) = impedance(parts, 100.0, hertz)
    return float(found.imag / (2.0 * np.pi * hertz))


def test_one_winding_has_the_inductance_with_the_other_open() -> None:
    open_second = {"second_start": "C", "second_end": "D"}
    assert choke({"first_start": "A", "first_end": "GND", **open_second}) == pytest.approx(
        10e-3, rel=1e-3
    )


def test_differential_mode_sees_the_leakage_only() -> None:
    pins = {"first_start": "A", "first_end": "B", "second_end": "B", "second_start": "GND"}
    assert choke(pins) == pytest.approx(150e-6, rel=2e-3)


def test_common_mode_sees_both_windings_side_by_side() -> None:
    """(L + M)/2 with M = L - Ll/2: coupled coils side by side, textbook."""
    pins = {"first_start": "A", "first_end": "GND", "second_start": "A", "second_end": "GND"}
    assert choke(pins) == pytest.approx(10e-3 - 150e-6 / 4.0, rel=1e-3)


def test_windings_in_series_have_four_times_the_inductance() -> None:
    """2 L + 2 M."""
    pins = {"first_start": "A", "first_end": "B", "second_start": "B", "second_end": "GND"}
    assert choke(pins) == pytest.approx(4 * 10e-3 - 150e-6, rel=2e-3)


def test_the_second_winding_shorted_leaves_the_leakage() -> None:
    """L (1 - k^2), k = M/L: coupled coils, textbook."""
    pins = {"first_start": "A", "first_end": "GND", "second_start": "B", "second_end": "B"}
    mutual = 10e-3 - 75e-6
    expected = 10e-3 * (1.0 - (mutual / 10e-3) ** 2)
    assert choke(pins) == pytest.approx(expected, rel=5e-3)


def test_an_opposite_current_does_not_saturate_the_core() -> None:
    known, device = typical_values("common-mode-choke", CHOKE), kinds()["common-mode-choke"]
    rest = dict.fromkeys((*device.pins, *device.unknowns), 0.0)

    def flux(first: float, second: float) -> float:
        at = {**rest, "first": first, "second": second}
        return float(LonePart(device, known, at).run().fluxes["first"])

    step = 1e-6
    for bias, share in ((-1.0, 1.0), (-1.0 + 0.03, 1.0 - FALL)):
        mutual = (flux(1.0, bias + step) - flux(1.0, bias - step)) / (2 * step)
        assert mutual == pytest.approx(share * (10e-3 - 75e-6), rel=1e-4)
