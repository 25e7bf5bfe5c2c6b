"""A diode or a coil that went astray is told with the regulator that lacks it."""

from __future__ import annotations

from pathlib import Path

import pytest
from surveys.supplies import part, supply, survey_of

from railwright.checks.wiring import SwitchLoop
from railwright.circuit.writer import set_pin

TEXT = (Path(__file__).parents[2] / "examples" / "panel-five-volts.toml").read_text("utf-8")


@pytest.mark.parametrize(("ref", "pin", "net"), [("D1", "cathode", "FEED"), ("L1", "one", "GND")])
def test_what_went_astray_is_told(ref: str, pin: str, net: str) -> None:
    (fault,) = SwitchLoop().look(survey_of(set_pin(TEXT, ref, pin, net))).faults
    assert fault.subject == "U1"
    assert [each for each, _ in fault.causes] == [ref]


@pytest.mark.parametrize(("ends", "lacks"), [("CP CM", ""), ("CP GND", "flying at its cap_plus")])
def test_a_charge_pump_wants_its_capacitor(ends: str, lacks: str) -> None:
    ten = 'use = "electrolytic 10 µF 25 V low-ESR"'
    pins = "input = IN, ground = GND, cap_plus = CP, cap_minus = CM, output = OUT"
    pump = part("U1", "charge-pump-inverter", pins, 'use = "7660 type 20 mA"')
    plus, minus = ends.split()
    pump += part("C1", "capacitor", f"plus = {plus}, minus = {minus}", ten)
    pump += part("C2", "capacitor", "plus = GND, minus = OUT", ten)
    faults = SwitchLoop().look(survey_of(supply(pump))).faults
    assert [lacks in fault.because for fault in faults] == ([True] if lacks else [])
    assert all(("C1", "plus") in fault.causes for fault in faults)
