"""Negative three-terminal regulators: published set points, and their positive counterparts."""

from __future__ import annotations

import numpy as np
import pytest
from devices.samples import state, typical_values
from devices.solving import Part, resistor, solved
from devices.terms import LonePart

from railwright.devices import kinds

COUNTERPARTS = {
    "negative-adjustable-regulator": "adjustable-regulator",
    "negative-fixed-regulator": "fixed-regulator",
}
EXACT = {"line_regulation": 0.0, "load_regulation": 1e-6}


def below(ref: str, net: str) -> Part:
    """A source that pulls a net below GND."""
    values = {"resistance": 1e-3, "current_limit": 10.0}
    return Part(ref, "source", {"plus": "GND", "minus": net}, values)


def adjustable(**values: float) -> list[Part]:
    pins = {"input": "IN", "output": "OUT", "adjust": "ADJ"}
    known = {"junction_to_ambient": 0.1, **values}
    return [
        below("V", "IN"),
        Part("U", "negative-adjustable-regulator", pins, known, name="337 type 1.5 A"),
        resistor("R1", "OUT", "ADJ", 120.0),
        resistor("R2", "ADJ", "GND", 1320.0),
        resistor("L", "OUT", "GND"),
    ]


def fixed(**values: float) -> list[Part]:
    pins = {"input": "IN", "output": "OUT", "ground": "GND"}
    return [
        below("V", "IN"),
        Part("U", "negative-fixed-regulator", pins, values, name="7905 type 1 A"),
        resistor("L", "OUT", "GND"),
    ]


def test_adjustable_one_meets_its_set_formula() -> None:
    """-Vout = 1.25 V (1 + R2/R1) + Iadj R2: 15.09 V with 120 Ω and 1320 Ω (337 type datasheet)."""
    found = solved(adjustable(**EXACT), V_voltage=20.0, L_resistance=[1e4, 100.0])
    assert found["OUT"] == pytest.approx(-(1.25 * 12.0 + 65e-6 * 1320.0), abs=1e-3)


def test_adjustable_one_rests_in_dropout_and_in_its_current_limit() -> None:
    """2.0 V at 1 A and 25 °C; 2.2 A at 15 V, 0.4 A at 40 V (337 type datasheet)."""
    parts = adjustable()
    found = solved(parts, V_voltage=[12.0, 15.0, 40.0], L_resistance=[9.99, 1e-3, 1e-3])
    assert found["U.across"][0] == pytest.approx(2.0, abs=0.02)
    assert found["U.output_current"][1:] == pytest.approx(np.array([2.2, 0.4]), rel=0.05)


def test_fixed_one_regulates_below_its_ground() -> None:
    found = solved(fixed(**EXACT), V_voltage=[8.0, 25.0], L_resistance=10.0)
    assert found["OUT"] == pytest.approx(np.full(2, -5.0), abs=1e-3)
    assert found["U.supply_voltage"] == pytest.approx(np.array([8.0, 25.0]), rel=1e-3)
    assert found["U.power"] == pytest.approx(
        np.array([3.0, 20.0]) * 0.5 + np.array([8.0, 25.0]) * 4.3e-3, rel=1e-3
    )


def test_fixed_one_gives_nothing_from_above_its_ground() -> None:
    """Fed the wrong way round it passes next to nothing, as its positive counterpart does."""
    parts = [Part("V", "source", {"plus": "IN", "minus": "GND"}, {"resistance": 1e-3})]
    found = solved([*parts, *fixed()[1:]], V_voltage=12.0, L_resistance=10.0)
    assert abs(found["U.output_current"][0]) < 2e-4
    assert found["U.across"][0] == pytest.approx(-12.0, abs=0.01)


@pytest.mark.parametrize("kind", sorted(COUNTERPARTS))
def test_is_its_positive_counterpart_turned_over(kind: str) -> None:
    """In any state at opposite potentials: opposite flows, and the same of everything else."""
    values, device = typical_values(kind), kinds()[kind]
    at = state(device, 20.0, 200, seed=3)
    turned = {name: -row if name in device.pins else row for name, row in at.items()}
    thermal = {"case": np.full(200, 320.0), "junction": np.full(200, 350.0)}
    ours = LonePart(device, values, {**at, **thermal}, moving=True).run()
    theirs = LonePart(kinds()[COUNTERPARTS[kind]], values, {**turned, **thermal}).run()
    for name, flow in theirs.flows.items():
        sign = 1.0 if name in thermal else -1.0
        assert ours.flows[name] == pytest.approx(sign * flow, rel=1e-12), name
    for ours_too, others in (
        (ours.zeros, theirs.zeros),
        (ours.fluxes, theirs.fluxes),
        (ours.observed, theirs.observed),
    ):
        assert ours_too.keys() == others.keys()
        for name, row in others.items():
            assert ours_too[name] == pytest.approx(row, rel=1e-12), name
