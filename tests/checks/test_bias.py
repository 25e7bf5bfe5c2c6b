"""What bias leaves of a ceramic capacitor, against the stated loss and against its charge."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove


def finding(volts: float, loss: float) -> Finding:
    """A capacitor of 1 µF and 25 V across the output."""
    values = '\n'.join(
        f'{name} = {{ typical = "{value}", tolerance = "0 %" }}'
        for name, value in (
            ("capacitance", "1 µF"), ("esr", "10 mΩ"), ("bias_loss", f"{100 * loss} %"),
        )
    )  # fmt: skip
    rest = 'leakage = "1 nA"\nrated_voltage = "25 V"\noptions = { dielectric = "class-2" }'
    store = part("C1", "capacitor", "plus = OUT, minus = GND", f"{values}\n{rest}")
    text = supply(resistor("R1", "IN", "OUT", 1.0) + store, input=(volts,) * 3, volts=(volts,) * 2)
    asked = "headroom.capacitance"
    proof = prove(read_text(text, "c.toml"), only=(asked,))
    (found,) = [f for f in proof.findings if (f.id, f.subject) == (asked, "C1")]
    return found


def charge(volts: float, loss: float) -> float:
    """Over C: v / sqrt(1 + (v/Vk)²), whose slope has lost that share at 25 V."""
    bent = ((1.0 - loss) ** (-2.0 / 3.0) - 1.0) / 25.0**2
    return float(volts / (1.0 + bent * volts**2) ** 0.5)


@pytest.mark.parametrize(
    ("volts", "loss", "verdict"),
    [(25.0, 0.4, "holds"), (25.0, 0.6, "marginal"), (13.0, 0.95, "falls short")],
)
def test_what_is_left_is_the_slope_of_the_charge(volts: float, loss: float, verdict: str) -> None:
    found = finding(volts, loss)
    step = 1e-4
    slope = (charge(volts + step, loss) - charge(volts - step, loss)) / (2.0 * step)
    assert found.value == pytest.approx(slope, rel=1e-5)
    assert found.verdict == verdict


def test_at_the_rated_voltage_the_stated_share_is_lost() -> None:
    assert finding(25.0, 0.4).value == pytest.approx(0.6, rel=1e-6)
