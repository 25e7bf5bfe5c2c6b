"""What junctions store: capacitances, recovery, transition frequency, rates."""

import numpy as np
import pytest
from devices.moving import Moving, when
from devices.solving import Part, resistor, source

from railwright.devices.junction import BUILT_IN, depletion_charge

VOLTS = 0.025693  # k T / q at 25 °C


def slope(voltage: float, *stated: float) -> float:
    step = 1e-6
    ahead, behind = (depletion_charge(voltage + s * step, *stated) for s in (1, -1))
    return float(ahead - behind) / (2.0 * step)


class TestDepletion:
    @pytest.mark.parametrize("voltage", [-20.0, -4.0, -1.0, 0.0, 0.3])
    def test_capacitance_of_an_abrupt_junction(self, voltage: float) -> None:
        """C0 / sqrt(1 - v/phi) (Sze, Physics of Semiconductor Devices)."""
        wanted = 1e-10 / np.sqrt(1.0 - voltage / BUILT_IN)
        assert slope(voltage, 1e-10) == pytest.approx(wanted, rel=1e-6)

    def test_it_is_the_stated_one_at_its_test_voltage(self) -> None:
        assert slope(-4.0, 15e-12, 4.0) == pytest.approx(15e-12, rel=1e-6)

    def test_it_goes_on_smoothly_in_forward_bias(self) -> None:
        """About twice the one at nil volts (Sedra and Smith, Microelectronic Circuits)."""
        volts = np.linspace(0.3, 0.4, 201)
        found = np.array([slope(v, 1e-10) for v in volts])
        assert np.abs(np.diff(found, 2)).max() < 1e-14
        assert 1.4e-10 < slope(0.5, 1e-10) < 2.5e-10
        assert slope(0.8, 1e-10) < 4e-10


def test_a_diode_in_reverse_makes_a_pole_with_its_resistor() -> None:
    """15 pF at 4 V behind 100 kΩ: 106 kHz."""
    values = {"junction_capacitance": 15e-12, "capacitance_voltage": 4.0}
    parts = [
        source("V", "IN"),
        resistor("R", "IN", "A", 1e5),
        resistor("T", "X", "GND", 1e3),
        Part("D", "diode", {"anode": "GND", "cathode": "A"}, values, name="1N4001"),
    ]
    moving = Moving(parts, V_voltage=4.0)
    pole = 1.0 / (2.0 * np.pi * 1e5 * 15e-12)
    found = moving.response("V.voltage", "A", [1.0, pole])
    assert found[1] / found[0] == pytest.approx(1.0 / (1.0 + 1.0j), rel=1e-3)


@pytest.mark.parametrize("back", [5.0, 20.0])
def test_a_diode_goes_on_conducting_until_its_charge_is_out(back: float) -> None:
    """t = tau ln(1 + If/Ir) (Sze, Physics of Semiconductor Devices, transient behaviour)."""
    tau, ohms = 1e-6, 1e3
    values = {"transit_time": tau, "junction_capacitance": 0.0, "series_resistance": 1e-6}
    parts = [
        source("V", "P"),
        source("W", "N"),
        resistor("R", "P", "A", ohms),
        Part("D", "diode", {"anode": "A", "cathode": "N"}, values, name="1N4148"),
    ]
    moving = Moving(parts, V_voltage=30.7, W_voltage=20.0, N_free=0)
    times = np.linspace(0.0, 2e-6, 801)
    (anode,) = moving.course(times, "A", V_voltage=lambda time: 20.7 - back)
    forward, reverse = 10.0 / ohms, back / ohms
    wanted = tau * np.log(1.0 + forward / reverse)
    assert when(times, anode, 20.0) == pytest.approx(wanted, rel=0.06)


TRANSISTOR = {"collector": "C", "base": "B", "emitter": "GND"}


def current_gain(frequency: float, **values: float) -> float:
    """|h21| of a transistor at 10 mA and 5 V."""
    stated = {"emitter_capacitance": 0.0, "collector_capacitance": 0.0, "current_gain": 200.0}
    stated |= {"junction_to_ambient": 0.1, "early_voltage": 1e6, "saturation_voltage": 0.01}
    options = {"polarity": "npn"}
    parts = [
        source("VB", "BB"),
        resistor("RB", "BB", "B", 1e6),
        source("VC", "CC"),
        resistor("RC", "CC", "C", 9e-3),
        Part("Q", "bipolar-transistor", TRANSISTOR, {**stated, **values}, options, name="2N3904"),
    ]
    bias = 1e-2 / 200.0 * (1.0 + 1e-2 / 0.08)
    moving = Moving(parts, VB_voltage=0.7 + 1e6 * bias, VC_voltage=5.0)
    collector = moving.response("VB.voltage", "C", [frequency])[0] / 1e-2
    base = (1.0 - moving.response("VB.voltage", "B", [frequency])[0]) / 1e6
    return float(abs(collector / base))


class TestTransistor:
    def test_transition_frequency_of_the_transit_time(self) -> None:
        """1 / (2 pi tau) (Gray, Hurst, Lewis and Meyer, chapter 1)."""
        tau = 0.5e-9
        found = current_gain(0.1 / (2.0 * np.pi * tau), transit_time=tau)
        assert found == pytest.approx(10.0, rel=0.02)

    def test_transition_frequency_of_the_collector_junction(self) -> None:
        """gm / (2 pi Cc): 4 pF at nil volts is 1.51 pF at 4.3 V."""
        across = 4e-12 / np.sqrt(1.0 + 4.3 / BUILT_IN)
        transition = 1e-2 / VOLTS / (2.0 * np.pi * across)
        found = current_gain(transition / 30.0, transit_time=0.0, collector_capacitance=4e-12)
        assert found == pytest.approx(30.0, rel=0.05)

    def test_a_saturated_one_turns_off_late(self) -> None:
        """With ten times the reverse transit time its storage time is nearly ten times as long."""

        def delay(stored: float) -> float:
            values = {"reverse_transit_time": stored, "transit_time": 1e-10}
            parts = [
                source("VB", "BB"),
                resistor("RB", "BB", "B", 4.3e3),
                source("VC", "CC"),
                resistor("RC", "CC", "C", 1e3),
                Part("Q", "bipolar-transistor", TRANSISTOR, values, {"polarity": "npn"}, "2N3904"),
            ]
            moving = Moving(parts, VB_voltage=5.0, VC_voltage=10.0)
            times = np.linspace(0.0, 12.0 * stored, 401)
            (collector,) = moving.course(times, "C", VB_voltage=lambda time: 0.0)
            return when(times, collector, 5.0)

        short, long = delay(1e-7), delay(1e-6)
        assert short > 0.5e-7
        assert long / short == pytest.approx(10.0, rel=0.2)


THYRISTOR = {"anode": "A", "cathode": "GND", "gate": "G"}
SCR = "thyristor 0.8 A sensitive gate"


def crowbar(**values: float) -> list[Part]:
    return [
        source("V", "P"),
        resistor("R", "P", "A", 100.0),
        source("VG", "GG"),
        resistor("RG", "GG", "G", 1e3),
        Part("Q", "thyristor", THYRISTOR, values, name=SCR),
    ]


class TestThyristor:
    def test_turn_on_takes_its_time(self) -> None:
        moving = Moving(crowbar(turn_on_time=2e-6), V_voltage=12.0, VG_voltage=0.0)
        times = np.linspace(0.0, 6e-6, 401)
        (anode,) = moving.course(times, "A", VG_voltage=lambda time: 3.0)
        assert anode[0] > 11.9
        assert when(times, anode, 6.0) == pytest.approx(2e-6, rel=0.25)
        assert anode[-1] < 1.5

    @pytest.mark.parametrize(("pause", "fires"), [(5e-6, True), (60e-6, False)])
    def test_it_blocks_again_only_after_its_turn_off_time(self, pause: float, fires: bool) -> None:
        parts = crowbar(turn_off_time=20e-6, junction_capacitance=0.0)
        moving = Moving(parts, V_voltage=12.0, VG_voltage=3.0)
        times = np.linspace(0.0, 150e-6, 601)
        stop = 40e-6

        def feed(time: float) -> float:
            return 0.0 if stop <= time < stop + pause else 12.0

        (anode,) = moving.course(
            times, "A", V_voltage=feed, VG_voltage=lambda time: 3.0 if time < 20e-6 else 0.0
        )
        assert anode[150] < 1.5  # it holds itself without its gate
        assert bool(anode[-1] < 2.0) == fires

    @pytest.mark.parametrize(("rise", "fires"), [(5e-6, True), (1e-3, False)])
    def test_a_voltage_that_rises_fast_fires_it(self, rise: float, fires: bool) -> None:
        """C dv/dt into gate and its resistor (Sze, chapter on thyristors)."""
        parts = [*crowbar(junction_capacitance=1e-9), resistor("RK", "G", "GND", 1e3)]
        moving = Moving(parts, V_voltage=0.0, VG_voltage=0.0)
        times = np.linspace(0.0, 2.0 * rise + 20e-6, 401)
        (anode,) = moving.course(times, "A", V_voltage=lambda time: 50.0 * min(time / rise, 1.0))
        assert bool(anode[-1] < 2.0) == fires
