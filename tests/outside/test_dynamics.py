"""How supplies answer in frequency: figures of others."""

import numpy as np
import pytest
from devices.moving import Moving
from devices.test_regulator_dynamics import adjustable, capacitor, control_to_output
from published import Row, published


@pytest.mark.parametrize("row", published("ripple rejection"), ids=str)
def test_ripple_rejection_of_the_317_type(row: Row) -> None:
    """At 120 Hz it is what the line regulation leaves: 0.01 %/V in the same table, 25 °C."""
    more = [capacitor("CA", "ADJ", row.inputs["bypass"])] if row.inputs["bypass"] else []
    moving = Moving(
        adjustable(1680.0, capacitor("CO", "OUT", 1e-6), *more, line_regulation=1e-4),
        V_voltage=15.0,
        LD_current=0.5,
    )
    found = -20.0 * np.log10(np.abs(moving.response("V.voltage", "OUT", 120.0)[0]))
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("control to output of a step-down regulator"), ids=str)
def test_resonance_in_continuous_conduction(row: Row) -> None:
    """Second order: V/D at low frequency, a resonance of L and C, damped by the load."""
    frequencies = np.linspace(950.0, 1060.0, 441)
    found = np.abs(control_to_output(3.0, frequencies))
    low = abs(control_to_output(3.0, np.array([1.0]))[0])
    assert low == pytest.approx(28.0, rel=0.01)
    quantity = {"frequency": frequencies[found.argmax()], "quality": found.max() / low}
    assert quantity[row.inputs["quantity"]] == row.expected_within_its_tolerance
