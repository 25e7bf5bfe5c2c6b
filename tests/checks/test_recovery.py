"""A diode that stores must be fast enough for the clock: its transit time times the frequency."""

from __future__ import annotations

from pathlib import Path

import pytest
from surveys.supplies import survey_of

from railwright.checks.check import WiringFault
from railwright.checks.recovery import Recovery

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "examples" / "panel-five-volts.toml").read_text("utf-8")
CASES = ROOT / "tests" / "cases"
DIODE = 'ref = "D1"\nkind = "diode"\nuse = "1N5822"\n'


def faults(stores: str) -> list[WiringFault]:
    """Of a mains rectifier in place of the diode, with a transit time of its own."""
    time = f'transit_time = {{ typical = "{stores}", tolerance = "0 %" }}\n'
    assert DIODE in TEXT
    text = TEXT.replace(DIODE, DIODE.replace("1N5822", "1N4002") + time)
    return list(Recovery().look(survey_of(text)).faults)


@pytest.mark.parametrize("stores", ["4 µs", "0.4 µs"])
def test_what_stores_for_too_long_is_told(stores: str) -> None:
    """150 kHz are cycles of 6.67 µs, of which a twentieth may be borne."""
    (fault,) = faults(stores)
    assert (fault.subject, fault.proven) == ("D1", True)
    assert stores.replace("0.4 µs", "400 ns") in fault.because
    assert "6.67 µs" in fault.because


def test_a_fast_diode_and_a_schottky_diode_are_fast_enough() -> None:
    """0.3 µs x 150 kHz = 4.5 %."""
    assert not faults("0.3 µs")
    assert not Recovery().look(survey_of(TEXT)).faults


def test_a_low_switch_in_its_place_is_not_asked() -> None:
    slow = DIODE.replace("1N5822", "1N4002").replace("D1", "D9")
    text = (CASES / "tired-input-capacitor.toml").read_text("utf-8")
    text += f'[[part]]\n{slow}pins = {{ anode = "GND", cathode = "SW" }}\n'
    assert not Recovery().look(survey_of(text)).looked
