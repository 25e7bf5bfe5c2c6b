"""Whether an output stays off before its button: by the divider that is left open around it."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

OFF = (
    '[need.output.overload]\nstyle = "trip"\ncarry = "1 A"\nact_by = "2 A"\nat_power_up = "{state}"'
)
BUTTON = part("S1", "switch", "one = IN, two = OUT", 'use = "push button, closes"')


def stays_off(
    share: float, state: str = "off", more: str = BUTTON, tolerance: str = "0 %"
) -> list[Finding]:
    """A button between input and output, and a divider beside it that leaves a share of 10 V."""
    ohms = 1000.0
    parts = more + resistor("R1", "IN", "OUT", ohms * (1.0 - share) / share, tolerance)
    parts += resistor("R2", "OUT", "GND", ohms, tolerance)
    text = supply(parts, output=OFF.format(state=state), volts=(10.0, 10.0))
    found = prove(read_text(text, "off.toml"), only=("transient.stays-off",)).findings
    return [f for f in found if f.id == "transient.stays-off"]


@pytest.mark.parametrize(("share", "verdict"), [(0.3, "holds"), (0.7, "falls short")])
def test_what_is_at_the_output_before_the_button(share: float, verdict: str) -> None:
    """The button's own way, once it is pushed, does not count."""
    (found,) = stays_off(share)
    assert found.verdict == verdict
    assert found.value == pytest.approx(10.0 * share, rel=1e-2)
    assert found.margin == pytest.approx(10.0 * (0.5 - share), abs=0.1)


def test_without_a_button_all_of_the_start_counts() -> None:
    (found,) = stays_off(0.9, more="")
    assert found.value == pytest.approx(9.0, rel=1e-2)


def test_an_output_that_comes_up_on_is_not_asked() -> None:
    assert stays_off(0.7, state="on") == []


def test_the_spread_of_what_races_is_looked_at_by_limits() -> None:
    """A divider of 20 % that leaves 45 % can leave 1.2 x 45 % / (1.2 x 45 % + 0.8 x 55 %)."""
    (found,) = stays_off(0.45, tolerance="20 %")
    assert found.value == pytest.approx(10.0 * 0.54 / (0.54 + 0.44), rel=1e-3)
    assert found.verdict == "falls short"
