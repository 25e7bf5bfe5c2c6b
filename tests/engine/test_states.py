"""All steady states: closed forms, known counts, verdicts, and what is said of missing ones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board, aimed
from engine.ideal_parts import (
    TWO_ENDS,
    IdealBoard,
    IdealCapacitor,
    IdealInductor,
    SquareLaw,
    Transconductance,
)
from numpy.polynomial import polynomial
from numpy.typing import NDArray

from railwright.devices.device import Device, Terms, Value
from railwright.engine.degree import determinant_signs
from railwright.engine.linear import linearise
from railwright.engine.poles import poles
from railwright.engine.quiescent import quiescent
from railwright.engine.states import SteadyStates, steady_states

Array = NDArray[np.float64]
POWERED = {"supply": "VCC", "ground": GROUND}
TUNNEL = np.array([0.0, 17.76e-3, -103.79e-3, 229.62e-3, -226.31e-3, 83.72e-3])
"""Current of a tunnel diode as a polynomial of its voltage [A/V^n]: Khalil, Nonlinear Systems,
section on the tunnel-diode circuit (from memory)."""


class ConstantPower(Device):
    """i = P v / (v² + k²): constant power far above the knee k, a resistance far below it."""

    pins = TWO_ENDS
    values = {"power": Value("W", "power"), "knee": Value("V", "where it gives way")}

    def equations(self, t: Terms) -> None:
        volts = t.v("plus") - t.v("minus")
        t.through("plus", "minus", t.p.power * volts / (volts * volts + t.p.knee * t.p.knee))


class TunnelDiode(Device):
    """The polynomial of `TUNNEL`."""

    pins = TWO_ENDS

    def equations(self, t: Terms) -> None:
        volts, current = t.v("plus") - t.v("minus"), 0.0
        for factor in reversed(TUNNEL):
            current = current * volts + float(factor)
        t.through("plus", "minus", current)


def found(board: Board, lanes: Mapping[Any, Any] | None = None, count: int = 1, **how: Any) -> Any:
    return steady_states(board.model, lanes or {}, count, **how)


def numbers(states: SteadyStates) -> list[int]:
    return [states.of(lane).size for lane in range(states.count)]


def test_a_divider_has_one_state() -> None:
    board = Board().source("V", "IN", 10.0).resistor("R1", "IN", "OUT", 1e3)
    states = found(board.resistor("R2", "OUT", GROUND, 1e3))
    assert states.points.potential("OUT") == pytest.approx([5.0], rel=1e-6)
    assert (states.verdict, states.because) == (
        ("stable",),
        ("nothing is stored, and the nets absorb power",),
    )
    assert states.labels == ("lane 0, state 1 of 1, stable",)
    assert "1 steady state was found; their signs add up to +1" in states.completeness(0)
    assert "cannot prove that there are no others" in states.completeness(0)


class TestConstantPower:
    """E behind R: R P = V (E - V), so V = (E ± sqrt(E² - 4 R P)) / 2; nothing for P > E²/4R."""

    E, OHMS, KNEE, FARADS = 10.0, 2.0, 1e-3, 1e-4
    WATTS = np.array([2.0, 8.0, 12.0, 13.0])
    """The most that the source can give is 12.5 W."""

    def states(self, stored: bool) -> SteadyStates:
        board = IdealBoard().source("V", "IN", self.E)
        board.resistor("R", "IN", "OUT", self.OHMS)
        board.put("P", ConstantPower(), "OUT 0", knee=self.KNEE)
        if stored:
            board.put("C", IdealCapacitor(), "OUT 0", capacitance=self.FARADS)
        states: SteadyStates = found(board, {("P", "power"): self.WATTS}, self.WATTS.size)
        return states

    @pytest.mark.parametrize("stored", [True, False])
    def test_both_points_and_the_locked_up_one(self, stored: bool) -> None:
        states = self.states(stored)
        assert numbers(states) == [3, 3, 3, 1]
        assert (states.balance == 1.0).all()
        volts, verdict = states.points.potential("OUT"), np.array(states.verdict)
        for lane, watts in enumerate(self.WATTS):
            own = states.of(lane)[np.argsort(volts[states.of(lane)])]
            # Far below its knee the load is the resistance k²/P.
            locked = self.E / (1.0 + self.OHMS * watts / self.KNEE**2)
            assert volts[own[0]] == pytest.approx(locked, rel=1e-4)
            assert verdict[own[0]] == "stable"
            if own.size == 3:
                root = np.sqrt(self.E**2 - 4.0 * self.OHMS * watts)
                wanted = (self.E + np.array([-root, root])) / 2.0
                assert volts[own[1:]] == pytest.approx(wanted, rel=1e-5)
                assert verdict[own[1:]].tolist() == ["unstable", "stable"]

    def test_what_is_stored_tells_how_fast(self) -> None:
        # C dV/dt = (E - V)/R - P/V, so the pole is -(1/R - P/V²)/C.
        states = self.states(True)
        volts = states.points.potential("OUT")
        far = volts > 1.0
        pole = poles(linearise(quiescent(states.points))).value[far, 0].real
        watts = self.WATTS[states.lane[far]]
        wanted = -(1.0 / self.OHMS - watts / volts[far] ** 2) / self.FARADS
        assert pole == pytest.approx(wanted, rel=1e-4)


def test_a_converter_behind_a_weak_source() -> None:
    # A step-down regulator takes constant power, as long as it is not in dropout: two voltages
    # whose sum is that of the source, were it not for its losses; and in dropout it locks up,
    # as it does behind a current limit below what the load takes.
    board = Board().source("V", "VIN", 24.0, resistance=0.01).resistor("RS", "VIN", "IN", 20.0)
    film = {"dielectric": "film"}
    board.part("CI", "capacitor", {"plus": "IN", "minus": GROUND}, film)
    pins = {"input": "IN", "switch": "SW", "ground": GROUND, "feedback": "FB"}
    board.part("U", "step-down-regulator", pins)
    board.part("D", "diode", {"anode": GROUND, "cathode": "SW"}, forward_voltage=0.5, gap=0.7)
    board.part("L", "inductor", {"one": "SW", "two": "OUT"})
    board.part("CO", "capacitor", {"plus": "OUT", "minus": GROUND}, film, capacitance=3e-4)
    board.resistor("R1", "OUT", "FB", 3e3).resistor("R2", "FB", GROUND, 1e3).load("LD", "OUT", 1.0)
    lanes = {
        ("RS", "resistance"): np.array([20.0, 0.01, 0.01]),
        ("V", "current_limit"): np.array([3.0, 0.5, 3.0]),
    }
    states = found(board, lanes, 3, directions=0)
    assert numbers(states) == [3, 3, 1]
    volts, verdict = states.points.potential("IN"), np.array(states.verdict)
    for lane in (0, 1):
        own = states.of(lane)[np.argsort(volts[states.of(lane)])]
        assert verdict[own].tolist() == ["stable", "unstable", "stable"]
        assert states.points.potential("OUT")[own[0]] < 4.0
        assert states.points.potential("OUT")[own[1:]] == pytest.approx([4.92, 4.92], abs=0.02)
    behind = volts[states.of(0)]
    assert np.sort(behind)[1:].sum() == pytest.approx(24.0, rel=0.03)


def test_two_gates_that_hold_each_other() -> None:
    board = Board().source("VCC", "VCC", 12.0)
    board.resistor("RS", "VCC", "S", 1e4).resistor("RR", "VCC", "R", 1e4)
    nand = {"function": "nand"}
    board.part("U1", "logic-gate", {"a": "S", "b": "B", "output": "A", **POWERED}, nand)
    board.part("U2", "logic-gate", {"a": "R", "b": "A", "output": "B", **POWERED}, nand)
    states = found(board, directions=0)
    level = {
        (round(one, 2), round(two, 2)): verdict
        for one, two, verdict in zip(
            states.points.of("U1", "state"),
            states.points.of("U2", "state"),
            states.verdict,
            strict=True,
        )
    }
    assert level == {(0.0, 1.0): "stable", (1.0, 0.0): "stable", (0.5, 0.5): "unstable"}
    assert states.points.count == 3
    assert "lane 0, state 1 of 3, unstable: U1 0.5, U2 0.5" in states.labels
    assert "4 combinations of U1, U2, held and let go" in states.completeness(0)


def flip_flop() -> Board:
    """Two transistors that hold each other off (Eccles and Jordan 1919)."""
    board = Board().source("V", "VCC", 5.0)
    for own, other in ("12", "21"):
        board.resistor(f"RC{own}", "VCC", f"C{own}", 1e3)
        board.resistor(f"RB{own}", f"C{other}", f"B{own}", 1e4)
        pins = {"collector": f"C{own}", "base": f"B{own}", "emitter": GROUND}
        board.part(f"Q{own}", "bipolar-transistor", pins)
    return board


def test_a_flip_flop_is_symmetric_and_its_middle_unstable() -> None:
    # A search from the middle sees the middle only; its sign tells that two states are missing.
    states = found(flip_flop(), spread=0, directions=0)
    ends = np.array([states.points.potential("C1"), states.points.potential("C2")])
    assert states.points.count == 3
    order = np.argsort(ends[0])
    assert ends[0, order] == pytest.approx(ends[1, order[::-1]], rel=1e-5)
    assert ends[0, order[1]] == pytest.approx(ends[1, order[1]], rel=1e-6)
    assert [states.verdict[k] for k in order] == ["stable", "unstable", "stable"]
    assert states.sign[order].tolist() == [1.0, -1.0, 1.0]
    assert "more where states were missing" in states.completeness(0)


def test_a_thyristor_holds_above_its_holding_current() -> None:
    board = Board().source("V", "IN", 12.0).resistor("R", "IN", "A", 1e2)
    board.resistor("RG", "G", GROUND, 1e3)
    board.part("T", "thyristor", {"anode": "A", "cathode": GROUND, "gate": "G"})
    # It is on at some 0.8 V and holds above 5 mA: below 2.24 kΩ.
    ohms = np.array([1e2, 2.1e3, 2.4e3, 1e4])
    states = found(board, {("R", "resistance"): ohms}, ohms.size, directions=0)
    assert numbers(states) == [3, 3, 1, 1]
    on = states.points.of("T", "state")
    for k in range(states.points.count):
        edge = 0.01 < on[k] < 0.99
        assert states.verdict[k] == ("unstable" if edge else "stable")


def test_a_comparator_with_hysteresis() -> None:
    # Three equal resistors: the threshold lies at a third or two thirds of the supply.
    board = Board().source("VCC", "VCC", 10.0).source("VS", "S", 5.0)
    board.resistor("R1", "VCC", "P", 1e5).resistor("R2", "P", GROUND, 1e5)
    board.resistor("R3", "P", "OUT", 1e5).resistor("RP", "VCC", "OUT", 1e3)
    pins = {"plus": "P", "minus": "S", "output": "OUT", **POWERED}
    board.part("C", "comparator", pins, input_range_high=0.0, bias_current=0.0)
    volts = np.array([2.9, 3.9, 5.0, 6.4, 7.1])
    states = found(board, {("VS", "voltage"): volts}, volts.size, directions=0)
    assert numbers(states) == [1, 3, 3, 3, 1]
    assert (states.balance == 1.0).all()
    on = states.points.of("C", "state")
    assert on[states.of(0)] == pytest.approx([1.0], abs=1e-3)
    assert on[states.of(4)] == pytest.approx([0.0], abs=1e-3)
    inside = states.of(2)[np.argsort(on[states.of(2)])]
    assert [states.verdict[k] for k in inside] == ["stable", "unstable", "stable"]


class TestTunnelDiodes:
    def test_textbook_circuit(self) -> None:
        # Khalil, Nonlinear Systems: E = 1.2 V, R = 1.5 kΩ, C = 2 pF, L = 5 µH. Equilibria at
        # 0.063, 0.285 and 0.884 V: a stable node, a saddle, a stable node, with eigenvalues
        # -3.57 and -0.33, 1.77 and -0.25, -1.33 and -0.4 per nanosecond (from memory).
        board = IdealBoard().source("V", "IN", 1.2).resistor("R", "IN", "M", 1.5e3)
        board.put("L", IdealInductor(), "M OUT", inductance=5e-6)
        board.put("D", TunnelDiode(), "OUT 0")
        states = found(board.put("C", IdealCapacitor(), "OUT 0", capacitance=2e-12))
        volts = states.points.potential("OUT")
        order = np.argsort(volts)
        assert volts[order] == pytest.approx([0.063, 0.285, 0.884], abs=1e-3)
        assert [states.verdict[k] for k in order] == ["stable", "unstable", "stable"]
        value = np.sort(poles(linearise(quiescent(states.points))).value.real, axis=1)[:, :2]
        wanted = 1e9 * np.array([[-3.57, -0.33], [-0.25, 1.77], [-1.33, -0.4]])
        assert value[order] == pytest.approx(wanted, rel=0.03)

    def test_two_in_series_have_up_to_nine(self) -> None:
        # Counted by sign changes of one equation on a fine grid: the first diode's voltage gives
        # the current, what is left of the source is the second one's.
        rng = np.random.default_rng(7)
        many = 16
        source, ohms = rng.uniform(0.5, 3.0, many), 10.0 ** rng.uniform(2.5, 3.6, many)
        board = IdealBoard().source("V", "IN", 1.0).resistor("R", "IN", "A", 1e3)
        for ref, nets in (("1", "A B"), ("2", "B 0")):
            board.put(f"D{ref}", TunnelDiode(), nets)
            board.put(f"C{ref}", IdealCapacitor(), nets, capacitance=2e-12)
        states = found(board, {("V", "voltage"): source, ("R", "resistance"): ohms}, many)
        wanted = [_crossings(*each) for each in zip(source, ohms, strict=True)]
        assert numbers(states) == wanted
        assert set(wanted) >= {1, 3, 5, 9}
        assert (states.balance == 1.0).all()


def _crossings(source: float, ohms: float) -> int:
    volts = np.linspace(-1.0, 3.0, 400_001)
    current = polynomial.polyval(volts, TUNNEL)
    left = source - ohms * current - volts
    off = polynomial.polyval(left, TUNNEL) - current
    return int(np.count_nonzero(np.diff(np.sign(off))))


class TestSigns:
    def test_what_gives_power_without_bound_is_told(self) -> None:
        # i = k v² behind a source: R k v² + v = E has one root of either sign, and they cancel.
        board = IdealBoard().source("V", "IN", 5.0).resistor("R", "IN", "OUT", 100.0)
        board.put("S", SquareLaw(), "OUT 0", curvature=0.01)
        states = found(board.resistor("RL", "OUT", GROUND, 1e9))
        root = np.sqrt(1.0 + 4.0 * 100.0 * 0.01 * 5.0)
        wanted = (-1.0 + np.array([-root, root])) / (2.0 * 100.0 * 0.01)
        volts = states.points.potential("OUT")
        assert np.sort(volts) == pytest.approx(wanted, rel=1e-6)
        assert states.balance.tolist() == [0.0]
        assert "at least 1 more must exist, unless a part gives" in states.completeness(0)
        assert [states.verdict[k] for k in np.argsort(volts)] == ["unstable", "stable"]

    def test_hold_where_an_input_is_solved_for(self) -> None:
        # A rheostat that sets its own voltage, rising or falling with it, in reach or not.
        for low, slope in ((False, 1.0), (True, -1.0)):
            ends = ("OUT", GROUND) if low else ("IN", "OUT")
            others = ("IN", "OUT") if low else ("OUT", GROUND)
            board = Board().source("V", "IN", 10.0).rheostat("P", *ends, 1e3)
            board.resistor("R", *others, 1e3).aim("P", "position", "OUT")
            wanted = np.array([3.0, 6.0])
            states = found(board, aimed("P", "position", wanted, slope), 2, spread=0, directions=0)
            assert numbers(states) == [1, 1]
            assert states.sign.tolist() == [1.0, 1.0]
            reached = states.points.potential("OUT")
            assert reached == pytest.approx([3.0, 5.0] if low else [5.0, 6.0], abs=0.02)

    def test_of_random_matrices_of_all_sizes(self) -> None:
        rng = np.random.default_rng(3)
        matrices = rng.standard_normal((200, 6, 6))
        scales = 10.0 ** rng.uniform(-6.0, 6.0, (2, 200, 6))
        scaled = scales[0, :, :, None] * matrices * scales[1, :, None, :]
        assert determinant_signs(scaled) == pytest.approx(np.sign(np.linalg.det(matrices)))

    def test_of_singular_ones_is_not_known(self) -> None:
        rng = np.random.default_rng(4)
        matrices = rng.standard_normal((20, 5, 5))
        matrices[:, 4] = matrices[:, :4].sum(axis=1)
        matrices[3] = np.nan
        assert not determinant_signs(matrices).any()


def test_a_lane_without_a_solution_is_told() -> None:
    board = Board().source("V", "IN", 10.0).resistor("R1", "IN", "OUT", 1e3)
    board.resistor("R2", "OUT", GROUND, 1e3)
    states = found(board, {("R1", "resistance"): np.array([np.nan, 1e3])}, 2)
    assert numbers(states) == [0, 1]
    assert states.completeness(0).startswith("No steady state was found. Tried: ")
    nothing = found(board, {("R1", "resistance"): np.nan})
    assert nothing.points.count == 0
    assert nothing.verdict == ()


def test_a_negative_resistance_where_nothing_is_stored() -> None:
    # -1 mS against 2 mS: a capacitor across it discharges. Against 0.5 mS it charges.
    board = IdealBoard().source("V", "IN", 1.0).resistor("RB", "IN", GROUND, 100.0)
    board.resistor("R", "IN", "OUT", 500.0)
    board.resistor("N", "OUT", GROUND, -1e3)
    states = found(board, {("R", "resistance"): np.array([500.0, 2e3])}, 2)
    assert states.verdict == ("stable", "unstable")
    assert states.sign.tolist() == [1.0, -1.0]


def test_gain_where_nothing_is_stored_is_left_undecided() -> None:
    # An amplifier stage absorbs no power at its base and collector, and nothing else can tell.
    board = IdealBoard().source("V", "IN", 1.0).resistor("R1", "IN", "A", 1e3)
    board.resistor("R2", "A", GROUND, 1e3).resistor("R3", "IN", "B", 1e3)
    board.put("G", Transconductance(), "A 0 B 0", slope=-0.1)
    states = found(board, directions=0)
    assert states.verdict == ("undecided",)
    assert states.because == ("nothing is stored that could tell",)
    assert not states.stable.any()
