"""A circuit never changes: every change gives another one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from railwright.circuit.circuit import Circuit, CircuitError
from railwright.circuit.design import read_text
from tests.circuit.samples import LAMP

LAMP_CIRCUIT = read_text(LAMP, "sample.toml").circuit
REFS = ["J1", "C1", "U1", "R1", "R2", "RV1", "HS1"]


def test_parts_in_the_order_of_the_file() -> None:
    assert [part.ref for part in LAMP_CIRCUIT.parts] == REFS


def test_nets() -> None:
    assert LAMP_CIRCUIT.nets["ADJ"] == (("U1", "adjust"), ("R1", "two"), ("R2", "one"))
    assert LAMP_CIRCUIT.thermal_nets["TAB"] == (("U1", "case"), ("HS1", "face"))
    assert LAMP_CIRCUIT.nets.keys().isdisjoint(LAMP_CIRCUIT.thermal_nets)
    pins = sum(len(part.pins) for part in LAMP_CIRCUIT.parts)
    joined = [*LAMP_CIRCUIT.nets.values(), *LAMP_CIRCUIT.thermal_nets.values()]
    assert sum(map(len, joined)) == pins


@pytest.mark.parametrize(
    ("net", "wanted"),
    [
        ("TRIM", [("R2", "two"), ("RV1", "one")]),
        ("AMBIENT", [("HS1", "air")]),
        ("none", []),
    ],
)
def test_on_net(net: str, wanted: list[tuple[str, str]]) -> None:
    assert [(part.ref, pin) for part, pin in LAMP_CIRCUIT.on_net(net)] == wanted


def test_replaced() -> None:
    moved = replace(LAMP_CIRCUIT.part("R2"), pins={"one": "ADJ", "two": "0V"})
    changed = LAMP_CIRCUIT.replaced(moved)
    assert [part.ref for part in changed.parts] == REFS
    assert changed.nets["TRIM"] == (("RV1", "one"),)
    assert LAMP_CIRCUIT.nets["TRIM"] == (("R2", "two"), ("RV1", "one"))


def test_without_and_with() -> None:
    part = LAMP_CIRCUIT.part("R2")
    less = LAMP_CIRCUIT.without("R2")
    assert [each.ref for each in less.parts] == [ref for ref in REFS if ref != "R2"]
    assert less.with_part(part).parts == (*less.parts, part)
    assert len(LAMP_CIRCUIT.parts) == len(REFS)


def test_refusals() -> None:
    with pytest.raises(CircuitError, match="more than one part is called R1"):
        LAMP_CIRCUIT.with_part(LAMP_CIRCUIT.part("R1"))
    for change in (LAMP_CIRCUIT.part, LAMP_CIRCUIT.without):
        with pytest.raises(CircuitError, match=r'there is no part RV2\. Nearest: "R2"'):
            change("RV2")
    with pytest.raises(CircuitError, match=r"there is no part R1\. There are none yet"):
        Circuit().replaced(LAMP_CIRCUIT.part("R1"))
