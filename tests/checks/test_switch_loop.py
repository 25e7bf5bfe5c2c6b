"""A diode or a coil that went astray is told with the regulator that lacks it."""

from __future__ import annotations

from pathlib import Path

import pytest
from surveys.supplies import survey_of

from railwright.checks.wiring import SwitchLoop
from railwright.circuit.writer import set_pin

TEXT = (Path(__file__).parents[2] / "examples" / "panel-five-volts.toml").read_text("utf-8")


@pytest.mark.parametrize(("ref", "pin", "net"), [("D1", "cathode", "FEED"), ("L1", "one", "GND")])
def test_what_went_astray_is_told(ref: str, pin: str, net: str) -> None:
    (fault,) = SwitchLoop().look(survey_of(set_pin(TEXT, ref, pin, net))).faults
    assert fault.subject == "U1"
    assert [each for each, _ in fault.causes] == [ref]
