"""The charge pump that inverts: worked examples, its cycle solved another way, its means."""

from __future__ import annotations

import numpy as np
import pytest
from circuits import GROUND, Board
from published import Row, published
from scipy.linalg import expm

from railwright.engine import face
from railwright.engine.cycle import Cycle, cycle
from railwright.engine.quiescent import quiescent
from railwright.engine.transient import Tolerance
from railwright.standards.charge_pump import output_resistance, ripple

TYPE = "7660 type 20 mA"
PINS = {
    "input": "IN",
    "ground": GROUND,
    "cap_plus": "PLUS",
    "cap_minus": "MINUS",
    "output": "OUT",
}
VOLTS, PUMPS, SWITCHES = 5.0, 5e3, 23.0
EXACT = Tolerance(1e-7, 1e-9)


def pump(
    load: float = 10e-3,
    flying: float = 10e-6,
    esr: float = 1.0,
    held: float | None = None,
    **values: float,
) -> Board:
    """A 7660 type on 5 V with a load in amperes; held: the output capacitor, the same if None."""
    board = Board().source("V", "IN", VOLTS, resistance=1e-6, current_limit=10.0)
    board.use("U", TYPE, PINS, **values)
    for ref, (plus, minus), farads in (
        ("C1", ("PLUS", "MINUS"), flying),
        ("C2", (GROUND, "OUT"), flying if held is None else held),
    ):
        ends = {"plus": plus, "minus": minus}
        board.part(ref, "capacitor", ends, capacitance=farads, esr=esr, leakage=0.0)
    return board.load("LD", GROUND, load, minus="OUT")


def cycles(board: Board, phases: int = 256) -> Cycle:
    rest = quiescent(board.solve(), switched=True)
    how = {"clock": ("U", "tick"), "phases": phases, "tolerance": EXACT}
    return cycle(rest.model, rest.lanes, rest.count, rest.x, **how)


def exact(load: float, flying: float, held: float, esr: float, switches: float) -> np.ndarray:
    """The output over a cycle, by matrix exponentials of both halves [V].

    States: voltage of the flying capacitor, and of the one at the output below ground.
    """
    pair, steps = 0.5 * switches, 2000
    step = 0.5 / PUMPS / steps
    # First half: the source charges C1, the load empties C2.
    loop = pair + esr
    first = np.array([[-1 / (loop * flying), 0, VOLTS / (loop * flying)], [0, 0, -load / held]])
    # Second half: i = (v1 - v2 + I esr) / (pair + 2 esr) flows from C1; C2 takes i - I.
    whole = pair + 2 * esr
    row = np.array([1.0, -1.0, load * esr]) / whole
    second = np.array([-row / flying, (row - [0.0, 0.0, load]) / held])
    halves = [expm(np.vstack([a, np.zeros(3)]) * step) for a in (first, second)]
    over = np.linalg.matrix_power(halves[1], steps) @ np.linalg.matrix_power(halves[0], steps)
    start = np.append(np.linalg.solve(np.eye(2) - over[:2, :2], over[:2, 2]), 1.0)
    seen = []
    for half, matrix in enumerate(halves):
        for _ in range(steps):
            start = matrix @ start
            into = row @ start - load if half else -load
            seen.append(start[1] + esr * into)
    return -np.array(seen)


@pytest.mark.parametrize("row", published("output resistance of a charge pump"), ids=str)
def test_first_order_as_in_the_datasheets_example(row: Row) -> None:
    assert output_resistance(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("measured output resistance of a charge pump"), ids=str)
def test_output_resistance_of_the_table(row: Row) -> None:
    board = pump(flying=row.inputs["flying"], esr=row.inputs["esr"])
    found = board.solve().of("U", "output_resistance")[0]
    assert found == row.expected_within_its_tolerance


def test_the_greatest_of_its_spread_is_the_guaranteed_one() -> None:
    """120 Ω over temperature at 20 mA, with 10 µF (datasheet table of the 7660 type)."""
    values = {"switch_resistance": 47.5}
    assert output_resistance(47.5, PUMPS, 10e-6, 1.0, 1.0) == pytest.approx(120.0)
    assert pump(**values).solve().of("U", "output_resistance")[0] < 120.0


@pytest.mark.parametrize(
    ("flying", "switches", "within"), [(1e-3, 23.0, 1e-3), (10e-6, 1.0, 0.02), (10e-6, 23.0, 0.3)]
)
def test_first_order_is_an_upper_bound_and_both_limits(
    flying: float, switches: float, within: float
) -> None:
    """No time to charge, all the time, and between both (Kimball, Krein and Cahill)."""
    board = pump(flying=flying, esr=1e-3, switch_resistance=switches)
    found = board.solve().of("U", "output_resistance")[0]
    largest = max(2.0 * switches, 1.0 / (PUMPS * flying))
    bound = output_resistance(switches, PUMPS, flying, 1e-3, 1e-3)
    assert largest <= found <= bound
    assert found == pytest.approx(largest, rel=within + 0.1 * (within > 0.1))


@pytest.mark.parametrize(
    ("load", "flying", "held", "esr"),
    [(10e-3, 10e-6, 10e-6, 1.0), (20e-3, 10e-6, 100e-6, 0.5), (5e-3, 2.2e-6, 22e-6, 0.1)],
)
def test_the_cycle_is_that_of_matrix_exponentials(
    load: float, flying: float, held: float, esr: float
) -> None:
    quiet = {"quiescent_current": 0.0}
    found = cycles(pump(load, flying, esr, held, **quiet)).potential("OUT")[0]
    wanted = exact(load, flying, held, esr, SWITCHES)
    assert found[:-1].mean() == pytest.approx(wanted.mean(), abs=1e-3 * load * 60.0 + 3e-4)
    assert np.ptp(found) == pytest.approx(np.ptp(wanted), rel=0.02)


def test_ripple_of_the_datasheet() -> None:
    """I (1/(2 f C2) + 2 ESR2), for a flying capacitor that does not have the time to be emptied."""
    board = pump(10e-3, 470e-6, 0.5, 47e-6)
    found = np.ptp(cycles(board, 1024).potential("OUT")[0])
    assert found == pytest.approx(ripple(10e-3, PUMPS, 47e-6, 0.5), rel=0.02)


@pytest.mark.parametrize("flying", [2.2e-6, 10e-6, 100e-6])
def test_means_are_those_of_the_cycles(flying: float) -> None:
    loads = np.array([1e-3, 5e-3, 10e-3, 20e-3])
    board = pump(flying=flying, held=100e-6)
    points = board.solve({("LD", "current"): loads}, loads.size)
    rest = quiescent(points, switched=True)
    how = {"clock": ("U", "tick"), "phases": 512, "tolerance": EXACT}
    found = cycle(rest.model, rest.lanes, rest.count, rest.x, **how)
    assert found.lasts.all()
    fell = VOLTS + found.potential("OUT")[:, :-1].mean(axis=1)
    assert VOLTS + points.potential("OUT") == pytest.approx(fell, rel=0.03)
    # The heat is as much where the capacitors' share of it is counted.
    heat = points.of("U", "power")
    parts = [found.of(ref, "power")[:, :-1].mean(axis=1) for ref in ("U", "C1", "C2")]
    assert heat == pytest.approx(sum(parts), rel=0.03, abs=1e-5)


def test_it_gives_no_more_than_it_takes() -> None:
    found = pump(20e-3).solve()
    given = -20e-3 * found.potential("OUT")[0]
    own = found.of("U", "power")[0]
    taken = VOLTS * (20e-3 + 80e-6)
    assert given + own == pytest.approx(taken, rel=2e-3)


def test_without_its_capacitor_it_gives_nothing() -> None:
    """An open joint of the flying capacitor, or one that has lost all of it."""
    board = pump(1e-3)
    joints = [("C1", "plus"), ("U", "cap_minus"), ("U", "output")]
    topology = face.Topology.of(board.parts, GROUND, joints=joints)
    faults = face.single_faults(topology)
    lanes = face.one_at_a_time(faults)
    found = face.operating_point(face.Model(topology, dict(board.nominal)), lanes, len(faults) + 1)
    assert found.solved.all()
    sound, *broken = found.potential("OUT")
    assert sound < -4.9
    assert min(broken) > -0.5
    assert pump(1e-3, flying=1e-11).solve().potential("OUT")[0] > -0.5


@pytest.mark.parametrize("far", [GROUND, "OUT", "IN"])
def test_a_capacitor_that_leads_elsewhere_pumps_nothing(far: str) -> None:
    board = Board().source("V", "IN", VOLTS, resistance=1e-6, current_limit=10.0)
    board.use("U", TYPE, PINS).use(
        "C1", "electrolytic 10 µF 25 V low-ESR", {"plus": "PLUS", "minus": far}
    )
    board.use("C2", "electrolytic 10 µF 25 V low-ESR", {"plus": GROUND, "minus": "OUT"})
    found = board.load("LD", GROUND, 1e-3, minus="OUT").solve()
    assert found.solved.all()
    assert found.potential("OUT")[0] > -0.5


@pytest.mark.parametrize(
    "bridge",
    [("PLUS", GROUND), ("PLUS", "IN"), ("MINUS", GROUND), ("MINUS", "OUT"), ("PLUS", "MINUS")],
)
def test_a_bridge_at_the_flying_capacitor_ends_it(bridge: tuple[str, str]) -> None:
    """In the mean as cycle by cycle: the output is gone, and a switch shorts the input."""
    board = pump(1e-3)
    topology = face.Topology.of(board.parts, GROUND, bridges=[bridge])
    faults = face.single_faults(topology)
    lanes = face.one_at_a_time(faults)
    model = face.Model(topology, dict(board.nominal))
    means = face.operating_point(model, lanes, 2)
    assert means.solved.all()
    sound, broken = means.potential("OUT")
    assert sound < -4.9
    assert -0.2 < broken < 0.8
    rest = quiescent(means, switched=True)
    found = cycle(rest.model, rest.lanes, 2, rest.x, clock=("U", "tick"), tolerance=EXACT)
    assert found.potential("OUT")[1].min() > -2.0
    power = found.of("U", "power")[:, :-1].mean(axis=1)
    if "PLUS" in bridge:  # between ground and output its own capacitor limits what flows
        assert means.of("U", "power") == pytest.approx(power, rel=0.15)


def test_it_rests_below_its_least_supply() -> None:
    """1.5 V (datasheet table of the 7660 type)."""
    lanes = {("V", "voltage"): np.array([1.3, 1.7])}
    low, high = pump(1e-4).solve(lanes, 2).potential("OUT")
    assert low > -0.1
    assert high < -1.6
