"""Low-dropout regulators: published tables, and second forms where there are none."""

from __future__ import annotations

import numpy as np
import pytest
from devices.moving import Moving
from devices.solving import Part, resistor, solved, source

FIXED = {"input": "IN", "output": "OUT", "ground": "GND"}
ADJUSTABLE = {**FIXED, "feedback": "FB"}
PNP, CMOS, LOW_NOISE = "2950 type 5 V 0.1 A", "ldo CMOS 3.3 V 0.25 A", "1763 type adjustable 0.5 A"
LOAD = Part("LD", "load", {"plus": "OUT", "minus": "GND"}, {}, {"style": "constant-current"})
COOL = {"junction_to_ambient": 0.1}


def fixed(name: str, *more: Part, pins: dict[str, str] = FIXED, **values: float) -> list[Part]:
    known = {**COOL, **values}
    part = Part("U", "low-dropout-regulator", pins, known, name=name)
    return [source("V", "IN"), part, LOAD, *more]


def adjustable(upper: float, lower: float, **values: float) -> list[Part]:
    known = {**COOL, **values}
    part = Part("U", "adjustable-low-dropout-regulator", ADJUSTABLE, known, name=LOW_NOISE)
    divider = [resistor("R1", "OUT", "FB", upper), resistor("R2", "FB", "GND", lower)]
    return [source("V", "IN"), part, LOAD, *divider]


class TestPublished:
    def test_dropout(self) -> None:
        """30 mV at 0.1 mA and 350 mV at 100 mA (datasheet table of the 2950 type)."""
        found = solved(fixed(PNP), V_voltage=4.8, LD_current=[1e-4, 0.1])
        assert found["U.across"] == pytest.approx(np.array([0.03, 0.35]), abs=0.003)

    def test_own_current(self) -> None:
        """93 µA at 0.1 mA, 4 mA at 100 mA; 110 µA at 4.5 V (datasheet table of the 2950 type)."""
        found = solved(fixed(PNP), V_voltage=[6.0, 6.0, 4.5], LD_current=[1e-4, 0.1, 1e-4])
        own = -found["V.power"] / found["V.voltage"] - found["LD.current"]
        assert own == pytest.approx(np.array([93e-6, 4e-3, 110e-6]), rel=0.05)
        assert own == pytest.approx(found["U.own_current"], rel=1e-3)

    def test_current_limit(self) -> None:
        """220 mA into a short circuit (datasheet table of the 2950 type)."""
        found = solved(fixed(PNP, resistor("RS", "OUT", "GND", 1e-3)), V_voltage=6.0)
        assert found["U.output_current"] == pytest.approx(0.22, rel=0.01)

    def test_noise(self) -> None:
        """126 µV from 10 Hz to 100 kHz (datasheet table of the 2950 type), white for the most."""
        known = fixed(PNP)[1].known
        band = (1e5 - 10.0) + known["noise_corner"] * np.log(1e5 / 10.0)
        assert known["noise_voltage"] * np.sqrt(band) == pytest.approx(126e-6, rel=0.02)

    def test_set_formula(self) -> None:
        """Vout = 1.22 V (1 + R1/R2) + 30 nA R1 (datasheet of the 1763 type)."""
        exact = {"line_regulation": 0.0, "load_regulation": 1e-6}
        found = solved(adjustable(250e3, 145e3, **exact), V_voltage=6.0, LD_current=[0.0, 0.3])
        assert found["OUT"] == pytest.approx(1.22 * (1 + 250 / 145) + 30e-9 * 250e3, abs=1e-3)


def test_field_effect_element_is_a_resistance_at_its_dropout() -> None:
    """0.88 Ω, whatever the current; and its own current stays what it was."""
    loads = np.array([0.05, 0.1, 0.2])
    found = solved(fixed(CMOS), V_voltage=3.2, LD_current=loads)
    assert found["U.across"] == pytest.approx(0.88 * loads, abs=2e-3)
    assert found["U.own_current"] == pytest.approx(np.full(3, 55e-6), rel=1e-6)


@pytest.mark.parametrize(("sense", "volts"), [("high", (3.3, 0.0)), ("low", (0.0, 3.3))])
def test_disable_pin(sense: str, volts: tuple[float, float]) -> None:
    """Off, it draws its standby current and passes nothing: 0.1 µA (its own row)."""
    pins = {**FIXED, "disable": "EN"}
    part = Part("U", "low-dropout-regulator", pins, COOL, {"enable_active": sense}, name=CMOS)
    parts = [source("V", "IN"), source("E", "EN"), part, resistor("L", "OUT", "GND", 100.0)]
    found = solved(parts, V_voltage=5.0, E_voltage=list(volts))
    assert found["U.enabled"] == pytest.approx(np.array([1.0, 0.0]))
    assert found["OUT"][0] == pytest.approx(3.3, abs=0.02)
    assert abs(found["OUT"][1]) < 1e-3
    assert found["U.own_current"][1] == pytest.approx(1e-7, rel=1e-3)


def test_disabled_it_does_not_hold_up_an_output_below_ground() -> None:
    pins = {**FIXED, "disable": "EN"}
    part = Part("U", "low-dropout-regulator", pins, COOL, name=CMOS)
    pull = Part("W", "source", {"plus": "GND", "minus": "OUT"}, {"resistance": 10.0})
    found = solved([source("V", "IN"), source("E", "EN"), part, pull], V_voltage=5.0, W_voltage=1.0)
    assert found["OUT"][0] == pytest.approx(-1.0, abs=0.01)


class TestOutputAboveTheInput:
    """The input is left open but for a load of 100 Ω, the output fed from 5 V."""

    def feeding(self, part: Part, *more: Part) -> list[Part]:
        return [source("W", "X"), resistor("RX", "X", "OUT", 1.0), part, *more,
                resistor("L", "IN", "GND", 100.0)]  # fmt: skip

    def test_a_body_diode_feeds_the_input(self) -> None:
        """0.6 V less, and some for the current (the drop of a junction: common practice)."""
        part = Part("U", "low-dropout-regulator", FIXED, COOL, name=CMOS)
        found = solved(self.feeding(part), W_voltage=5.0)
        assert found["IN"][0] == pytest.approx(5.0 - 0.6, abs=0.15)
        assert found["U.reverse_current"][0] == pytest.approx(found["IN"][0] / 100.0, rel=0.01)
        assert found["U.power"][0] > 0.6 * found["U.reverse_current"][0] - 0.01

    def test_a_part_that_blocks_does_not(self) -> None:
        """At most 10 µA (datasheet of the 1763 type)."""
        part = Part("U", "adjustable-low-dropout-regulator", ADJUSTABLE, COOL, name=LOW_NOISE)
        divider = [resistor("R1", "OUT", "FB", 100e3), resistor("R2", "FB", "GND", 100e3)]
        found = solved(self.feeding(part, *divider), W_voltage=5.0)
        assert abs(found["IN"][0]) < 100.0 * 10e-6
        assert found["U.reverse_current"][0] == 0.0


def test_rejection_falls_with_the_frequency() -> None:
    """dVout/dVin = k / (1 + k), k = line + g Z, Z = j w L in parallel with R: a second form."""
    stated = {"output_inductance": 1e-6, "open_loop_resistance": 2.0, "feedthrough": 0.02}
    stated |= {"line_regulation": 1e-4, "load_regulation": 1e-3}
    moving = Moving(fixed(CMOS, **stated), V_voltage=5.0, LD_current=0.1)
    frequencies = np.logspace(2, 7, 11)
    reactance = 2j * np.pi * frequencies * 1e-6
    k = 3.3e-4 + 0.02 * reactance * 2.0 / (reactance + 2.0)
    found = moving.response("V.voltage", "OUT", frequencies)
    assert found == pytest.approx(k / (1.0 + k), rel=2e-3)
    decibels = -20.0 * np.log10(np.abs(found))
    assert decibels[0] == pytest.approx(69.6, abs=0.2)
    assert decibels[-1] < 30.0


def test_a_divider_enlarges_the_output_impedance() -> None:
    """Z (1 + R1/R2): what is stated holds at the feedback pin."""
    stated = {"load_regulation": 1e-2, "output_inductance": 1e-6, "open_loop_resistance": 5.0}
    frequencies = [10.0, 1e5]
    found = [
        np.abs(
            Moving(
                adjustable(ratio * 1e4, 1e4, feedback_current=0.0, feedthrough=0.0, **stated),
                V_voltage=8.0,
                LD_current=0.1,
            ).response("LD.current", "OUT", frequencies)
        )
        for ratio in (1.0, 3.0)
    ]
    assert found[1] / found[0] == pytest.approx(np.array([2.0, 2.0]), rel=5e-3)
