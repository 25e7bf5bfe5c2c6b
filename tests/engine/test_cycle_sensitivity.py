"""Derivatives of cycles: closed forms of converters and filters, and differences of cycles."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.test_step_down_cycles import CLASSIC, CURRENT_MODE, supply
from engine.ideal_parts import (
    ExponentialDiode,
    IdealBoard,
    IdealCapacitor,
    IdealRectifier,
    SineSource,
)
from engine.test_cycle import EXACT, TICK, book_stage, nothing
from engine.test_transient import switched
from numpy.typing import NDArray
from scipy.optimize import brentq

from railwright.engine.cycle import Cycle, cycle
from railwright.engine.cycle_measures import Beginning, Mean, Measure, Period, Rms, Swing
from railwright.engine.cycle_sensitivity import CycleSensitivities, cycle_sensitivities
from railwright.engine.model import Model
from railwright.engine.ports import Given, NoSuchPort, Observed, Potential
from railwright.engine.quiescent import quiescent
from railwright.engine.transient import Tolerance

Array = NDArray[np.float64]
Lanes = Mapping[tuple[str, str], Any]
OUT, COIL = Potential("OUT", GROUND), Observed("L", "current")
SHARP = Tolerance(1e-6, 1e-9)


def given(text: str) -> list[Given]:
    return [Given(*name.split()) for name in text.split(", ")]


def isothermal(board: Board) -> Model:
    return Model(replace(board.topology, isothermal=True), board.nominal)


def elasticities(found: CycleSensitivities, nominal: Mapping[Any, float]) -> dict[Any, float]:
    """What a whole change of each value would bring, in the unit of the measure."""
    assert found.solved.all(), found.outcomes
    return {v: float(d[0] * nominal[v.ref, v.name]) for v, d in found.by.items()}


class TestOfTheIdealStepDownStage:
    """V = D Vg, swing of the current (Vg - V) D T / L, and of the voltage that times T / 8 C.

    Erickson and Maksimovic, Fundamentals of Power Electronics, sections 2.2 and 2.5.
    """

    VALUES = given("U feeding, U duty, U period, L inductance, C capacitance, R resistance")
    D, FEEDING, PERIOD, L, C = 15.0 / 28.0, 28.0, 1e-5, 50e-6, 500e-6

    def found(self, *measures: Measure) -> list[dict[Any, float]]:
        model = book_stage()
        seen = cycle(model, {}, 1, nothing(model), clock=TICK, tolerance=SHARP)
        many = cycle_sensitivities(seen, measures, self.VALUES)
        return [elasticities(one, model.nominal) for one in many]

    def against(self, found: dict[Any, float], wanted: list[float], scale: float) -> None:
        assert [found[v] for v in self.VALUES] == pytest.approx(wanted, abs=1e-3 * scale)

    def test_mean(self) -> None:
        (mean,) = self.found(Mean(OUT))
        self.against(mean, [15.0, 15.0, 0.0, 0.0, 0.0, 0.0], 0.1)

    def test_swings(self) -> None:
        current, voltage = self.found(Swing(COIL), Swing(OUT))
        swing = self.FEEDING * (1.0 - self.D) * self.D * self.PERIOD / self.L
        by_duty = self.FEEDING * (1.0 - 2.0 * self.D) * self.D * self.PERIOD / self.L
        self.against(current, [swing, by_duty, swing, -swing, 0.0, 0.0], swing)
        share = self.PERIOD / (8.0 * self.C)
        ripple, moved = swing * share, by_duty * share
        self.against(voltage, [ripple, moved, 2.0 * ripple, -ripple, -ripple, 0.0], ripple)

    def test_valley_and_root_of_mean_square(self) -> None:
        """The valley is V / R less half the swing; I² = (V / R)² + swing² / 12, section A.1."""
        begins, root = self.found(Beginning(COIL), Rms(COIL))
        swing = self.FEEDING * (1.0 - self.D) * self.D * self.PERIOD / self.L
        by_duty = self.FEEDING * (1.0 - 2.0 * self.D) * self.D * self.PERIOD / self.L
        half = 0.5 * swing
        self.against(begins, [5.0 - half, 5.0 - 0.5 * by_duty, -half, half, 0.0, -5.0], 1.0)
        whole = np.sqrt(25.0 + swing**2 / 12.0)
        own = swing**2 / 12.0 / whole
        duty = (25.0 + swing * by_duty / 12.0) / whole
        self.against(root, [whole, duty, own, -own, 0.0, -25.0 / whole], 1.0)

    def test_share_of_the_pulse_and_period(self) -> None:
        share, period = self.found(Mean(Observed("U", "on")), Period())
        self.against(share, [0.0, self.D, 0.0, 0.0, 0.0, 0.0], 1e-2)
        self.against(period, [0.0, 0.0, self.PERIOD, 0.0, 0.0, 0.0], 1e-6 * self.PERIOD)


class TestOfAFilter:
    """A sine behind R and C: amplitude A / sqrt(1 + (wRC)²); textbook."""

    F, R, C = 1e3, 1e3, 1e-7
    VALUES = given("V voltage, V amplitude, V frequency, R resistance, C capacitance")

    def board(self) -> IdealBoard:
        sine = {"amplitude": 10.0, "frequency": self.F, "voltage": 1.0}
        board = IdealBoard().put("V", SineSource(), "IN 0", **sine)
        board.resistor("R", "IN", "OUT", self.R)
        return board.put("C", IdealCapacitor(), "OUT 0", capacitance=self.C)

    def test_by_hand(self) -> None:
        """The period 1 / f follows the frequency."""
        model = isothermal(self.board())
        seen = cycle(model, {}, 1, nothing(model), period=1.0 / self.F, tolerance=EXACT)
        measures: list[Measure] = [Swing(OUT), Mean(OUT), Beginning(OUT), Period()]
        many = cycle_sensitivities(seen, measures, self.VALUES)
        swing, mean, begins, period = (list(elasticities(s, model.nominal).values()) for s in many)
        lag = 2.0 * np.pi * self.F * self.R * self.C
        whole = 20.0 / np.sqrt(1.0 + lag**2)
        slope = -whole * lag**2 / (1.0 + lag**2)
        assert swing == pytest.approx([0.0, whole, slope, slope, slope], abs=1e-4)
        assert mean == pytest.approx([1.0, 0.0, 0.0, 0.0, 0.0], abs=1e-4)
        # At the start of the sine: -A wRC / (1 + (wRC)²).
        first = -10.0 * lag / (1.0 + lag**2)
        slope = first * (1.0 - lag**2) / (1.0 + lag**2)
        assert begins == pytest.approx([1.0, first, slope, slope, slope], abs=1e-3)
        assert period == pytest.approx([0.0, 0.0, -1.0 / self.F, 0.0, 0.0], rel=1e-9)

    def test_what_would_end_the_repetition_has_no_derivative(self) -> None:
        board = self.board().put("W", SineSource(), "X 0", amplitude=1.0, frequency=2.0 * self.F)
        board.resistor("R2", "X", "OUT", 1e4)
        model = isothermal(board)
        seen = cycle(model, {}, 1, nothing(model), period=1.0 / self.F)
        (found,) = cycle_sensitivities(seen, [Swing(OUT)])
        lost = [v for v, slope in found.by.items() if np.isnan(slope).any()]
        assert set(lost) == set(given("V frequency, W frequency"))
        assert found.solved.all()


def rectified(amplitude: float, frequency: float, load: float, farads: float) -> Array:
    """Mean and swing of a capacitor behind ideal rectifiers.

    The current ends at pi - atan(wRC); from there on the capacitor discharges until it meets
    the next half of the sine. Textbook; the instant is solved for.
    """
    lag = 2.0 * np.pi * frequency * load * farads
    end = np.pi - np.arctan(lag)

    def falling(angle: float) -> float:
        return float(np.sin(end) * np.exp(-(angle - end) / lag))

    meets = brentq(lambda a: falling(a) + np.sin(a), np.pi, 1.5 * np.pi, xtol=1e-14)
    area = np.cos(meets - np.pi) - np.cos(end) + lag * (np.sin(end) - falling(meets))
    return amplitude * np.array([area / np.pi, 1.0 - falling(meets)])


def test_a_rectifier_with_a_capacitor_has_its_exact_slopes() -> None:
    """Of its equations, by differences of their solution; two events in each half period."""
    rest = {"amplitude": 20.0, "frequency": 50.0, "load": 50.0, "farads": 1e-3}
    board = IdealBoard().put("V", IdealRectifier(), "OUT 0", amplitude=20.0, frequency=50.0)
    board.put("C", IdealCapacitor(), "OUT 0", capacitance=1e-3)
    model = isothermal(board.resistor("R", "OUT", GROUND, 50.0))
    seen = cycle(model, {}, 1, nothing(model), period=0.01, tolerance=EXACT)
    values = given("V amplitude, V frequency, R resistance, C capacitance")
    many = cycle_sensitivities(seen, [Mean(OUT), Swing(OUT)], values)
    assert [s.value[0] for s in many] == pytest.approx(rectified(**rest), rel=1e-5)
    for value, name in zip(values, rest, strict=True):
        up, down = (rectified(**{**rest, name: rest[name] * k}) for k in (1.0001, 0.9999))
        wanted = (up - down) / 2e-4
        slopes = [s.by[value][0] * rest[name] for s in many]
        assert slopes == pytest.approx(wanted, rel=1e-3)


Finder = Callable[[Lanes, int], Cycle]


def compared(
    find: Finder,
    nominal: Mapping[Any, float],
    measures: list[Measure],
    values: list[Given],
    share: float = 1e-3,
    rel: float = 1e-3,
) -> int:
    """Hold derivatives against central differences of cycles; the number that was compared.

    What is below a hundredth of the largest is held to the same difference as that.
    """
    many = cycle_sensitivities(find({}, 1), measures, values)
    wanted: list[dict[Given, float]] = [{} for _ in measures]
    for value in values:
        rest = nominal[value.ref, value.name]
        ends = find({(value.ref, value.name): rest * np.array([1.0 - share, 1.0 + share])}, 2)
        assert ends.solved.all()
        for place, one in enumerate(cycle_sensitivities(ends, measures, [])):
            wanted[place][value] = float(one.value[1] - one.value[0]) / (2.0 * share)
    compared = 0
    for found, differences in zip(many, wanted, strict=True):
        slopes = elasticities(found, nominal)
        largest = max(map(abs, differences.values()))
        assert slopes == pytest.approx(differences, rel=rel, abs=0.01 * rel * largest), found
        compared += sum(abs(d) > 0.01 * largest for d in differences.values())
    return compared


def test_a_diode_that_charges_a_capacitor() -> None:
    board = IdealBoard().put("V", SineSource(), "IN 0", amplitude=10.0, frequency=50.0)
    board.resistor("RS", "IN", "A", 5.0).put("C", IdealCapacitor(), "OUT 0", capacitance=1e-4)
    board.put("D", ExponentialDiode(), "A OUT", saturation=1e-9, slope=0.045)
    model = isothermal(board.resistor("R", "OUT", GROUND, 500.0))

    def find(lanes: Lanes, count: int) -> Cycle:
        period = 1.0 / np.asarray(lanes.get(("V", "frequency"), 50.0))
        return cycle(model, lanes, count, nothing(model), period=period, tolerance=SHARP)

    current = Observed("V", "current")
    values = given(
        "V amplitude, V frequency, RS resistance, R resistance, C capacitance, "
        "D saturation, D slope"
    )
    measures: list[Measure] = [Mean(OUT), Swing(OUT), Beginning(OUT), Rms(current), Swing(current)]
    assert compared(find, model.nominal, measures, values) > 25


@pytest.mark.parametrize(("load", "least"), [(5.0, 20), (300.0, 15)])
def test_a_clocked_stage_in_both_regimes(load: float, least: int) -> None:
    """Its pulses end where a ramp meets the amplified error; at 300 Ω its current ceases."""
    model = switched(gain=0.02)
    model = replace(model, nominal={**model.nominal, ("RL", "resistance"): load})

    def find(lanes: Lanes, count: int) -> Cycle:
        return cycle(model, lanes, count, nothing(model), clock=TICK, tolerance=EXACT)

    values = given(
        "V voltage, U period, U level, U reference, U gain, L inductance, C capacitance, "
        "RL resistance, D forward_voltage"
    )
    measures: list[Measure] = [Mean(OUT), Swing(OUT), Mean(Observed("U", "on")), Rms(COIL)]
    assert compared(find, model.nominal, measures, values) > least


def regulator(name: str, **lanes: float) -> tuple[Finder, Mapping[Any, float]]:
    """A step-down supply at the temperatures that it takes, and its values."""
    board = supply(name)
    stated = {tuple(key.split("__")): value for key, value in lanes.items()}
    rest = quiescent(board.solve(stated, 1), switched=True)
    held = {key: float(np.ravel(value)[0]) for key, value in rest.lanes.items()}

    def find(lanes: Lanes, count: int) -> Cycle:
        every = {**held, **lanes}
        return cycle(rest.model, every, count, rest.x, clock=TICK, tolerance=SHARP)

    return find, {**rest.model.nominal, **held}


@pytest.mark.parametrize("name", [CURRENT_MODE, CLASSIC])
def test_a_regulator_by_its_values(name: str) -> None:
    """Its loop closed: the pulses end at crossings, of the peak current or of a ramp."""
    find, nominal = regulator(name, LD__current=2.0)
    values = given(
        "V voltage, U reference, U frequency, U switch_resistance, L inductance, "
        "L winding_resistance, C capacitance, C esr, LD current, R1 resistance, R2 resistance"
    )
    measures: list[Measure] = [Mean(OUT), Swing(COIL), Mean(Observed("U", "on")), Period()]
    assert compared(find, nominal, measures, values) > 15


def test_a_period_that_the_circuit_sets_itself() -> None:
    """In overload the clock slows down in proportion to the feedback voltage."""
    find, nominal = regulator(CLASSIC, LD__current=2.0, U__foldback_voltage=1.5)
    values = given("U reference, U frequency, U foldback_voltage, L inductance, R1 resistance")
    measures: list[Measure] = [Period(), Swing(COIL), Mean(Observed("U", "on"))]
    assert compared(find, nominal, measures, values) > 8


def test_lanes_are_those_by_themselves_and_lost_ones_are_told() -> None:
    model = switched()
    gains, levels = np.array([0.01, 0.0, 0.0, 0.02]), np.array([0.4, np.nan, 0.6, 0.3])
    lanes = {("U", "gain"): gains, ("U", "level"): levels}
    seen = cycle(model, lanes, 4, nothing(model), clock=TICK, tolerance=SHARP)
    value = Given("L", "inductance")
    (found,) = cycle_sensitivities(seen, [Swing(COIL)], [value])
    assert found.solved.tolist() == [True, False, True, True]
    assert np.isnan(found.by[value]).tolist() == [False, True, False, False]
    assert np.isnan(found.value).tolist() == [False, True, False, False]
    assert found.outcomes[1] == seen.outcomes[1]
    for lane in (0, 2, 3):
        own = {name: float(row[lane]) for name, row in lanes.items()}
        single = cycle(model, own, 1, nothing(model), clock=TICK, tolerance=SHARP)
        (alone,) = cycle_sensitivities(single, [Swing(COIL)], [value])
        assert found.by[value][lane] == pytest.approx(alone.by[value][0], rel=1e-4)


def test_a_clock_beside_a_given_period_is_told() -> None:
    model = book_stage()
    seen = cycle(model, {}, 1, nothing(model), period=1e-5)
    assert seen.solved.all()
    (found,) = cycle_sensitivities(seen, [Mean(OUT)])
    assert "how the period moves cannot be told" in found.outcomes[0]
    assert all(np.isnan(slope).all() for slope in found.by.values())


def test_all_values_are_taken_where_none_is_named() -> None:
    model = switched()
    seen = cycle(model, {}, 1, nothing(model), clock=TICK)
    (found,) = cycle_sensitivities(seen, [Mean(OUT)])
    assert {("U", "level"), ("L", "inductance"), ("V", "voltage")} <= {
        (v.ref, v.name) for v in found.by
    }
    assert not {"tick", "on"} & {v.name for v in found.by}
    assert all(np.isfinite(slope).all() for slope in found.by.values())


def test_what_there_is_not_is_told() -> None:
    model = switched()
    seen = cycle(model, {}, 1, nothing(model), clock=TICK)
    with pytest.raises(NoSuchPort, match="no equation reads size of L; wanted is one of"):
        cycle_sensitivities(seen, [Mean(OUT)], [Given("L", "size")])
    with pytest.raises(NoSuchPort, match="L does not report charge; wanted is one of"):
        cycle_sensitivities(seen, [Mean(Observed("L", "charge"))])
    with pytest.raises(NoSuchPort, match="there is no net NOWHERE"):
        cycle_sensitivities(seen, [Mean(Potential("NOWHERE", GROUND))])
