"""Heat-sink chain against published cases."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import Row, published

from railwright.standards.thermal import (
    allowed_power,
    junction_temperature,
    needed_resistance,
)

ZERO_CELSIUS = 273.15


@pytest.mark.parametrize("row", published("heat sink of a regulator"), ids=str)
def test_sink_of_a_regulator(row: Row) -> None:
    def sink(
        input: float,
        output: float,
        own: float,
        load: float,
        to_case: float,
        to_sink: float,
        ambient: float,
        junction: float,
    ) -> float:
        power = (input - output) * load + input * own
        limits = (junction + ZERO_CELSIUS, ambient + ZERO_CELSIUS)
        return needed_resistance(*limits, power, to_case, to_sink)

    assert sink(**row.inputs) == row.expected_within_its_tolerance


def allowed(case: float, junction: float, to_case: float) -> float:
    return allowed_power(junction + ZERO_CELSIUS, case + ZERO_CELSIUS, to_case)


@pytest.mark.parametrize("row", published("power of a transistor"), ids=str)
def test_power_of_a_transistor(row: Row) -> None:
    assert allowed(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("derating of a transistor"), ids=str)
def test_derating_of_a_transistor(row: Row) -> None:
    loss = allowed(25.0, **row.inputs) - allowed(26.0, **row.inputs)
    assert loss == row.expected_within_its_tolerance


def test_no_power_is_allowed_above_the_limit() -> None:
    assert allowed(250.0, 200.0, 1.52) == 0.0


temperatures = st.floats(250, 350)
resistances = st.floats(0.1, 20)


@given(temperatures, st.floats(0.1, 50), resistances, resistances, st.floats(1, 150))
def test_needed_sink_leads_back_to_the_junction(
    ambient: float, power: float, case: float, joint: float, rise: float
) -> None:
    sink = needed_resistance(ambient + rise, ambient, power, case, joint)
    junction = junction_temperature(ambient, power, case, joint, sink)
    assert junction == pytest.approx(ambient + rise, rel=1e-9)


@pytest.mark.parametrize("power", [0.0, -1.0, float("nan")])
def test_no_sink_is_needed_without_power(power: float) -> None:
    with pytest.raises(ValueError, match="wanted is a power above 0"):
        needed_resistance(400.0, 300.0, power, 5.0)
