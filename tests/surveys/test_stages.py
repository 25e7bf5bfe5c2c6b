"""Stages of a partly built supply against sums by hand, and what keeps one from being asked for."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import Design, read_text
from railwright.surveys.stages import METER, Stage, bring_up
from railwright.surveys.unpowered import BEHIND, OPEN, resistances


def design(parts: str, stages: str = "") -> Design:
    return read_text(supply(parts) + stages, "small.toml")


def block(name: str, parts: str) -> str:
    """Parts of a block."""
    return parts.replace("[[part]]\n", f'[[part]]\nblock = "{name}"\n')


def only(found: Design) -> Stage:
    stages = bring_up(found)
    assert stages.refused == ""
    assert len(stages.stages) == 1
    return stages.stages[0]


DIVIDER = resistor("R1", "IN", "OUT", 1e3, "1 %") + resistor("R2", "OUT", "GND", 3e3, "1 %")


def test_a_divider_reads_what_its_formula_gives() -> None:
    stage = only(design(block("divider", DIVIDER)))
    (rest,) = stage.rests
    window = rest.volts["OUT"]

    def divided(upper: float, lower: float) -> float:
        lower = lower * METER / (lower + METER)
        return 10.0 * lower / (upper + lower)

    assert window.typical == pytest.approx(divided(1000.0, 3000.0), rel=1e-6)
    assert window.low == pytest.approx(divided(1010.0, 2970.0), rel=1e-6)
    assert window.high == pytest.approx(divided(990.0, 3030.0), rel=1e-6)
    drawn = next(iter(rest.amperes.values()))
    assert drawn.high == pytest.approx(10.0 / (990.0 + 2970.0), rel=1e-3)
    assert set(rest.movers["OUT"]) == {"R1", "R2"}


def test_the_meter_loads_what_it_measures() -> None:
    high = resistor("R1", "IN", "OUT", METER) + resistor("R2", "OUT", "GND", METER)
    (rest,) = only(design(block("divider", high))).rests
    # Half of it without the meter, a third with it.
    assert rest.volts["OUT"].typical == pytest.approx(10.0 / 3.0, rel=1e-4)


def test_the_bench_source_is_set_to_the_nominal_input_and_a_limit_above_what_is_drawn() -> None:
    (feed,) = only(design(block("divider", DIVIDER))).feeds
    assert (feed.plus, feed.minus, feed.volts) == ("IN", "GND", 10.0)
    assert feed.limit == pytest.approx(20e-3)
    heavy = resistor("R1", "IN", "OUT", 100.0) + resistor("R2", "OUT", "GND", 3900.0)
    heavy = heavy.replace("0.25 W", "25 W")
    (feed,) = only(design(block("divider", heavy + resistor("R3", "IN", "GND", 4e3)))).feeds
    assert feed.limit == pytest.approx(20e-3)
    more = heavy + resistor("R3", "IN", "GND", 100.0).replace("0.25 W", "25 W")
    (feed,) = only(design(block("divider", more))).feeds
    assert feed.limit == pytest.approx(1.5 * (10.0 / 4000.0 + 0.1), rel=1e-3)


def test_blocks_are_fitted_in_the_order_in_which_they_are_fed() -> None:
    late = block("late", resistor("R2", "MIDDLE", "OUT", 1e3) + resistor("R3", "OUT", "GND", 1e3))
    early = block("early", resistor("R1", "IN", "MIDDLE", 1e3))
    stages = bring_up(design(late + early))
    assert stages.refused == ""
    assert [stage.name for stage in stages.stages] == ["early", "late"]
    assert [stage.refs for stage in stages.stages] == [("R1",), ("R2", "R3")]


REGULATOR = part(
    "U1", "adjustable-regulator", "input = IN, output = OUT, adjust = ADJ", 'use = "317 type 1.5 A"'
)
LEGS = resistor("R1", "OUT", "ADJ", 240.0) + resistor("R2", "ADJ", "GND", 240.0)


def test_a_block_with_a_loose_input_is_fitted_with_what_leads_it() -> None:
    stages = bring_up(design(block("regulator", REGULATOR) + block("legs", LEGS)))
    assert stages.refused == ""
    assert stages.stages[0].name == "legs, regulator" or len(stages.stages) == 1
    (rest,) = stages.stages[-1].rests
    # 1.25 V (1 + R2/R1), textbooks and datasheets of the 317 type; 50 µA x R2 on top.
    assert rest.volts["OUT"].typical == pytest.approx(2.5 + 240.0 * 50e-6, rel=2e-3)


def test_what_is_beyond_a_rating_is_not_asked_for() -> None:
    hot = resistor("R1", "IN", "OUT", 100.0) + resistor("R2", "OUT", "GND", 100.0)
    stages = bring_up(design(block("divider", hot.replace("0.25 W", "0.2 W"))))
    assert stages.stages == ()
    assert "R1 sees 250 mW; its rated power is 200 mW" in stages.refused


def test_stages_of_the_design_go_first() -> None:
    own = """
[[stage]]
name = "all of it"
parts = ["R1", "R2"]
supply = { net = "IN", voltage = "10 V", current_limit = "0.1 A" }
measure = ["OUT"]
"""
    stages = bring_up(design(DIVIDER, own))
    assert [stage.name for stage in stages.stages] == ["all of it"]
    assert list(stages.stages[0].rests[0].volts) == ["OUT"]


def test_a_latch_that_may_come_up_either_way_has_a_window_for_both() -> None:
    gates = [
        part(
            ref,
            "logic-gate",
            f"a = {a}, b = IN, output = {y}, supply = IN, ground = GND",
            'use = "4011 type"',
        )
        for ref, a, y in (("U1A", "ONE", "OUT"), ("U1B", "OUT", "ONE"))
    ]
    stage = only(design(block("latch", "".join(gates))))
    levels = sorted(rest.volts["OUT"].typical for rest in stage.rests)
    assert levels[0] == pytest.approx(0.0, abs=0.05)
    assert levels[-1] == pytest.approx(10.0, abs=0.05)
    assert len(levels) == 2


def test_an_ohmmeter_reads_resistors_and_junctions() -> None:
    found = {each.red: each.window for each in resistances(design(DIVIDER))}
    assert found["IN"].typical == pytest.approx(4000.0, rel=1e-3)
    across = [each for each in resistances(design(DIVIDER), across=True) if each.black == "OUT"]
    assert [each.red for each in across] == ["IN"]
    assert across[0].window.typical == pytest.approx(1000.0, rel=1e-3)
    assert found["IN"].low == pytest.approx(3960.0, rel=1e-3)
    # OUT to GND: the upper leg leads nowhere, since no source is connected.
    assert found["OUT"].high == pytest.approx(3030.0, rel=1e-3)
    diode = part("D1", "diode", "anode = IN, cathode = GND", 'use = "1N4002"')
    junction = {each.red: each.window for each in resistances(design(DIVIDER + diode))}
    # A silicon diode takes about 0.6 V: so many ohms as the meter divides.
    share = 0.6 / OPEN
    assert junction["IN"].typical == pytest.approx(BEHIND * share / (1.0 - share), rel=0.2)
    turned = part("D1", "diode", "anode = GND, cathode = IN", 'use = "1N4002"')
    blocked = {each.red: each.window for each in resistances(design(DIVIDER + turned))}
    assert blocked["IN"].typical == pytest.approx(4000.0, rel=0.01)
