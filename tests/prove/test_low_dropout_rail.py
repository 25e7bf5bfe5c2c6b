"""A low-dropout regulator proved: headroom, own current, heat, and the sense of its enable pin."""

from __future__ import annotations

from functools import cache

import pytest
from surveys.supplies import part, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

PINS = "input = IN, output = OUT, ground = GND, disable = IN"
CERAMIC = 'use = "ceramic 10 µF 25 V class 2"'
SUPPLY = supply(
    part("U1", "low-dropout-regulator", PINS, 'use = "ldo CMOS 3.3 V 0.25 A"')
    + part("C1", "capacitor", "plus = IN, minus = GND", CERAMIC)
    + part("C2", "capacitor", "plus = OUT, minus = GND", CERAMIC),
    input=(4.5, 5.0, 5.5),
    output='accuracy = "4 %"',
    volts=(3.3, 3.3),
    amperes=(0.0, 0.1),
    ambient=(10.0, 40.0),
)


@cache
def proof(text: str) -> dict[tuple[str, str], Finding]:
    return {(f.id, f.subject): f for f in prove(read_text(text, "logic.toml")).findings}


def test_nothing_falls_short() -> None:
    found = proof(SUPPLY)
    assert {f.verdict for f in found.values()} <= {"holds", "marginal"}
    asked = {id for id, _ in found}
    assert asked >= {
        "headroom.series",
        "headroom.supply",
        "heat.junction",
        "wiring.enable",
        "stability.window",
    }


def test_headroom_and_heat_by_hand() -> None:
    found = proof(SUPPLY)
    known = read_text(SUPPLY, "logic.toml").circuit.part("U1").values
    headroom = found["headroom.series", "U1"]
    assert headroom.value == pytest.approx(4.5 - known["output_voltage"].spread.high, abs=0.03)
    assert headroom.limit is not None
    assert headroom.limit < known["dropout"].spread.high
    heat = found["heat.junction", "U1 junction_limit"]
    power = (5.5 - known["output_voltage"].spread.low) * 0.1
    rise = power * known["junction_to_ambient"].spread.high
    assert heat.value is not None
    assert heat.value - 313.15 == pytest.approx(rise, rel=0.03)


@pytest.mark.parametrize(
    ("change", "check"),
    [
        (('min = "4.5 V"', 'min = "3.4 V"'), "headroom.series"),
        (('min = "4.5 V"', 'min = "2.2 V"'), "headroom.supply"),
        (('max = "0.1 A"', 'max = "0.4 A"'), "headroom.regulator-current"),
        (('max = "0.1 A"', 'max = "0.25 A"'), "heat.junction"),
        (('disable = "IN"', 'disable = "GND"'), "wiring.enable"),
    ],
    ids=["low input", "lower still", "overload", "hot", "disabled"],
)
def test_each_shortfall_is_found(change: tuple[str, str], check: str) -> None:
    assert change[0] in SUPPLY
    found = proof(SUPPLY.replace(*change))
    verdicts = [f.verdict for (id, _), f in found.items() if id == check]
    assert "falls short" in verdicts, {k: f.verdict for k, f in found.items()}
