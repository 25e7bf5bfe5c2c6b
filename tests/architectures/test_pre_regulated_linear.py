"""A step-down ahead of a linear regulator: both sized for each other."""

from __future__ import annotations

import pytest

from railwright.architectures.architecture import Refusal
from railwright.architectures.pre_regulated_linear import PreRegulatedLinear
from railwright.circuit.circuit import Part
from tests.architectures.needs import EXAMPLES, parts_of, task_of

SAMPLER = (EXAMPLES / "sampler-five-volts.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(PreRegulatedLinear(), SAMPLER)


def between(parts: dict[str, Part], reference: float, off: float) -> float:
    """Voltage of the net between, from its legs; `off`: of their ratio."""
    upper, lower = (parts[ref].values["resistance"].spread.typical for ref in ("R1", "R2"))
    return reference * (1.0 + upper / lower * off)


def test_the_stages_stand_behind_each_other(parts: dict[str, Part]) -> None:
    assert parts["U1"].kind == "step-down-regulator"
    assert parts["U2"].pins["input"] == parts["L1"].pins["two"] == "PRE"
    assert parts["U2"].pins["output"] == "OUT"
    assert parts["U1"].pins["case"] != parts["U2"].pins["case"]


def test_what_is_left_to_the_linear_one_is_enough_and_no_more_than_it_sheds(
    parts: dict[str, Part],
) -> None:
    """Dropout of the 317 type at 1 A 2.25 V over temperature, 1.5 % trimmed reference aside."""
    assert between(parts, 1.18, 0.98) - 5.0 * 1.01 >= 2.25
    loss = (between(parts, 1.28, 1.02) - 5.0 * 0.99) * 0.86
    sink = parts["H2"].values["resistance"].spread.high
    pad = parts["P1"].values["resistance"].spread.high
    assert 40.0 + loss * (5.0 + pad + sink) <= 100.0


def test_the_load_survives_a_shorted_pass_element_of_the_second_stage() -> None:
    """25 V at the input would be too much; what is between is not."""
    guarded = SAMPLER.replace('ripple = "10 mV"', 'never_above = "12 V"')
    assert not isinstance(PreRegulatedLinear().offer(task_of(guarded)), Refusal)
    tight = SAMPLER.replace('ripple = "10 mV"', 'never_above = "5.6 V"')
    found = PreRegulatedLinear().offer(task_of(tight))
    assert isinstance(found, Refusal)
    assert "shorted pass element" in found.reason


def test_an_input_without_room_for_both_is_refused() -> None:
    low = SAMPLER.replace('"22 V", nominal = "24 V"', '"6 V", nominal = "7 V"')
    found = PreRegulatedLinear().offer(task_of(low))
    assert isinstance(found, Refusal)
    assert any(sign.isdigit() for sign in found.reason)


def test_a_knob_is_served_from_a_fixed_voltage_between() -> None:
    knob = SAMPLER.replace('"5 V", max = "5 V"', '"3 V", max = "6 V"').replace('"0.8 A"', '"0.3 A"')
    found = PreRegulatedLinear().offer(task_of(knob))
    assert not isinstance(found, Refusal), found.reason
    assert [control["role"] for control in found[0].controls] == ["set"]
