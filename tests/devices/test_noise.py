"""What noise the parts state, against closed forms."""

from typing import Any

import numpy as np
import pytest
from devices.samples import typical_values
from devices.terms import LonePart

from railwright.devices import kinds
from railwright.devices.arithmetic import BOLTZMANN, CHARGE

ROOM = 298.15
LEVEL = 0.1


def stated(kind: str, **given: Any) -> tuple[LonePart, dict[tuple[str, ...], tuple[Any, Any]]]:
    """A part with all pins at 0.1 V, or as given, and its noises: place -> density, corner."""
    device = kinds()[kind]
    values = {**typical_values(kind), **{n: v for n, v in given.items() if n in device.values}}
    at = dict.fromkeys((*device.pins, *device.unknowns), LEVEL)
    at |= dict.fromkeys([n for n in ("junction", "case") if n in at], ROOM)
    at |= {n: v for n, v in given.items() if n in at}
    part = LonePart(device, values, at, moving=True).run()
    return part, {place: (density, corner) for place, density, corner in part.noises}


def thermal(resistance: float) -> float:
    """4 k T R, a noise voltage; of 1/R, a noise current (Nyquist)."""
    return 4.0 * BOLTZMANN * ROOM * resistance


def test_resistances_make_thermal_noise() -> None:
    _, wire = stated("wire", resistance=0.02)
    assert wire["one", "two"] == (pytest.approx(thermal(1 / 0.02)), 0.0)
    _, capacitor = stated("capacitor", esr=0.3)
    assert capacitor["plus", "plate"][0] == pytest.approx(thermal(1 / 0.3))
    _, coil = stated("inductor", winding_resistance=0.1)
    assert coil["current",][0] == pytest.approx(thermal(0.1))
    _, closed = stated("switch", contact_resistance=0.05)
    assert closed["one", "two"][0] == pytest.approx(thermal(1e-10))  # at rest it is open
    _, track = stated("potentiometer", resistance=1e4, end_resistance=1.0)
    assert track["one", "wiper"][0] == pytest.approx(thermal(1 / 5001.0))
    assert track["wiper", "two"][0] == pytest.approx(thermal(1 / 5001.0))


def test_a_film_adds_its_excess_noise() -> None:
    """IEC 60195 (from memory): 1 µV in a decade for each volt across, whichever the decade."""
    _, found = stated("resistor", resistance=1e4, one=10.0, two=0.0, excess_noise=1e-6)
    density, corner = found["one", "two"]
    assert density == pytest.approx(thermal(1e-4))
    for start in (1.0, 100.0):
        hertz = np.geomspace(start, 10.0 * start, 2001)
        excess = np.sqrt(np.trapezoid(density * corner / hertz, hertz)) * 1e4
        assert excess == pytest.approx(10.0 * 1e-6, rel=1e-4)


def test_a_junction_makes_shot_noise() -> None:
    """2 q I: 17.9 pA/√Hz at 1 mA (Gray, Hurst, Lewis and Meyer, chapter 11)."""
    part, found = stated("diode", walk=0.6)
    current = part.observed["current"]
    assert current > 1e-6
    density, corner = found["anode", "cathode"]
    assert density == pytest.approx(2.0 * CHARGE * current, rel=1e-3)
    assert corner == typical_values("diode")["noise_corner"]
    assert np.sqrt(density / current * 1e-3) == pytest.approx(17.9e-12, rel=2e-3)


def test_a_junction_at_rest_makes_the_thermal_noise_of_its_slope() -> None:
    """At no voltage 2 q (I + 2 Is) is 4 k T g, as it has to be in equilibrium (Nyquist)."""
    part, found = stated("diode", walk=0.0, ideality=1.0)
    slope = part.p.saturation_at_room * CHARGE / (BOLTZMANN * ROOM)
    assert found["anode", "cathode"][0] == pytest.approx(thermal(slope))


def test_a_transistor_makes_shot_noise_of_both_currents() -> None:
    part, found = stated(
        "bipolar-transistor", base_emitter=0.65, base_collector=-5.0, noise_corner=700.0
    )
    collector, base = part.observed["current"], part.observed["base_current"]
    assert collector > 50.0 * base > 0.0
    assert found["collector", "emitter"] == (pytest.approx(2.0 * CHARGE * collector), 0.0)
    assert found["base", "emitter"] == (pytest.approx(2.0 * CHARGE * base), 700.0)


@pytest.mark.parametrize(
    ("kind", "unknown"),
    [
        ("operational-amplifier", "state"),
        ("current-sense-amplifier", "state"),
        ("adjustable-regulator", "state"),
        ("fixed-regulator", "state"),
        ("low-dropout-regulator", "state"),
        ("shunt-reference", "state"),
        ("step-down-regulator", "state"),
        ("zener", "breakdown"),
    ],
)
def test_a_stated_noise_voltage_is_that_of_the_equation_in_volts(kind: str, unknown: str) -> None:
    _, found = stated(kind, noise_voltage=30e-9, noise_corner=200.0)
    assert found[unknown,] == (pytest.approx(9e-16), 200.0)


def test_input_currents_make_shot_noise() -> None:
    """20 nA make 80 fA/√Hz."""
    _, found = stated("operational-amplifier", bias_current=-20e-9, offset_current=0.0)
    for pin in ("plus", "minus"):
        assert np.sqrt(found[pin, "ground"][0]) == pytest.approx(80e-15, rel=2e-3)


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        ("operational-amplifier", "difference"),
        ("current-sense-amplifier", "sensed"),
        ("adjustable-regulator", "error"),
        ("fixed-regulator", "error"),
        ("adjustable-low-dropout-regulator", "error"),
        ("shunt-reference", "error"),
        ("step-down-regulator", "error"),
        ("bipolar-transistor", "drive"),
    ],
)
def test_loops_can_be_opened_at_what_controls_a_part(kind: str, name: str) -> None:
    part, _ = stated(kind)
    assert part.signals.keys() == {name}
