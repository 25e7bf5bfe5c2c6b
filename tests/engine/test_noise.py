"""Noise: Nyquist's law, kT/C, closed integrals, sources that add up."""

from __future__ import annotations

import numpy as np
import pytest
from circuits import GROUND
from engine.example_circuits import zener_shunt
from engine.ideal_parts import (
    IdealAmplifier,
    IdealBoard,
    IdealCapacitor,
    IdealInductor,
    NoisyResistor,
)
from engine.textbook_circuits import at_rest, first_of_two_unsolved
from published import Row, published
from scipy import integrate

from railwright.devices.arithmetic import BOLTZMANN
from railwright.engine.noise import noise, noise_in_band
from railwright.engine.ports import Potential

AT = Potential("A", GROUND)
KT4 = 4.0 * BOLTZMANN * 300.0


@pytest.mark.parametrize("row", published("noise of a resistor"), ids=str)
def test_thermal_noise(row: Row) -> None:
    board = IdealBoard().put("R", NoisyResistor(), "A 0", resistance=row.inputs["resistance"])
    board.put("C", IdealCapacitor(), "A 0", capacitance=1e-12)
    linear = at_rest(board)
    if row.inputs["of"] == "density":
        found = np.sqrt(noise(linear, AT, [1.0]).density[0, 0])
    else:
        found = noise_in_band(linear, AT, 1e-3, 1e15).total[0]
    assert found == row.expected_within_its_tolerance


def test_equipartition_does_not_ask_for_the_resistance() -> None:
    board = IdealBoard().put("R", NoisyResistor(), "A 0")
    board.put("C", IdealCapacitor(), "A 0", capacitance=1e-9)
    ohms = np.array([1e2, 1e4, 1e6])
    found = noise_in_band(at_rest(board, {("R", "resistance"): ohms}, 3), AT, 1e-4, 1e12)
    assert found.total == pytest.approx(np.sqrt(BOLTZMANN * 300.0 / 1e-9), rel=1e-4)
    assert found.unit == "V"


@pytest.mark.parametrize("quality", [5.0, 1e3, 1e5])
def test_equipartition_of_a_sharp_resonance(quality: float) -> None:
    # The capacitor of a resonance has kT/2 however sharp it is (Nyquist's own argument).
    board = IdealBoard().put("C", IdealCapacitor(), "A 0", capacitance=1e-9)
    board.put("L", IdealInductor(), "A 0", inductance=1e-3)
    board.put("R", NoisyResistor(), "A 0", resistance=1e3 * quality)
    found = noise_in_band(at_rest(board), AT, 1.0, 1e10)
    assert found.total[0] == pytest.approx(np.sqrt(BOLTZMANN * 300.0 / 1e-9), rel=1e-3)


class TestCorner:
    ohms, corner = 1e3, 1e4

    def board(self) -> IdealBoard:
        board = IdealBoard()
        return board.put("R", NoisyResistor(), "A 0", resistance=self.ohms, corner=self.corner)

    def test_density_doubles_there(self) -> None:
        found = noise(at_rest(self.board()), AT, [1e2, 1e4, 1e8]).density[0]
        assert found == pytest.approx(KT4 * self.ohms * np.array([101.0, 2.0, 1.0001]))

    def test_integral_is_exact(self) -> None:
        found = noise_in_band(at_rest(self.board()), AT, 0.1, 1e5).total[0]
        wanted = KT4 * self.ohms * (1e5 - 0.1 + self.corner * np.log(1e6))
        assert found == pytest.approx(np.sqrt(wanted), rel=1e-12)

    def test_integral_through_a_pole(self) -> None:
        board = self.board().put("C", IdealCapacitor(), "A 0", capacitance=1e-7)
        found = noise_in_band(at_rest(board), AT, 0.1, 1e6).total[0]

        def density(u: float) -> float:
            f = np.exp(u)
            size = 1.0 + (2 * np.pi * f * self.ohms * 1e-7) ** 2
            return float(KT4 * self.ohms / size * (1.0 + self.corner / f) * f)

        wanted, _ = integrate.quad(density, np.log(0.1), np.log(1e6), epsrel=1e-10)
        assert found == pytest.approx(np.sqrt(wanted), rel=1e-4)


def test_each_part_has_its_share() -> None:
    # An inverting amplifier: its resistors' noise by hand, with both 1/f and white.
    board = IdealBoard().put("R1", NoisyResistor(), "0 M", resistance=1e3)
    board.put("R2", NoisyResistor(), "M A", resistance=9e3, corner=50.0)
    board.put("X", IdealAmplifier(), "0 M A 0", gain=1e9, pole=1.0)
    found = noise(at_rest(board), AT, [1.0, 100.0])
    assert found.by_part["R1"][0] == pytest.approx(KT4 * 1e3 * 81.0, rel=1e-5)
    assert found.by_part["R2"][0] == pytest.approx(KT4 * 9e3 * np.array([51.0, 1.5]), rel=1e-5)
    assert found.density[0] == pytest.approx(
        found.by_part["R1"][0] + found.by_part["R2"][0], rel=1e-14
    )
    band = noise_in_band(at_rest(board), AT, 1.0, 100.0)
    assert band.total**2 == pytest.approx(band.by_part["R1"] ** 2 + band.by_part["R2"] ** 2)
    assert band.by_part["R2"][0] ** 2 == pytest.approx(
        KT4 * 9e3 * (99.0 + 50.0 * np.log(100.0)), rel=1e-5
    )


def test_nyquist_for_a_network() -> None:
    # The noise at a port is that of the real part of its impedance (Nyquist 1928).
    board = IdealBoard().put("R1", NoisyResistor(), "A 0", resistance=2e3)
    board.put("R2", NoisyResistor(), "A B", resistance=1e3)
    board.put("R3", NoisyResistor(), "B 0", resistance=3e3)
    board.put("C", IdealCapacitor(), "B 0", capacitance=1e-8)
    frequencies = np.geomspace(10.0, 1e6, 21)
    linear = at_rest(board)
    s = 2j * np.pi * frequencies
    impedance = 1.0 / (1.0 / 2e3 + 1.0 / (1e3 + 1.0 / (1.0 / 3e3 + s * 1e-8)))
    assert noise(linear, AT, frequencies).density[0] == pytest.approx(
        KT4 * impedance.real, rel=1e-12
    )


class TestMistakes:
    linear = staticmethod(
        lambda: at_rest(IdealBoard().put("R", NoisyResistor(), "A 0", resistance=1.0))
    )

    def test_no_part_states_noise(self) -> None:
        board = IdealBoard().put("C", IdealCapacitor(), "A 0", capacitance=1.0)
        with pytest.raises(ValueError, match="no part of this circuit states what noise"):
            noise(at_rest(board), AT, [1.0])

    def test_nil(self) -> None:
        with pytest.raises(ValueError, match="above 0 Hz"):
            noise(self.linear(), AT, [0.0, 1.0])

    @pytest.mark.parametrize("band", [(0.0, 1.0), (2.0, 1.0), (1.0, 1.0)])
    def test_bands(self, band: tuple[float, float]) -> None:
        with pytest.raises(ValueError, match="0 < low < high"):
            noise_in_band(self.linear(), AT, *band)


def test_unsolved_lanes_are_no_numbers() -> None:
    board = IdealBoard().put("N", NoisyResistor(), "OUT 0", resistance=1e3)
    zener = zener_shunt()
    board.parts += zener.parts
    board.nominal |= zener.nominal
    linear = first_of_two_unsolved(board, ("R", "resistance"), (3e2, 4e2))
    out = Potential("OUT", GROUND)
    assert np.isnan(noise(linear, out, [1.0]).density[:, 0]).tolist() == [True, False]
    assert np.isnan(noise_in_band(linear, out, 1.0, 10.0).total).tolist() == [True, False]
