"""Where small signals are looked at, and how their search is kept short."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import resistor, supply, survey_of

from railwright.checks.check import at_least
from railwright.engine.poles import Poles
from railwright.surveys.extremes import Answer, explore
from railwright.surveys.situations import AS_SET, Situation, Thrift, View
from railwright.surveys.small_signals import SMALL_SIGNALS, least_decaying

DIVIDER = resistor("R1", "IN", "OUT", 1e3, "1 %") + resistor("R2", "OUT", "GND", 1e3, "1 %")


def capacitances(least: str, most: str) -> list[float]:
    load = '[[need.output.load]]\nkind = "resistive"\n'
    load += f'capacitance = {{ min = "{least}", max = "{most}" }}'
    points = SMALL_SIGNALS.points(survey_of(supply(DIVIDER, output=load, amperes=(0.0, 1e-3))))
    assert set(points.loads["main"]) == {0.0, 1e-3}
    return sorted(set(points.capacitances["main"]))


def test_what_a_load_may_have_is_looked_at_by_decades() -> None:
    wanted = [0.0, 4.7e-9, 4.7e-8, 4.7e-7, 4.7e-6, 4.7e-5, 4.7e-4]
    assert capacitances("0 F", "470 µF") == pytest.approx(wanted)


def test_both_ends_of_a_load_with_a_capacitor_of_its_own_are_looked_at() -> None:
    assert capacitances("3 µF", "47 µF") == pytest.approx([3e-6, 4.7e-6, 4.7e-5])


class _Saving(Situation):
    """As set, with vertices at the two worst points only."""

    name = "saving"
    thrift = Thrift(corners=False, turns=0, sampled=1, samples=4, vertices=2)
    view = AS_SET.view


def lowest(ample: float, situation: Situation) -> tuple[float, int]:
    """Margin over 4 V of half of 10 to 11 V, and the lanes that were looked at."""
    survey = survey_of(supply(DIVIDER, input=(10.0, 10.5, 11.0), amperes=(0.0, 1e-3)))

    def question(view: View) -> Answer:
        answer = at_least(view.output("main"), 4.0)
        return Answer(answer.margin, answer.value, answer.limit, ample=ample)

    found = explore(survey, situation, {"it": question}, 1)["it"]
    return found.margin, found.lanes


def test_an_ample_margin_is_left_to_samples() -> None:
    """10 V / 2 - 4 V less 1 mA from 500 Ω: 0.5 V with typical parts; 1 % of both takes 25 mV."""
    sought, _ = lowest(np.inf, AS_SET)
    assert sought == pytest.approx(10.0 * 0.99 / 2.0 - 4.0 - 1e-3 * 500 * 0.9999, abs=1e-3)
    close, lanes = lowest(0.6, _Saving())
    assert close == pytest.approx(sought, rel=1e-9)
    ample, fewer = lowest(0.4, _Saving())
    assert sought < ample <= 0.5
    assert fewer < lanes


def test_vertices_at_the_worst_points_find_the_same_worst_case() -> None:
    sought, lanes = lowest(np.inf, AS_SET)
    saved, fewer = lowest(np.inf, _Saving())
    assert saved == pytest.approx(sought, rel=1e-9)
    assert fewer < lanes


def test_where_rounding_hides_whether_a_pole_decays_nothing_is_known() -> None:
    """Poles of -1e6 and -10 per second, the slow one told to a hundredth and not even to itself."""
    value = np.repeat([[-1e6 + 0j, -10.0 + 0j]], 2, axis=0)
    doubt = np.array([[1e-3, 0.1], [1e-3, 20.0]])
    found = least_decaying(Poles(value, doubt, np.array([True, True]), ("stable", "undecided")))
    assert found[0].real < 0
    assert np.isnan(found[1])


def test_whether_a_rail_works_is_the_same_in_any_company() -> None:
    """5 V of 10 V by halves are less than a fifth of the highest 12 V off 3 V, and more off these.

    Alone a lane knows no other setting than its own.
    """
    survey = survey_of(supply(DIVIDER, volts=(3.0, 12.0))).within(SMALL_SIGNALS.scope)
    view = survey.once(SMALL_SIGNALS.typical)
    works = view.works
    assert works.tolist() == (view.points.settings["main"] == 3.0).tolist()
    assert works.any()
    alone = [view.take(np.array([lane])).works[0] for lane in range(view.points.count)]
    assert alone == works.tolist()
