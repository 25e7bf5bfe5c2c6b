"""A coil that goes on taking its current, against its equations by small steps."""

from __future__ import annotations

import pytest
from checks.test_transients import capacitor
from scipy.integrate import solve_ivp
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.check import WiringFault
from railwright.checks.kick import Kick, swing

VOLTS, AMPERES, HENRIES, FARADS = 12.0, 1.0, 50e-3, 100e-6
COIL = f'inductance = "{HENRIES} H"'


def faults(more: str = "", load: str = COIL, farads: float = FARADS) -> list[WiringFault]:
    """What is found of a rail that a resistor feeds."""
    text = supply(
        resistor("R1", "IN", "OUT", 1.0)
        + resistor("R2", "OUT", "GND", 1e5)
        + (capacitor(farads, 0.1) if farads else "")
        + more,
        input=(13.0, 13.0, 13.0),
        volts=(VOLTS, VOLTS),
        amperes=(0.0, AMPERES),
        output=f'[[need.output.load]]\nkind = "inductive"\n{load}',
    )
    return list(Kick().look(survey_of(text)).faults)


@pytest.mark.parametrize("farads", [10e-6, FARADS, 1e-3])
def test_the_swing_is_that_of_coil_and_capacitor(farads: float) -> None:
    """C dv/dt = -i, L di/dt = v - R i: Kirchhoff's laws, by an integrator of its own."""
    ohms = VOLTS / AMPERES

    def slopes(_: float, x: list[float]) -> list[float]:
        return [-x[1] / farads, (x[0] - ohms * x[1]) / HENRIES]

    course = solve_ivp(slopes, (0.0, 0.1), [VOLTS, AMPERES], rtol=1e-9, atol=1e-9, max_step=1e-5)
    assert swing(VOLTS, AMPERES, HENRIES, farads) == pytest.approx(
        course.y[0].min(), rel=1e-4, abs=1e-3
    )


def test_a_damped_coil_does_not_swing() -> None:
    """R/2 sqrt(C/L) = 1 at 1.39 mF."""
    assert swing(VOLTS, AMPERES, HENRIES, 1.4e-3) == 0.0
    assert faults(farads=1.4e-3) == []


def test_a_coil_without_a_diode_swings_the_output_below_ground() -> None:
    (fault,) = faults()
    assert fault.subject == "main"
    assert "No diode" in fault.because
    assert fault.causes == [("C1", "capacitance")]
    (bare,) = faults(farads=0.0)
    assert "until something breaks down" in bare.because


def diode(anode: str, cathode: str, use: str = "1N4002") -> str:
    return part("D1", "diode", f"anode = {anode}, cathode = {cathode}", f'use = "{use}"')


def test_a_diode_takes_the_current_the_right_way_round() -> None:
    assert faults(diode("GND", "OUT")) == []
    (wrong,) = faults(diode("OUT", "GND"))
    assert "No diode" in wrong.because


def test_a_diode_for_less_is_told() -> None:
    (weak,) = faults(diode("GND", "OUT", "1N4148"))
    assert weak.causes == [("D1", "forward_current")]


def test_a_load_without_a_coil_is_not_looked_at() -> None:
    assert faults(load="") == []


def test_a_diode_of_which_nobody_says_what_it_bears_is_not_proven() -> None:
    own = """forward_voltage = "0.9 V"
test_current = "1 A"
ideality = 1.8
series_resistance = "50 mΩ"
gap = "1.12 V"
junction_to_case = "20 K/W"
junction_to_ambient = "60 K/W"
"""
    pins = "anode = GND, cathode = OUT"
    (fault,) = faults(part("D1", "diode", pins, own))
    assert not fault.proven
    assert "State its forward_current" in fault.because
