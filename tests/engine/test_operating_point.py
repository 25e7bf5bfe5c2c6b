"""Operating points over lanes: each by itself, none lost, the fall-backs, what is solved for."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board, aimed, crossed
from engine.example_circuits import adjustable_regulator, amplified_pass_transistor
from engine.ideal_parts import IdealBoard, IdealInductor
from numpy.typing import NDArray
from scipy.optimize import brentq

from railwright.engine import ladders, reference
from railwright.engine import operating_point as module
from railwright.engine.assembly import AMBIENT, LEAK
from railwright.engine.kernel import kernel_for
from railwright.engine.model import MissingValue, Name, given_name
from railwright.engine.operating_point import first_order, operating_point
from railwright.engine.point_samples import point_samples
from railwright.engine.reduction import at_rest
from railwright.engine.solutions import OperatingPoints
from railwright.engine.system import trace
from railwright.engine.topology import AIR

Array = NDArray[np.float64]
ALONE = 1e-8
"""A lane comes to rest within 1e-9 of its unknowns; two ways to it may differ by twice that."""


def mixed_lanes(board: Board, rng: np.random.Generator, count: int) -> dict[Name, Any]:
    """Spread parts, inputs from too little to plenty, loads from none to overload."""
    lanes: dict[Name, Any] = {
        name: value * rng.uniform(0.9, 1.1, count)
        for name, value in board.nominal.items()
        if name[1] in ("resistance", "current_gain", "gain", "base_emitter_voltage")
    }
    lanes["VIN", "voltage"] = rng.uniform(0.0, 18.0, count)
    lanes["LD", "current"] = rng.uniform(0.0, 2.0, count)
    lanes[AMBIENT] = rng.uniform(270.0, 320.0, count)
    return lanes


def one(lanes: dict[Name, Any], lane: int) -> dict[Name, Any]:
    return {k: v[lane] if np.ndim(v) else v for k, v in lanes.items()}


def everything(points: OperatingPoints) -> Array:
    """All unknowns and observables (row, lane)."""
    seen = [points.of(*name) for name in points.observables]
    return np.concatenate([points.unknowns, np.array(seen)])


def of_lane(points: OperatingPoints, lane: int) -> Array:
    return everything(points)[:, lane]


class TestLanes:
    def test_what_two_threads_solve_at_once_is_as_one_after_the_other(self) -> None:
        board = adjustable_regulator()
        drawn = [mixed_lanes(board, np.random.default_rng(seed), 2000) for seed in range(8)]
        by_turns = [everything(operating_point(board.model, lanes, 2000)) for lanes in drawn]
        with ThreadPoolExecutor(2) as pool:
            at_once = list(pool.map(lambda a: operating_point(board.model, a, 2000), drawn))
        for alone, beside in zip(by_turns, at_once, strict=True):
            assert np.array_equal(alone, everything(beside), equal_nan=True)

    def test_a_lane_alone_is_as_among_others(self) -> None:
        board = amplified_pass_transistor()
        lanes = mixed_lanes(board, np.random.default_rng(3), 61)
        together = board.solve(lanes, 61)
        for lane in (0, 17, 60):
            alone = board.solve(one(lanes, lane))
            assert of_lane(alone, 0) == pytest.approx(of_lane(together, lane), rel=ALONE, abs=ALONE)

    def test_order_does_not_matter(self) -> None:
        board = amplified_pass_transistor()
        lanes = mixed_lanes(board, np.random.default_rng(4), 40)
        turned = {k: v[::-1] for k, v in lanes.items()}
        there, back = board.solve(lanes, 40), board.solve(turned, 40)
        assert everything(back)[:, ::-1] == pytest.approx(everything(there), rel=ALONE, abs=ALONE)

    @pytest.mark.parametrize("count", [0, 1, 2, 3, 7, 8, 9, 33])
    def test_any_number_of_lanes(self, count: int) -> None:
        board = Board().source("V", "A", 1.0, resistance=1.0).resistor("R", "A", GROUND, 1.0)
        volts = np.linspace(1.0, 2.0, count)
        points = board.solve({("V", "voltage"): volts}, count)
        assert points.count == count
        assert points.potential("A") == pytest.approx(0.5 * volts)

    def test_more_lanes_than_are_solved_at_once(self, monkeypatch: pytest.MonkeyPatch) -> None:
        board = amplified_pass_transistor()
        lanes = mixed_lanes(board, np.random.default_rng(5), 50)
        whole = board.solve(lanes, 50)
        monkeypatch.setattr(module, "LANES_AT_ONCE", 16)
        pieces = board.solve(lanes, 50)
        assert everything(pieces) == pytest.approx(everything(whole), rel=ALONE, abs=ALONE)
        assert pieces.effort.shape == (50,)

    def test_taken_and_repeated(self) -> None:
        board = Board().source("V", "A", 1.0).resistor("R", "A", GROUND, 1.0)
        points = board.solve({("V", "voltage"): np.array([1.0, 2.0, 3.0])}, 3)
        chosen = points.take([2, 0, 0])
        assert chosen.of("R", "voltage") == pytest.approx([3.0, 1.0, 1.0], rel=1e-5)
        assert chosen.count == 3

    def test_ground_is_nil_where_solved(self) -> None:
        board = Board().source("V", "A", 1.0).resistor("R", "A", GROUND, 1.0)
        points = operating_point(board.model, {("R", "resistance"): np.array([1.0, np.nan])}, 2)
        assert points.potential(GROUND)[0] == 0.0
        assert np.isnan(points.potential(GROUND)[1])


class TestUnsolved:
    """What has no solution is said to have none, and disturbs no other lane."""

    def test_contradictory_wishes(self) -> None:
        # A current that is to be found although nothing of what it should bring about depends
        # on it, in two lanes of five.
        board = Board().source("V", "A", 5.0, resistance=1.0).resistor("R", "A", GROUND, 9.0)
        board.load("LD", "A").cross("LD", "current", ("R", "voltage"))
        weights = np.array([1.0, 0.0, 1.0, 0.0, 1.0])
        lanes = crossed("LD", "current", {("R", "voltage"): weights}, 3.6)
        begin = board.solve()
        points = operating_point(board.model, lanes, 5, begin)
        assert points.solved.tolist() == [True, False, True, False, True]
        assert points.of("LD", "current")[::2] == pytest.approx(1.0)
        assert np.isnan(everything(points)[:, ~points.solved]).all()
        assert np.isfinite(everything(points)[:, points.solved]).all()

    def test_a_value_that_is_no_number(self) -> None:
        board = amplified_pass_transistor()
        lanes = mixed_lanes(board, np.random.default_rng(6), 20)
        lanes["R1", "resistance"][7] = np.nan
        points = operating_point(board.model, lanes, 20)
        assert np.flatnonzero(~points.solved).tolist() == [7]
        assert np.isnan(of_lane(points, 7)).all()

    def test_coils_side_by_side_share_their_current_in_no_known_way(self) -> None:
        """Without resistance any share will do: no lane is solved, and none is an error."""
        board = IdealBoard().resistor("R", "A", GROUND, 1.0)
        for ref in ("L1", "L2"):
            board.put(ref, IdealInductor(), "A 0", inductance=1e-3)
        assert not operating_point(board.model, {LEAK: 0.0}, 3).solved.any()

    def test_a_missing_value_is_named(self) -> None:
        board = Board().resistor("R", "A", GROUND, 1.0).part("C", "fuse", {"one": "A", "two": "B"})
        with pytest.raises(MissingValue, match=r"part C \(fuse\) has no resistance"):
            board.solve()


class TestStart:
    def test_from_a_neighbour(self) -> None:
        board = amplified_pass_transistor()
        rng = np.random.default_rng(7)
        lanes = mixed_lanes(board, rng, 64)
        lanes["VIN", "voltage"] = rng.uniform(9.0, 18.0, 64)
        lanes["LD", "current"] = rng.uniform(0.1, 1.0, 64)
        cold = board.solve(lanes, 64)
        near = {k: v * 1.01 for k, v in lanes.items()}
        warm = board.solve(near, 64, start=cold)
        again = board.solve(near, 64)
        assert everything(warm) == pytest.approx(everything(again), rel=ALONE, abs=ALONE)
        assert warm.effort.mean() < 0.7 * again.effort.mean()

    def test_one_start_for_all(self) -> None:
        board = amplified_pass_transistor()
        lanes = mixed_lanes(board, np.random.default_rng(8), 20)
        begin = board.solve()
        points = board.solve(lanes, 20, start=begin)
        assert everything(points) == pytest.approx(
            everything(board.solve(lanes, 20)), rel=ALONE, abs=ALONE
        )

    def test_a_useless_start_is_given_up(self) -> None:
        board = amplified_pass_transistor()
        far = board.solve({("VIN", "voltage"): 0.0, ("LD", "current"): 0.0, AMBIENT: 200.0})
        points = board.solve(start=far)
        assert everything(points) == pytest.approx(everything(board.solve()), rel=ALONE, abs=ALONE)

    def test_which_of_two_states(self) -> None:
        # Two cross-coupled gates rest in either state: the one that the start is near.
        board = Board().source("V", "VCC", 5.0)
        for ref, own, other in (("G1", "QN", "Q"), ("G2", "Q", "QN")):
            pins = {"a": GROUND, "b": other, "output": own, "supply": "VCC", "ground": GROUND}
            board.part(ref, "logic-gate", pins, {"function": "nor"})
        for state in (0.0, 1.0):
            forced = {("G1", "free"): 0.0, ("G1", "forced"): 1.0 - state}
            held = board.solve(forced)
            free = board.solve(start=held)
            assert free.potential("Q")[0] == pytest.approx(5.0 * state, abs=1e-2)


class TestNeighbours:
    """Solutions nearby: as an estimate, as a way, and as lanes to be replaced."""

    def test_the_estimate_of_a_linear_circuit_is_its_solution(self) -> None:
        board = Board().source("V", "A", 5.0, resistance=1.0).resistor("R", "A", GROUND, 4.0)
        lanes: dict[Name, Any] = {("R", "resistance"): np.array([4.1, 3.9, 4.0])}
        found = first_order(board.model, lanes, 3, board.solve())
        assert everything(found) == pytest.approx(everything(board.solve(lanes, 3)), rel=1e-6)

    def test_the_estimate_is_of_first_order(self) -> None:
        board = amplified_pass_transistor()
        changes = np.array([1e-2, 1e-3])
        lanes: dict[Name, Any] = {("R1", "resistance"): 3e3 * (1.0 + changes)}
        before = board.solve()
        guess = first_order(board.model, lanes, 2, before).potential("OUT")
        moved = board.solve(lanes, 2).potential("OUT") - before.potential("OUT")[0]
        error = np.abs(guess - before.potential("OUT")[0] - moved) / moved
        assert error[0] < 0.1
        assert error[1] < 0.2 * error[0]

    def test_the_way_from_a_neighbour_goes_on_where_one_leap_fails(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        board = adjustable_regulator()
        lanes: dict[Name, Any] = {
            ("V", "voltage"): np.linspace(12.0, 40.0, 50),
            ("LD", "current"): np.linspace(0.1, 1.0, 50),
        }
        near, wanted = board.solve(), everything(board.solve(lanes, 50))
        monkeypatch.setattr(module, "WARM_ITERATIONS", 3)  # a leap that is given up early
        leap = operating_point(board.model, lanes, 50, near, reach="first")
        walk = operating_point(board.model, lanes, 50, near, reach="near")
        assert not leap.solved.all()
        assert walk.solved.all()
        assert everything(walk) == pytest.approx(wanted, rel=ALONE, abs=ALONE)

    def test_lanes_replaced_by_others(self) -> None:
        board = Board().source("V", "A", 1.0).resistor("R", "A", GROUND, 1.0)
        volts = np.arange(1.0, 12.0)
        points = board.solve({("V", "voltage"): volts}, 11)
        others = board.solve({("V", "voltage"): np.array([50.0, 60.0])}, 2)
        found = points.replaced(np.array([9, 2]), others)
        wanted = volts.copy()
        wanted[[9, 2]] = [50.0, 60.0]
        assert found.potential("A") == pytest.approx(wanted, rel=1e-4)
        assert points.potential("A") == pytest.approx(volts, rel=1e-4)


class TestSamples:
    """The numbers on which the order of elimination is chosen."""

    def test_a_crossing_uses_one_observable_or_none(self) -> None:
        board = Board().source("V", "A", 5.0, resistance=1.0).load("LD", "A", 0.1)
        names = [(f"R{i}", "current") for i in range(3)]
        for ref, _ in names:
            board.resistor(ref, "A", GROUND, 10.0)
        model = board.cross("LD", "current", *names).model
        system = at_rest(trace(model.topology))
        _, p = point_samples(model, system, {})
        row = dict(zip(system.parameters, p, strict=True))
        solved = row["", "solve LD.current"]
        weights = [row["", f"weight LD.current {ref}.{name}"] for ref, name in names]
        assert set(solved) == {0.0, 1.0}
        assert np.array_equal(np.sum(weights, axis=0), solved)
        assert all(np.any(weight) for weight in weights)


class TestExtremes:
    """Where numbers are very large or very small, without any fall-back."""

    def test_a_source_that_gives_next_to_nothing(self) -> None:
        board = Board().source("V", "A", 19.0).resistor("R", "A", GROUND, 1.0)
        ohms = np.logspace(4, 12, 40)
        points = operating_point(board.model, {("R", "resistance"): ohms}, 40, reach="first")
        assert points.solved.all()
        assert points.of("R", "current") == pytest.approx(19.0 / ohms, rel=1e-3)

    def test_a_junction_at_many_amperes(self) -> None:
        board = Board().source("V", "A", 20.0, resistance=1.0)
        own = {"test_current": 10.0, "series_resistance": 1e-3, "junction_to_ambient": 0.1}
        board.part("D", "diode", {"anode": "A", "cathode": GROUND}, **own)
        volts = np.linspace(0.5, 20.0, 40)
        points = operating_point(board.model, {("V", "voltage"): volts}, 40, reach="first")
        assert points.solved.all()
        assert points.of("D", "current")[-1] > 18.0

    def test_a_long_chain_of_junctions_that_hardly_conducts(self) -> None:
        board = Board().source("V", "N0", 2.0)
        for i in range(12):
            board.part(f"D{i}", "diode", {"anode": f"N{i}", "cathode": f"N{i + 1}"})
        board.resistor("R", "N12", GROUND, 100.0)
        volts = np.linspace(-20.0, 20.0, 81)
        points = operating_point(board.model, {("V", "voltage"): volts}, 81, reach="first")
        assert points.solved.all()


LADDERS = ("DAMPED", "GAIN_LADDER", "HEAT_LADDER", "SOURCE_LADDER", "LEAK_LADDER", "AIR_LADDER")


class TestFallBacks:
    """Every way to a solution leads to the same one, and each is taken where it is needed."""

    def work(self, board: Board, lanes: dict[Name, Any], count: int) -> module._Work:
        model = board.model
        kernel = kernel_for(model.topology, lambda system: point_samples(model, system, lanes))
        return module._Work(model, kernel, lanes, count)

    def same(self, found: OperatingPoints, wanted: OperatingPoints) -> None:
        solved = found.solved
        assert solved.mean() > 0.5
        both = everything(found)[:, solved], everything(wanted)[:, solved]
        assert both[0] == pytest.approx(both[1], rel=ALONE, abs=ALONE)

    @pytest.mark.parametrize("ladder", LADDERS)
    def test_each_ladder_by_itself(self, ladder: str) -> None:
        board = amplified_pass_transistor()
        rng = np.random.default_rng(9)
        lanes = mixed_lanes(board, rng, 32)
        lanes["VIN", "voltage"] = rng.uniform(9.0, 18.0, 32)
        lanes["LD", "current"] = rng.uniform(0.05, 0.5, 32)
        work = self.work(board, lanes, 32)
        work._climb(getattr(ladders, ladder), work._cold, module.STAGE_ITERATIONS)
        self.same(work._result(), board.solve(lanes, 32))

    def test_every_lane_walks_at_its_own_pace(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Steps that are too long for the iterations allowed are tried again, shorter."""
        board = adjustable_regulator()
        lanes: dict[Name, Any] = {
            ("V", "voltage"): np.linspace(12.0, 40.0, 21),
            ("LD", "current"): np.linspace(0.1, 1.0, 21),
        }
        near, wanted = board.solve(), board.solve(lanes, 21)
        work = self.work(board, lanes, 21)
        monkeypatch.setattr(module, "STAGE_ITERATIONS", 4)
        monkeypatch.setattr(module, "_WALK", (1.0,))
        work._walk(near)
        assert not work.solved.all()
        work._pace(near)
        assert work.solved.all()
        self.same(work._result(), wanted)

    def test_a_pace_without_an_end_is_given_up(self) -> None:
        board = adjustable_regulator()
        lanes: dict[Name, Any] = {("V", "voltage"): np.full(3, np.nan)}
        work = self.work(board, lanes, 3)
        work._pace(board.solve())
        assert not work.solved.any()

    @pytest.mark.parametrize("solvable", [False, True], ids=["given", "solvable"])
    def test_a_load_that_grows_by_itself(self, solvable: bool) -> None:
        """Whether its current is an input or what is given where nothing is solved for."""
        board = amplified_pass_transistor()
        name = ("LD", "current")
        if solvable:
            board, name = board.aim("LD", "current", "OUT"), given_name("LD", "current")
        lanes: dict[Name, Any] = {name: np.linspace(0.05, 0.5, 12)}
        light = ladders.on_rung(board.model, lanes, ladders.LIGHT)
        assert light[name] == pytest.approx(0.01 * lanes[name])
        work = self.work(board, lanes, 12)
        work._load()
        self.same(work._result(), board.solve(lanes, 12))

    def test_the_last_resort_by_itself(self) -> None:
        board = amplified_pass_transistor()
        rng = np.random.default_rng(10)
        lanes = mixed_lanes(board, rng, 16)
        lanes["VIN", "voltage"] = rng.uniform(9.0, 18.0, 16)
        work = self.work(board, lanes, 16)
        work.astray[:] = True
        work._redo_densely()
        self.same(work._result(), board.solve(lanes, 16))

    def test_lanes_whose_pivots_held_are_not_led_the_same_way_again(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        board = amplified_pass_transistor()
        work = self.work(board, mixed_lanes(board, np.random.default_rng(11), 32), 32)
        monkeypatch.setattr(module, "COLD_ITERATIONS", 8)  # too few for many of the lanes
        calls: list[int] = []
        monkeypatch.setattr(module._Work, "_dense", lambda *_: calls.append(1))
        work._begin_cold()
        assert not work.solved.all()
        work._redo_densely()
        assert not calls

    def test_take_over_what_the_first_attempt_leaves(self, monkeypatch: pytest.MonkeyPatch) -> None:
        board = amplified_pass_transistor()
        lanes = mixed_lanes(board, np.random.default_rng(11), 200)
        wanted = everything(board.solve(lanes, 200))
        monkeypatch.setattr(module, "COLD_ITERATIONS", 8)  # too few for many of the lanes
        first = operating_point(board.model, lanes, 200, reach="first")
        assert 0 < np.count_nonzero(~first.solved) < 200
        every = board.solve(lanes, 200)
        assert everything(every) == pytest.approx(wanted, rel=ALONE, abs=ALONE)
        assert every.effort[~first.solved].min() > every.effort[first.solved].max()

    def test_a_part_that_gets_very_hot(self) -> None:
        # A crowbar without a heat sink: what is wanted is how hot it gets, not "no solution".
        board = Board().source("V", "IN", 12.0, current_limit=5.0, resistance=0.1)
        board.part("Z", "zener", {"cathode": "IN", "anode": "G"}, zener_voltage=9.1)
        board.resistor("RG", "G", GROUND, 1e3)
        board.part("T", "thyristor", {"anode": "IN", "cathode": GROUND, "gate": "G"})
        points = board.solve({("V", "voltage"): np.linspace(11.0, 20.0, 20)}, 20)
        rise = points.of("T", "junction") - 298.15
        assert rise == pytest.approx(50.0 * points.of("T", "power"))
        assert rise.min() > 200.0

    def test_one_part_of_two_states_rests_among_many_that_are_active(self) -> None:
        """Both the timer and what resets it are high; the relay is not drawn."""
        board = Board().source("V", "IN", 9.9, resistance=0.056)
        relay = {"coil_start": "T", "coil_end": GROUND, "common": "IN", "closes": "R"}
        timer = {"trigger": "T", "threshold": "H", "reset": "R", "discharge": GROUND, "output": "O"}
        rails = {"supply": "IN", "ground": GROUND}
        board.use("K", "relay 5 V 10 A", relay).use("U", "555 type", {**timer, **rails})
        board.use("C", "6541 type", {"plus": "IN", "minus": GROUND, "output": "R", **rails})
        for net in "TRHO":
            board.resistor(f"R{net}", net, GROUND, 1e4)
        points = board.solve()
        assert [points.of(ref, "state")[0] for ref in "KUC"] == pytest.approx(
            [0.0, 1.0, 1.0], abs=1e-5
        )

    def test_a_thermistor_that_runs_away_on_a_battery(self) -> None:
        """It comes to rest thousands of kelvins away, with nothing between there and the cold."""
        board = Board().source("V", "IN", 12.6, resistance=11e-3).resistor("W", "IN", "OUT", 0.02)
        board.use("T", "NTC inrush 5 Ω 5 A", {"one": "OUT", "two": GROUND})
        values = {name: board.nominal["T", name] for name in ("beta", "junction_to_ambient")}

        def excess(kelvins: float) -> float:
            """Heat made less heat carried off: the beta equation and Ohm's law."""
            own = 5.0 * np.exp(values["beta"] * (1.0 / kelvins - 1.0 / 298.15))
            heat = own * (12.6 / (own + 31e-3)) ** 2
            return float(heat - (kelvins - 298.15) / values["junction_to_ambient"])

        hot = brentq(excess, 1000.0, 1e4)
        points = board.solve()
        assert points.of("T", "junction")[0] == pytest.approx(hot, rel=1e-3)

    def test_a_zener_diode_whose_junction_ceases_to_block(self) -> None:
        """Hot enough it is a resistance, which carries what the source can give."""
        board = Board().source("V", "IN", 20.0, current_limit=6.8, resistance=0.05)
        board.use("Z", "zener 13 V 1 W", {"anode": GROUND, "cathode": "IN"})
        points = board.solve()
        assert points.of("Z", "current")[0] == pytest.approx(6.8, rel=1e-3)

    def test_a_short_circuit_of_a_battery_by_a_bridge(self) -> None:
        """All arms are ten thousands of kelvins hot: what is left of them is their resistance."""
        board = Board().use("B", "battery lead-acid 12 V 60 Ah", {"plus": "P", "minus": GROUND})
        pins = {"first": "A", "second": "C", "plus": GROUND, "minus": "P"}
        board.use("D", "bridge 1.5 A 400 V", pins)
        points = board.solve()
        arms = board.nominal["D", "series_resistance"]
        assert points.potential("P")[0] == pytest.approx(
            points.of("D", "current")[0] * arms, rel=1e-3
        )

    def test_pivots_that_cannot_be_trusted_are_checked(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        board = amplified_pass_transistor()
        lanes = mixed_lanes(board, np.random.default_rng(12), 20)
        wanted = board.solve(lanes, 20)
        asked: list[int] = []
        dense = module._Work._dense

        def counting(work: Any, which: Any, start: Any) -> Any:
            asked.append(len(which))
            return dense(work, which, start)

        monkeypatch.setattr(module._Work, "_dense", counting)
        monkeypatch.setattr(module, "DISTRUST", 2.0)  # no pivot is as good as that
        found = board.solve(lanes, 20)
        assert sum(asked) >= 20
        assert everything(found) == pytest.approx(everything(wanted), rel=ALONE, abs=ALONE)

    def test_row_exchanges_need_nothing_that_no_residual_depends_on(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """A feedback pin on ground: its bias current makes no heat, and may be unknown."""
        board = Board().source("V", "IN", 12.0)
        pins = {"input": "IN", "switch": "OUT", "ground": GROUND, "feedback": GROUND}
        board.use("U", "step-down 150 kHz 3 A", pins).resistor("R", "OUT", GROUND, 10.0)
        monkeypatch.setattr(module, "DISTRUST", 2.0)
        assert operating_point(board.model, {}, 3).solved.all()

    def test_what_row_exchanges_do_not_confirm_is_not_solved(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        board = Board().source("V", "A", 1.0).resistor("R", "A", GROUND, 1.0)
        monkeypatch.setattr(module, "DISTRUST", 2.0)
        monkeypatch.setattr(
            reference, "newton", lambda topology, x, *rest: (x + 1.0, np.ones(3, bool))
        )
        assert not operating_point(board.model, {}, 3).solved.any()


class TestAim:
    """An input that is solved for, so that a voltage meets its target."""

    def board(self) -> Board:
        pins = {"one": GROUND, "wiper": "W", "two": "A"}
        board = Board().source("V", "A", 5.0)
        board.part("RV", "potentiometer", pins, resistance=1e4, end_resistance=1e-3, position=0.3)
        return board.aim("RV", "position", "W")

    def test_given(self) -> None:
        points = self.board().solve()
        assert points.potential("W") == pytest.approx(1.5, rel=1e-4)
        assert points.of("RV", "position") == pytest.approx(0.3)

    def test_met(self) -> None:
        targets = np.array([0.5, 2.0, 4.9])
        points = self.board().solve(aimed("RV", "position", targets), 3)
        assert points.potential("W") == pytest.approx(targets, rel=1e-6)
        assert points.of("RV", "position") == pytest.approx(targets / 5.0, abs=1e-5)

    def test_beyond_its_end_stops(self) -> None:
        targets = np.array([-1.0, 2.0, 6.0])
        points = self.board().solve(aimed("RV", "position", targets), 3)
        position = points.solution_of("RV", "position")
        assert position[0] < 0.0
        assert 0.0 < position[1] < 1.0
        assert position[2] > 1.0
        assert points.of("RV", "position")[[0, 2]] == pytest.approx([0.0, 1.0], abs=1e-4)
        assert points.potential("W")[[0, 2]] == pytest.approx([0.0, 5.0], abs=1e-3)
        # A volt that is missing is a turn too many, by the slope that was given.
        assert position[[0, 2]] == pytest.approx([-1.0, 2.0], abs=1e-3)

    def test_some_lanes_given_some_solved_for(self) -> None:
        lanes = aimed("RV", "position", 2.5)
        lanes["", "solve RV.position"] = np.array([0.0, 1.0])
        lanes["", "given RV.position"] = 0.9
        points = self.board().solve(lanes, 2)
        assert points.potential("W") == pytest.approx([4.5, 2.5], rel=1e-4)


class TestCrossing:
    """A current that is solved for, so that a comparator stands on its threshold."""

    SHUNT, RATIO, REFERENCE = 0.1, 20.0, 2.0

    def board(self) -> Board:
        board = Board().source("V", "IN", 12.0).source("VCC", "VCC", 15.0)
        board.resistor("RS", "IN", "OUT", self.SHUNT).load("LD", "OUT", 0.2)
        big = self.RATIO * 1e3
        board.resistor("R1", "IN", "P", 1e3).resistor("R2", "P", GROUND, big)
        board.resistor("R3", "OUT", "M", 1e3).resistor("R4", "M", "S", big)
        pins = {"plus": "P", "minus": "M", "output": "S", "supply": "VCC", "ground": GROUND}
        exact = {"offset": 0.0, "bias_current": 0.0, "offset_current": 0.0}
        exact |= {"common_mode_error": 0.0}
        board.part("A", "operational-amplifier", pins, gain=1e7, **exact)
        board.source("VR", "REF", self.REFERENCE).resistor("RP", "VCC", "T", 1e4)
        pins = {"plus": "S", "minus": "REF", "output": "T", "supply": "VCC", "ground": GROUND}
        board.part("C", "comparator", pins, **exact)
        return board.cross("LD", "current", ("C", "difference"))

    def test_finds_the_current_of_the_trip(self) -> None:
        board = self.board()
        begin = board.solve()
        shunts = np.array([0.05, 0.1, 0.2])
        lanes = crossed("LD", "current", {("C", "difference"): 1.0})
        lanes["RS", "resistance"] = shunts
        points = board.solve(lanes, 3, start=begin)
        wanted = self.REFERENCE / self.RATIO / shunts
        # The divider's own current, 0.6 mA, goes through the shunt as well.
        assert points.of("LD", "current") == pytest.approx(wanted, abs=1e-3)
        assert points.of("C", "difference") == pytest.approx(0.0, abs=1e-8)

    def test_both_sides_of_it(self) -> None:
        board = self.board()
        trip = self.REFERENCE / self.RATIO / self.SHUNT
        points = board.solve({("", "given LD.current"): trip * np.array([0.98, 1.02])}, 2)
        assert points.of("C", "state") == pytest.approx([0.0, 1.0], abs=1e-2)


class TestHeat:
    def test_a_hot_part_is_a_different_part(self) -> None:
        # A diode at constant current falls by 1 to 3 mV for each kelvin (common practice).
        board = Board().source("V", "A", 20.0).resistor("R", "A", "D", 2e3)
        board.part("D1", "diode", {"anode": "D", "cathode": GROUND}, junction_to_ambient=0.1)
        drop = board.solve({AMBIENT: np.array([298.15, 348.15])}, 2).of("D1", "voltage")
        assert -3e-3 < (drop[1] - drop[0]) / 50.0 < -1e-3

    def test_heat_flows_through_the_chain(self) -> None:
        board = Board().source("V", "A", 10.0)
        board.part("D1", "zener", {"cathode": "A", "anode": "X", "case": "TAB"})
        board.resistor("R", "X", GROUND, 10.0)
        board.part("I", "insulator", {"one": "TAB", "two": "SINK"}, resistance=0.5)
        board.part("H", "heat-sink", {"face": "SINK", "air": AIR}, resistance=6.0)
        points = board.solve({AMBIENT: np.array([300.0, 320.0])}, 2)
        power = points.of("D1", "power")
        assert points.of("H", "heat") == pytest.approx(power)
        assert points.of("D1", "junction") == pytest.approx([300.0, 320.0] + power * 9.5)
        assert points.potential("SINK") == pytest.approx([300.0, 320.0] + power * 6.0)


def test_a_start_of_another_circuit_is_refused() -> None:
    one, other = adjustable_regulator(), amplified_pass_transistor()
    start = operating_point(one.model, {}, 1)
    with pytest.raises(ValueError, match="begin from solutions of the same circuit"):
        operating_point(other.model, {}, 1, start)
    with pytest.raises(ValueError, match="begin from solutions of the same circuit"):
        first_order(other.model, {}, 1, start)
