"""Stated terminals against the order of the package: registered outlines and usual leads."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.check import WiringAnswer
from railwright.checks.pin_order import PinOrder

LOAD = resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 1e3)
TRANSISTOR = 'use = "2N3904"\n'  # TO-92, emitter, base, collector: JEDEC registration, from memory


def look(kind: str, pins: str, more: str) -> WiringAnswer:
    return PinOrder().look(survey_of(supply(LOAD + part("X1", kind, pins, more))))


def faults(kind: str, pins: str, more: str) -> list[tuple[str, str]]:
    answer = look(kind, pins, more)
    assert answer.looked == ["X1"]
    assert all(fault.proven for fault in answer.faults)
    return [cause for fault in answer.faults for cause in fault.causes]


PINS = "emitter = GND, base = GND, collector = OUT"


def stated(order: str) -> str:
    base, emitter, collector = (order.index(each) + 1 for each in "bec")
    return f'terminals = {{ base = "{base}", emitter = "{emitter}", collector = "{collector}" }}'


def of_transistor(order: str, more: str = "") -> list[tuple[str, str]]:
    return faults("bipolar-transistor", PINS, TRANSISTOR + more + stated(order))


def test_the_usual_order_holds_and_the_other_one_falls_short() -> None:
    assert of_transistor("ebc") == []
    assert set(of_transistor("cbe")) == {("X1", "emitter"), ("X1", "collector")}
    assert len(of_transistor("bce")) == 3


def test_of_another_package_nothing_is_known_and_nothing_proven() -> None:
    assert of_transistor("bec", 'package = "TO-92"\n') != []
    more = TRANSISTOR + 'package = "SOT-23"\n' + stated("ebc")
    (fault,) = look("bipolar-transistor", PINS, more).faults
    assert not fault.proven
    assert "2N3904 in SOT-23" in fault.because


def test_a_resistor_has_no_order() -> None:
    more = 'resistance = "1k"\nrated_power = "0.25 W"\nterminals = { one = "2", two = "1" }'
    assert faults("resistor", "one = OUT, two = GND", more) == []


def test_a_part_that_states_none_is_not_looked_at() -> None:
    assert look("bipolar-transistor", PINS, TRANSISTOR).looked == []


GATE = "a = IN, b = OUT, output = OUT, supply = IN, ground = GND"


@pytest.mark.parametrize(("terminals", "wrong"), [
    ('a = "1", b = "2", output = "3"', []),
    ('a = "2", b = "1", output = "3"', []),
    ('a = "6", b = "5", output = "4"', []),
    ('a = "1", b = "3", output = "2"', [("X1", "b"), ("X1", "output")]),
    ('supply = "7", ground = "14"', [("X1", "supply"), ("X1", "ground")]),
], ids=["first", "inputs exchanged", "second", "output exchanged", "supply reversed"])  # fmt: skip
def test_a_gate_of_four(terminals: str, wrong: list[tuple[str, str]]) -> None:
    more = f'use = "4011 type"\nterminals = {{ {terminals} }}'
    assert faults("logic-gate", GATE, more) == wrong
