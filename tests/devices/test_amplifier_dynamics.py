"""Amplifiers, comparators and gates in time and in frequency."""

import numpy as np
import pytest
from devices.moving import Moving, when
from devices.solving import Part, resistor, source
from devices.test_integrated_circuits import amplifier
from published import Row, published

from railwright.catalogue.loader import load

FREQUENCIES = np.logspace(1, 7, 13)


class TestOperationalAmplifier:
    def test_closed_loop_response_is_that_of_one_pole(self) -> None:
        """G / (1 + G/A + j f G/f_u) (Gray, Hurst, Lewis and Meyer)."""
        unity = 1e6
        moving = Moving(
            amplifier(unity_gain_frequency=unity, output_resistance=0.1),
            V_voltage=12.0,
            VI_voltage=1.0,
        )
        found = moving.response("VI.voltage", "O", FREQUENCIES)
        wanted = 3.0 / (1.0 + 3.0 / 1e5 + 3j * FREQUENCIES / unity)
        assert found == pytest.approx(wanted, rel=1e-3)

    def test_open_loop_gain_is_one_at_the_stated_frequency(self) -> None:
        moving = Moving(
            amplifier(unity_gain_frequency=2e6, gain=1e5, output_resistance=0.1),
            V_voltage=12.0,
            VI_voltage=1.0,
        )
        ahead = moving.response("VI.voltage", "O", FREQUENCIES)
        back = moving.response("VI.voltage", "FB", FREQUENCIES)
        gain = ahead / (1.0 - back)
        assert gain == pytest.approx(1.0 / (1e-5 + 1j * FREQUENCIES / 2e6), rel=1e-3)

    def test_a_large_step_slews(self) -> None:
        """A step of 2 V makes the output of a gain of 3 rise by 6 V at the slew rate."""
        moving = Moving(amplifier(slew_rate=0.5e6), V_voltage=15.0, VI_voltage=0.5)
        times = np.linspace(0.0, 20e-6, 401)
        (output,) = moving.course(times, "O", VI_voltage=lambda time: 2.5)
        rate = (output[160] - output[80]) / (times[160] - times[80])
        assert rate == pytest.approx(0.5e6, rel=0.02)
        assert np.diff(output).max() / (times[1] - times[0]) <= 0.5e6 * 1.001
        assert output[-1] == pytest.approx(7.5, abs=0.02)

    def test_the_state_does_not_wind_up_in_saturation(self) -> None:
        """After 100 µs at its upper limit, overdriven by volts, it turns back within 3 µs."""
        moving = Moving(amplifier(slew_rate=0.5e6), V_voltage=12.0, VI_voltage=6.0)
        times = np.linspace(0.0, 200e-6, 801)
        (output,) = moving.course(times, "O", VI_voltage=lambda time: 6.0 if time < 1e-4 else 2.0)
        assert output[399] == pytest.approx(12.0 - 1.3, abs=0.1)
        assert when(times, output, 10.4) - 1e-4 < 3e-6
        assert output[-1] == pytest.approx(6.0, abs=0.02)


def sense(gain: float, **values: float) -> list[Part]:
    pins = {"sense_plus": "P", "sense_minus": "N", "output": "O", "supply": "VCC", "ground": "GND"}
    return [
        source("V", "VCC"),
        source("VP", "P"),
        source("VN", "N"),
        Part("A", "current-sense-amplifier", pins, {"gain": gain, **values}),
        resistor("L", "O", "GND", 1e5),
    ]


def test_current_sense_amplifier_is_three_decibels_down_at_its_bandwidth() -> None:
    moving = Moving(sense(50.0, bandwidth=8e4), V_voltage=5.0, VP_voltage=12.05, VN_voltage=12.0)
    found = moving.response("VP.voltage", "O", [1.0, 8e4, 8e5])
    assert abs(found / found[0]) == pytest.approx([1.0, np.sqrt(0.5), np.sqrt(1 / 101)], rel=1e-3)


COMPARATOR = {"plus": "A", "minus": "B", "output": "O", "supply": "VCC", "ground": "GND"}
EXACT = {"offset": 0.0, "bias_current": 0.0, "offset_current": 0.0, "common_mode_error": 0.0}


def comparator(name: str = "393 type") -> list[Part]:
    return [
        source("V", "VCC"),
        source("VA", "A"),
        source("VB", "B"),
        Part("U", "comparator", COMPARATOR, EXACT, name=name),
        resistor("RO", "VCC", "O", 5.1e3),
    ]


def delay_of(name: str, overdrive: float, rising: bool, swing: float = 0.1) -> float:
    """Time from the step to 1.4 V at the output, from a step of `swing` about 1.4 V."""
    sign = 1.0 if rising else -1.0
    before, after = 1.4 - sign * (swing - overdrive), 1.4 + sign * overdrive
    moving = Moving(comparator(name), V_voltage=5.0, VA_voltage=before, VB_voltage=1.4)
    times = np.linspace(0.0, 3e-6, 301)
    (output,) = moving.course(times, "O", VA_voltage=lambda time: after)
    return when(times, output, 1.4)


class TestComparator:
    @pytest.mark.parametrize("rising", [True, False])
    def test_response_time_at_the_stated_overdrive(self, rising: bool) -> None:
        stated = load()["393 type"].values["response_time"].spread.typical
        assert delay_of("393 type", 5e-3, rising) == pytest.approx(stated, rel=0.15)

    def test_response_time_falls_with_the_overdrive(self) -> None:
        """393 type: about 0.7 µs at 20 mV (from memory)."""
        assert delay_of("393 type", 20e-3, True) == pytest.approx(0.7e-6, rel=0.15)

    @pytest.mark.parametrize("row", published("delay of a comparator at logic levels"), ids=str)
    def test_response_time_at_logic_levels(self, row: Row) -> None:
        swing, overdrive = row.inputs["swing"], row.inputs["overdrive"]
        found = delay_of(row.inputs["part"], overdrive, True, swing)
        assert found * 1e6 == row.expected_within_its_tolerance

    def test_a_forced_state_has_no_delay(self) -> None:
        moving = Moving(
            comparator(), V_voltage=5.0, VA_voltage=1.0, VB_voltage=1.4, U_free=0.0, U_forced=0.0
        )
        times = np.linspace(0.0, 1e-8, 11)
        (output,) = moving.course(times, "O", U_forced=lambda time: 1.0)
        assert output[0] < 0.3
        assert output[1] > 4.9


def inverters(count: int) -> list[Part]:
    """A chain of nand gates tied as inverters."""
    parts = [source("V", "VCC"), source("VI", "N0")]
    for i in range(count):
        pins = {"a": f"N{i}", "output": f"N{i + 1}", "supply": "VCC", "ground": "GND"}
        options = {"function": "nand"}
        parts.append(Part(f"G{i}", "logic-gate", pins, {"propagation_delay": 1e-7}, options))
    return parts


@pytest.mark.parametrize("count", [1, 4])
def test_gates_in_a_chain_add_their_delays(count: int) -> None:
    moving = Moving(inverters(count), V_voltage=10.0, VI_voltage=0.0)
    times = np.linspace(0.0, 1.5e-7 * count, 200)
    (output,) = moving.course(times, f"N{count}", VI_voltage=lambda time: 10.0)
    assert when(times, output, 5.0) == pytest.approx(count * 1e-7, rel=0.1)


def test_a_latch_of_gates_keeps_what_it_was_set_to() -> None:
    """Two nor gates back to back: a pulse at the set input stays in it."""
    gate = {"supply": "VCC", "ground": "GND"}
    parts = [source("V", "VCC"), source("VS", "S"), source("VR", "R")]
    for ref, one, other, output in (("G1", "R", "NQ", "Q"), ("G2", "S", "Q", "NQ")):
        pins = {"a": one, "b": other, "output": output, **gate}
        parts.append(Part(ref, "logic-gate", pins, {}, {"function": "nor"}, name="4001 type"))
    moving = Moving(parts, V_voltage=10.0, VS_voltage=0.0, VR_voltage=10.0)
    times = np.linspace(0.0, 4e-6, 401)
    q, nq = moving.course(
        times,
        "Q",
        "NQ",
        VR_voltage=lambda time: 0.0 if time > 0.2e-6 else 10.0,
        VS_voltage=lambda time: 10.0 if 1e-6 < time < 2e-6 else 0.0,
    )
    assert q[95] < 0.1 < 9.9 < nq[95]  # reset, and released from it
    assert nq[-1] < 0.1 < 9.9 < q[-1]  # set, and released from it
