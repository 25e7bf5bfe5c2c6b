"""Frequency responses: against closed forms, scipy, dense solving of our own stamps, physics."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from engine.example_circuits import EXAMPLES, adjustable_regulator, crowbar, zener_shunt
from engine.ideal_parts import (
    BentCapacitor,
    IdealAmplifier,
    IdealBoard,
    IdealCapacitor,
    IdealInductor,
    IdealSource,
    SwitchCell,
    Transconductance,
)
from engine.textbook_circuits import (
    at_rest,
    butterworth_ladder,
    first_of_two_unsolved,
    series_circuit,
)
from numpy.typing import NDArray
from published import Row, published
from scipy import signal

from railwright.engine import linear_kernel as linear_kernel_module
from railwright.engine import processor, reference, storage
from railwright.engine.linear import Linear, linearise
from railwright.engine.operating_point import operating_point
from railwright.engine.poles import poles
from railwright.engine.ports import Given, Injected, NoSuchPort, Observed, Potential
from railwright.engine.quiescent import quiescent
from railwright.engine.response import output_impedance, response
from railwright.engine.system import trace

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
FREQUENCIES = np.geomspace(1.0, 1e7, 57)


def from_source(linear: Linear, frequencies: Array = FREQUENCIES, net: str = "OUT") -> Complex:
    return response(linear, Given("V", "voltage"), Potential(net, GROUND), frequencies).value


class TestAgainstScipy:
    def test_series_circuit(self) -> None:
        found = from_source(at_rest(series_circuit()))[0]
        _, wanted = signal.freqs([1.0], [1e-8, 1e-4, 1.0], 2 * np.pi * FREQUENCIES)
        assert found == pytest.approx(wanted, rel=1e-12)

    @pytest.mark.parametrize("quality", [0.5, 1 / np.sqrt(2), 5.0])
    def test_filter_with_an_amplifier(self, quality: float) -> None:
        # Second-order low-pass of a follower, two resistors and two capacitors (Sallen and Key
        # 1955): equal resistors, capacitors in the ratio 4 Q².
        ohms, farads = 1e4, 1e-9
        board = IdealBoard().put("V", IdealSource(), "IN 0")
        board.resistor("R1", "IN", "A", ohms).resistor("R2", "A", "B", ohms)
        board.put("C1", IdealCapacitor(), "A OUT", capacitance=4 * quality**2 * farads)
        board.put("C2", IdealCapacitor(), "B 0", capacitance=farads)
        board.put("A1", IdealAmplifier(), "B OUT OUT 0", gain=1e12, pole=1e3)
        corner = 1.0 / (2.0 * quality * ohms * farads)
        found = from_source(at_rest(board))[0]
        _, wanted = signal.freqs(
            [corner**2], [1.0, corner / quality, corner**2], 2 * np.pi * FREQUENCIES
        )
        assert found == pytest.approx(wanted, rel=1e-6)

    def test_ladder_of_the_normal_form(self) -> None:
        corner, frequencies = 2 * np.pi * 1e4, np.geomspace(1e2, 1e6, 41)
        found = from_source(at_rest(butterworth_ladder(corner)), frequencies, "N2")[0]
        polynomial = signal.butter(5, corner, analog=True)
        _, wanted = signal.freqs(*polynomial, 2 * np.pi * frequencies)
        assert found == pytest.approx(0.5 * wanted, rel=1e-9)


@dataclass
class Stamps:
    """A random circuit, in the engine and in stamps of our own (Ho, Ruehli and Brennan 1975)."""

    board: IdealBoard
    lanes: dict[tuple[str, str], Array]
    nodes: int
    branches: list[tuple[str, str, int, int]]
    controlled: list[tuple[str, int, int, int]]

    @classmethod
    def random(cls, seed: int, lanes: int, active: bool = True) -> Stamps:
        rng = np.random.default_rng(seed)
        nodes = int(rng.integers(4, 8))
        circuit = cls(IdealBoard(), {}, nodes, [], [])
        pairs = [(i, i - 1) for i in range(1, nodes + 1)]
        pairs += [tuple(rng.choice(nodes + 1, 2, replace=False)) for _ in range(nodes)]
        for number, (one, two) in enumerate(pairs):
            kind = "R" if number % 3 == 0 else rng.choice(["R", "L", "C"])
            circuit._branch(f"{kind}{number}", str(kind), int(one), int(two), rng, lanes)
        for number in range(2 if active else 0):
            plus, minus, out = (int(n) for n in rng.choice(nodes + 1, 3, replace=False))
            circuit._control(f"G{number}", plus, minus, out, rng, lanes)
        return circuit

    def _branch(
        self, ref: str, kind: str, one: int, two: int, rng: np.random.Generator, lanes: int
    ) -> None:
        size = 10.0 ** rng.uniform(0, 3, lanes)
        nets = f"{one} {two}"
        if kind == "R":
            self.board.resistor(ref, str(one), str(two), 1.0)
            self.lanes[ref, "resistance"] = size
        elif kind == "L":
            self.board.put(ref, IdealInductor(), nets)
            self.lanes[ref, "inductance"] = 1e-6 * size
        else:
            self.board.put(ref, IdealCapacitor(), nets)
            self.lanes[ref, "capacitance"] = 1e-9 * size
        self.branches.append((kind, ref, one, two))

    def _control(
        self, ref: str, plus: int, minus: int, out: int, rng: np.random.Generator, lanes: int
    ) -> None:
        self.board.put(ref, Transconductance(), f"{plus} {minus} {out} 0")
        self.lanes[ref, "slope"] = rng.uniform(-0.02, 0.02, lanes)
        self.controlled.append((ref, plus, minus, out))

    def admittance(self, kind: str, ref: str, lane: int, s: complex) -> complex:
        names = {"R": "resistance", "L": "inductance", "C": "capacitance"}
        value = self.lanes[ref, names[kind]][lane]
        return {"R": 1.0 / value, "L": 1.0 / (s * value), "C": s * value}[kind]

    def impedance(self, lane: int, frequency: float, into: int, at: int) -> complex:
        """Voltage at a node per ampere into another."""
        s = 2j * np.pi * frequency
        y = np.zeros((self.nodes + 1, self.nodes + 1), complex)
        for kind, ref, one, two in self.branches:
            own = self.admittance(kind, ref, lane, s)
            y[[one, two], [one, two]] += own
            y[[one, two], [two, one]] -= own
        for ref, plus, minus, out in self.controlled:
            y[out, plus] -= self.lanes[ref, "slope"][lane]
            y[out, minus] += self.lanes[ref, "slope"][lane]
        current = np.zeros(self.nodes, complex)
        current[into - 1] = 1.0
        return complex(np.linalg.solve(y[1:, 1:], current)[at - 1])


@pytest.mark.parametrize("seed", range(20))
def test_random_circuits_against_dense_solving(seed: int) -> None:
    """Twenty circuits of ten variants each."""
    circuit = Stamps.random(seed, 10)
    linear = at_rest(circuit.board, circuit.lanes, 10)
    frequencies = np.geomspace(1e2, 1e8, 13)
    into, at = circuit.nodes, max(1, circuit.nodes - 2)
    found = response(linear, Injected(str(into), GROUND), Potential(str(at), GROUND), frequencies)
    assert found.solved.all()
    wanted = np.array(
        [[circuit.impedance(lane, f, into, at) for f in frequencies] for lane in range(10)]
    )
    scale = np.abs(wanted).max(axis=1, keepdims=True)
    assert (np.abs(found.value - wanted) / (np.abs(wanted) + 1e-6 * scale)).max() < 1e-9


@pytest.mark.parametrize("seed", range(5))
def test_passive_networks_keep_complex_power(seed: int) -> None:
    """What is driven in equals what all branches take (Tellegen 1952)."""
    circuit = Stamps.random(100 + seed, 6, active=False)
    linear = at_rest(circuit.board, circuit.lanes, 6)
    frequencies = np.geomspace(1e3, 1e7, 9)
    port = Injected(str(circuit.nodes), GROUND)

    def across(one: int, two: int) -> Complex:
        return response(linear, port, Potential(str(one), str(two)), frequencies).value

    given = across(circuit.nodes, 0)
    taken = np.zeros_like(given)
    for kind, ref, one, two in circuit.branches:
        admittance = np.array(
            [
                [circuit.admittance(kind, ref, lane, 2j * np.pi * f) for f in frequencies]
                for lane in range(6)
            ]
        )
        voltage = across(one, two)
        taken += voltage * np.conj(admittance * voltage)
    assert taken == pytest.approx(given, rel=1e-9)
    assert (given.real >= 0).all()


@pytest.mark.parametrize("width", [2, 4, 8])
def test_every_width(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    circuit = Stamps.random(3, 11)
    port, seen = Injected("1", GROUND), Potential(str(circuit.nodes), GROUND)
    wanted = response(at_rest(circuit.board, circuit.lanes, 11), port, seen, FREQUENCIES)
    monkeypatch.setenv(processor.WIDTH_VARIABLE, str(width))
    monkeypatch.setattr(linear_kernel_module, "_loaded", {})
    linear = at_rest(circuit.board, circuit.lanes, 11)
    assert linear.kernel.width == width
    found = response(linear, port, seen, FREQUENCIES)
    assert found.solved.all()
    assert found.value == pytest.approx(wanted.value, rel=1e-9)


@pytest.mark.parametrize("name", EXAMPLES)
def test_compiled_slopes_are_those_of_the_reference(name: str) -> None:
    rest = quiescent(EXAMPLES[name]().solve())
    linear = linearise(rest)
    found = rest.model.parameters(trace(rest.model.topology).parameters, rest.lanes)
    _, wanted = reference.linearised(rest.model.topology, rest.x, found)
    size = np.abs(wanted).max(axis=2, keepdims=True)
    assert (np.abs(linear.matrices[0] - wanted) / size).max() < 1e-9


class TestAtRest:
    """At 0 Hz a response is how far the operating point moves."""

    @pytest.mark.parametrize(
        ("name", "given", "step"),
        [
            ("adjustable_regulator", Given("V", "voltage"), 1e-3),
            ("adjustable_regulator", Given("LD", "current"), 1e-4),
            ("amplified_pass_transistor", Given("VR", "voltage"), 1e-5),
            ("zener_shunt", Given("R", "resistance"), 1e-2),
        ],
    )
    def test_moves_as_operating_points_do(self, name: str, given: Given, step: float) -> None:
        board = EXAMPLES[name]()
        held = quiescent(board.solve())
        found = response(linearise(held), given, Potential("OUT", GROUND), [0.0]).value[0, 0]
        resting = board.nominal[given.ref, given.name]
        lanes: dict[tuple[str, str], Any] = {
            name: float(np.ravel(value)[0]) for name, value in held.lanes.items()
        }
        lanes[given.ref, given.name] = resting + step * np.array([-1.0, 1.0])
        moved = operating_point(held.model, lanes, 2).potential("OUT")
        assert found.imag == 0.0
        assert found.real == pytest.approx((moved[1] - moved[0]) / (2 * step), rel=1e-4)

    def test_observables_have_their_own_part_in_it(self) -> None:
        board = Board().source("V", "IN", 5.0).resistor("R", "IN", GROUND, 50.0)
        linear = linearise(quiescent(board.solve()))
        found = response(linear, Given("R", "resistance"), Observed("R", "power"), [0.0])
        assert found.unit == "W"
        assert found.value[0, 0].real == pytest.approx(-25.0 / 2500.0, rel=1e-4)


def test_an_input_that_acts_through_a_charge() -> None:
    board = IdealBoard().put("C", BentCapacitor(), "OUT 0", capacitance=1e-6, bend=1e9)
    linear = at_rest(board.resistor("R", "OUT", GROUND, 1e3))
    found = response(linear, Given("C", "shift"), Potential("OUT", GROUND), FREQUENCIES).value[0]
    s = 2j * np.pi * FREQUENCIES
    assert found == pytest.approx(-s * 1e-3 / (1.0 + s * 1e-3), rel=1e-9)


def test_capacitance_is_that_of_the_operating_point() -> None:
    board = IdealBoard().put("V", IdealSource(), "IN 0", voltage=4.0)
    board.resistor("R", "IN", "OUT", 1e3)
    board.put("C", BentCapacitor(), "OUT 0", capacitance=1e-6, bend=8.0)
    linear = linearise(quiescent(board.solve()))
    found = output_impedance(linear, "OUT", GROUND, FREQUENCIES)
    farads = 1e-6 * (1.0 + 2.0 * 4.0 / 8.0)
    wanted = 1.0 / (1e-3 + 2j * np.pi * FREQUENCIES * farads)
    assert found.unit == "V"
    assert found.value[0] == pytest.approx(wanted, rel=1e-8)


class TestDoubtfulLanes:
    def board(self) -> IdealBoard:
        """Two nets joined by a conductance, each driven by the other's amplifier."""
        board = IdealBoard().resistor("R1", "A", GROUND, 1.0).resistor("R2", "B", GROUND, 1.0)
        board.put("G1", Transconductance(), "B 0 A 0").resistor("R3", "A", "B", 1.0)
        return board.put("G2", Transconductance(), "A 0 B 0")

    def test_are_redone_with_row_exchanges(self, monkeypatch: pytest.MonkeyPatch) -> None:
        redone: list[int] = []
        whole = Linear._exchanging_rows

        def noted(self: Linear, lane: int, *rest: Array) -> Complex | None:
            redone.append(lane)
            return whole(self, lane, *rest)

        monkeypatch.setattr(Linear, "_exchanging_rows", noted)
        # In lane 3 the entry that serves as pivot in all samples is nil: the resistors cancel
        # there. In lane 1 rounding is left of it, which refinement may make up for.
        ohms = np.array([1.0, -0.5 * (1.0 + 1e-15), 2.0, -0.5, 1.0])
        slope = np.full(5, 0.1)
        lanes = {
            ("R1", "resistance"): ohms,
            ("R3", "resistance"): np.full(5, 0.5),
            ("G1", "slope"): slope,
            ("G2", "slope"): slope,
        }
        samples = {**lanes, ("R1", "resistance"): np.ones(5)}
        at_rest(self.board(), samples, 5)  # the order of elimination is chosen on these
        linear = at_rest(self.board(), lanes, 5)
        found = output_impedance(linear, "A", GROUND, [0.0, 1e3])
        assert found.solved.all()
        y = np.empty((5, 2, 2))
        for lane, r1 in enumerate(ohms):
            y[lane] = [[1 / r1 + 2.0, -2.1], [-2.1, 3.0]]
        assert found.value.real[:, 0] == pytest.approx(np.linalg.inv(y)[:, 0, 0], rel=1e-9)
        assert redone[-1] == 3
        assert set(redone) <= {1, 3}

    def test_without_a_solution_are_not_solved(self) -> None:
        board = self.board()
        # 2 S on the diagonal, -1 S less the slope beside it: singular with a slope of 1 S.
        slope = np.array([0.0, 1.0])
        linear = at_rest(board, {("G1", "slope"): slope, ("G2", "slope"): slope}, 2)
        found = output_impedance(linear, "A", GROUND, [0.0])
        assert found.solved.tolist() == [True, False]
        assert np.isnan(found.value[1]).all()

    def test_without_an_operating_point_are_not_solved(self) -> None:
        linear = first_of_two_unsolved(zener_shunt(), ("R", "resistance"), (3e2, 4e2))
        found = output_impedance(linear, "OUT", GROUND, [1.0])
        assert found.solved.tolist() == [False, True]
        assert np.isnan(found.value[0]).all()
        assert np.isfinite(found.value[1]).all()


class TestMistakes:
    linear = staticmethod(lambda: at_rest(series_circuit()))

    @pytest.mark.parametrize(
        ("ask", "words"),
        [
            (lambda c: output_impedance(c, "NOPE", "0", [1.0]), "no net NOPE; wanted is one of 0"),
            (lambda c: response(c, Given("R", "size"), Potential("A", "0"), [1.0]), "resistance"),
            (lambda c: response(c, Given("X", "size"), Potential("A", "0"), [1.0]), "such a part"),
            (lambda c: response(c, Given("R", "resistance"), Observed("R", "x"), [1.0]), "power"),
        ],
    )
    def test_tell_what_there_is(self, ask: Callable[[Linear], object], words: str) -> None:
        with pytest.raises(NoSuchPort, match=words):
            ask(self.linear())

    @pytest.mark.parametrize("wrong", [[], [-1.0], [np.nan], [[1.0]]])
    def test_frequencies(self, wrong: list[float]) -> None:
        with pytest.raises(ValueError, match="list of frequencies in Hz"):
            output_impedance(self.linear(), "A", "0", wrong)

    def test_temperatures_are_held(self) -> None:
        linear = linearise(quiescent(adjustable_regulator().solve()))
        with pytest.raises(NoSuchPort, match="TAB is a temperature, which is held"):
            output_impedance(linear, "TAB", GROUND, [1.0])

    def test_nothing_to_linearise(self) -> None:
        points = zener_shunt().solve()
        points.solved[:] = False
        with pytest.raises(ValueError, match="none of the lanes"):
            linearise(quiescent(points))


def buck_boost() -> Linear:
    """The textbook's buck-boost stage: D = 0.6 from 30 V, ideal switch."""
    board = IdealBoard().put("V", IdealSource(), "IN 0", voltage=30.0)
    board.put("D", IdealSource(), "CTL 0", voltage=0.6)
    board.put("S", SwitchCell(), "IN OUT X CTL 0", ramp=1.0)
    board.put("L", IdealInductor(), "X 0", inductance=160e-6)
    board.put("C", IdealCapacitor(), "OUT 0", capacitance=160e-6)
    return linearise(quiescent(board.resistor("R", "OUT", GROUND, 10.0).solve()))


@pytest.mark.parametrize("row", published("buck-boost stage"), ids=str)
def test_buck_boost(row: Row) -> None:
    linear = buck_boost()
    natural = poles(linear)
    low = np.array([0.0])
    duty = response(linear, Given("D", "voltage"), Potential("OUT", "0"), low).value[0, 0]
    match row.inputs["of"]:
        case "line gain":
            found = response(linear, Given("V", "voltage"), Potential("OUT", "0"), low).magnitude
        case "duty gain":
            found = abs(duty)
        case "corner":
            found = natural.frequency[0, 0]
        case "quality":
            found = 0.5 / natural.damping[0, 0]
        case "zero":
            # What is left of the response without its poles is 1 - j f / f_zero.
            f = np.array([5e3])
            s, (one, two) = 2j * np.pi * f[0], natural.value[0]
            whole = response(linear, Given("D", "voltage"), Potential("OUT", "0"), f).value[0, 0]
            left = whole / duty * (1.0 - s / one) * (1.0 - s / two)
            assert left.real == pytest.approx(1.0, rel=1e-6)
            found = -f[0] / left.imag
    assert found == row.expected_within_its_tolerance


def input_filter(damped: bool) -> Linear:
    board = IdealBoard().put("V", IdealSource(), "IN 0")
    board.put("L", IdealInductor(), "IN OUT", inductance=330e-6)
    board.put("C", IdealCapacitor(), "OUT 0", capacitance=470e-6)
    if damped:
        board.put("CB", IdealCapacitor(), "OUT B", capacitance=1183.99e-6)
        board.resistor("RF", "B", GROUND, 0.665741)
    return at_rest(board)


@pytest.mark.parametrize("row", published("input filter"), ids=str)
def test_input_filter(row: Row) -> None:
    grid = np.geomspace(10.0, 1e4, 2001)
    match row.inputs["of"]:
        case "corner":
            found = poles(input_filter(False)).frequency[0, 0]
        case "characteristic impedance":
            # Where the coil's reactance alone is met: far below the corner Z = jωL.
            z = output_impedance(input_filter(False), "OUT", GROUND, [1.0]).value[0, 0]
            corner = poles(input_filter(False)).frequency[0, 0]
            found = z.imag * corner
        case "peak":
            found = output_impedance(input_filter(True), "OUT", GROUND, grid).magnitude.max()
        case "converter":
            # The buck converter, its output held: what its input draws falls as it rises.
            drawn = response(held_buck(), Given("V", "voltage"), Observed("V", "current"), [0.0])
            found = -1.0 / drawn.value[0, 0].real
    assert found == row.expected_within_its_tolerance


def held_buck() -> Linear:
    """A stage of D = 0.5 whose duty an amplifier sets so that the output stays."""
    board = IdealBoard().put("V", IdealSource(), "IN 0", voltage=12.0)
    board.put("REF", IdealSource(), "REF 0", voltage=6.0)
    board.put("S", SwitchCell(), "IN 0 X CTL 0", ramp=1.0)
    board.put("L", IdealInductor(), "X OUT", inductance=1e-4)
    board.put("A", IdealAmplifier(), "REF OUT CTL 0", gain=1e9, pole=1.0)
    return linearise(quiescent(board.resistor("R", "OUT", GROUND, 3.0).solve()))


class TestKeeping:
    @pytest.fixture(autouse=True)
    def own_folder(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
        monkeypatch.setenv(storage.FOLDER_VARIABLE, str(tmp_path))
        monkeypatch.setattr(linear_kernel_module, "_loaded", {})
        return tmp_path

    def test_compiled_once_and_then_found_on_disk(
        self, own_folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        rest = at_rest(series_circuit()).rest
        assert len(list(own_folder.iterdir())) == 1
        told: list[str] = []
        linearise(rest, told.append)
        monkeypatch.setattr(linear_kernel_module, "_loaded", {})
        found = linearise(rest, told.append)
        assert told == []
        assert from_source(found, np.array([0.0]))[0, 0] == pytest.approx(1.0)

    def test_what_is_damaged_is_compiled_anew(
        self, own_folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        rest = at_rest(series_circuit()).rest
        (file,) = own_folder.iterdir()
        file.write_bytes(file.read_bytes()[:-100])
        monkeypatch.setattr(linear_kernel_module, "_loaded", {})
        told: list[str] = []
        found = linearise(rest, told.append)
        assert told == ["compiling the linearised equations of 4 parts"]
        assert from_source(found, np.array([0.0]))[0, 0] == pytest.approx(1.0)


def test_a_blocked_junction_needs_no_row_exchanges(monkeypatch: pytest.MonkeyPatch) -> None:
    """An output listens to what it cannot reach with 1e-60: rounding there is no doubt."""
    monkeypatch.setattr(Linear, "_exchanging_rows", lambda *_: pytest.fail("rows exchanged"))
    linear = linearise(quiescent(crowbar().solve()))
    found = output_impedance(linear, "IN", GROUND, FREQUENCIES)
    conductive, storing = linear.matrices
    place = linear.topology.index["IN", ""]
    driven = np.eye(linear.system.size)[place]
    whole = conductive + 2j * np.pi * FREQUENCIES[:, None, None] * storing
    wanted = np.linalg.solve(whole, np.broadcast_to(driven[:, None], (57, driven.size, 1)))
    assert found.value[0] == pytest.approx(wanted[:, place, 0], rel=1e-9)
