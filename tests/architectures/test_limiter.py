"""Limits ahead of a regulator: their currents by the textbook's formulas, and proofs."""

from __future__ import annotations

import math
from typing import Any

import pytest

from railwright.architectures.adjustable_linear import AdjustableLinear
from railwright.architectures.architecture import Architecture, Refusal
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guarded import guarded
from railwright.architectures.guards.limiter import folded
from railwright.architectures.outboard_linear import OutboardLinear
from railwright.architectures.pre_regulated_linear import PreRegulatedLinear
from railwright.circuit.circuit import Part
from tests.architectures.needs import held_at_quick, parts_of, plain, task_of, value
from tests.circuits import Board
from tests.published import Row, published

VT = 25.7e-3
"""V at 25 °C; kT/q, any textbook."""
CHANGES = {'"10 %"': '"8 %"'}
FROM_TWENTY_FOUR = {
    '"17 V", nominal = "18 V", max = "19 V"': '"22 V", nominal = "24 V", max = "26 V"'
}
STRONG = {
    '"17 V", nominal = "18 V", max = "19 V"': '"11.4 V", nominal = "11.5 V", max = "11.6 V"',
    '"100 mΩ"': '"50 mΩ"',
    '"12 V", max = "12 V"': '"5 V", max = "5 V"',
    '"0.3 A"': '"1.25 A"',
    '"40 °C"': '"30 °C"',
}
"""More than a regulator carries alone, of little more voltage than a transistor beside it wants."""


def need(style: str, carry: str, act_by: str, changes: dict[str, str]) -> str:
    """A rail with a band for its limit."""
    band = f'[need.output.overload]\nstyle = "{style}"\ncarry = "{carry}"\nact_by = "{act_by}"\n'
    return plain({**changes, "[need.surroundings]": f"{band}\n[need.surroundings]"})


HOLDS = need("constant-current", "0.35 A", "0.75 A", CHANGES)
FOLDS = need("foldback", "0.3 A", "1 A", CHANGES)
STRONG_FOLDS = need("foldback", "1.25 A", "4 A", STRONG)


def refused(kind: Architecture, text: str) -> str:
    offer = guarded(kind, task_of(text))
    assert isinstance(offer, Refusal)
    return offer.reason


def limiter(parts: dict[str, Part]) -> dict[str, Part]:
    """The parts of the limit, by what they are."""
    (switch,) = (p for p in parts.values() if p.kind == "field-effect-transistor")
    (small,) = (p for p in parts.values() if p.pins.get("collector") == switch.pins["gate"])
    sense, base = (
        next(p for p in parts.values() if set(p.pins.values()) == ends)
        for ends in (
            {small.pins["emitter"], switch.pins["source"]},
            {small.pins["base"], switch.pins["source"]},
        )
    )
    return {"switch": switch, "small": small, "sense": sense, "base": base}


@pytest.mark.parametrize("row", published("foldback"), ids=lambda row: row.id)
def test_what_is_let_through_is_that_of_the_handbooks(row: Row) -> None:
    given: Any = row.inputs
    found = folded(given["junction"], given["ratio"], -given["output"], given["shunt"])
    assert found == row.expected_within_its_tolerance


def test_a_held_current_is_the_base_voltage_over_the_sense_resistor() -> None:
    """I = Vbe / Rs (any textbook): 2N3906 at 0.585 to 0.715 V for 1 mA and 25 °C.

    At the 1 to 2 mA that draw the gate down, 10 °C cold and 50 °C warm, 2.2 mV/K; what the
    regulator takes for itself is less than 25 mA.
    """
    parts = parts_of(AdjustableLinear(), HOLDS)
    found = limiter(parts)
    ohms = value(found["sense"], "resistance")
    most = (0.715 + VT * math.log(2.0) + 15 * 2.2e-3) / (0.99 * ohms)
    least = (0.585 - 25 * 2.2e-3) / (1.01 * ohms) - 25e-3
    assert most <= 0.75 - 0.1 * (0.75 - 0.35)
    assert least >= 0.35 + 0.1 * (0.75 - 0.35) - 5e-3
    regulator = parts["U1"]
    assert regulator.pins["input"] == found["switch"].pins["drain"]
    assert found["switch"].package == "TO-220"


def test_a_circuit_of_its_parts_limits_and_folds() -> None:
    """(Vbe (1 + k) - k V) / Rs with the base voltage that the small transistor has there."""
    found = limiter(parts_of(FixedLinear(), FOLDS))
    ohms, base = (value(found[each], "resistance") for each in ("sense", "base"))
    for load in (0.01, 13.0):
        board = Board().source("V", "IN", 18.0).resistor("RS", "IN", "S", ohms)
        pins = {"source": "S", "gate": "G", "drain": "D"}
        board = board.use("M", "p-channel 100 V 19 A", pins, junction_to_ambient=2.0)
        pins = {"emitter": "IN", "base": "B", "collector": "G"}
        board = board.use("Q", "2N3906", pins).resistor("RG", "G", "0", 10e3)
        board = board.resistor("RB", "S", "B", base).resistor("RF", "B", "D", 4.3e3)
        at = board.resistor("RL", "D", "0", load).solve()
        high, sensed, behind, out = (float(at.potential(net)[0]) for net in ("IN", "S", "B", "D"))
        wanted = folded(high - behind, base / 4.3e3, high - out, ohms)
        assert (high - sensed) / ohms == pytest.approx(wanted, rel=0.03)
        assert 0.5 < high - behind < 0.8
        assert out < 12.0


def test_a_short_makes_less_heat_where_it_folds() -> None:
    parts = parts_of(FixedLinear(), FOLDS)
    found = limiter(parts)
    out, base = parts["U1"].pins["output"], found["base"].pins
    (back,) = (p for p in parts.values() if {out} < set(p.pins.values()) & {out, base["two"]})
    k = value(found["base"], "resistance") / value(back, "resistance")
    ohms = value(found["sense"], "resistance")
    knee, short = folded(0.62, k, 18.0 - 12.0, ohms), folded(0.62, k, 18.0, ohms)
    assert short < 0.82 * knee
    # What comes over that resistor is taken where nothing else takes it.
    (bleeder,) = (p for p in parts.values() if "when the load takes nothing" in p.why)
    assert 12.0 / value(bleeder, "resistance") >= (19.0 - 12.0) / value(back, "resistance")


def test_a_transistor_beside_the_regulator_has_one_guard() -> None:
    parts = parts_of(OutboardLinear(), STRONG_FOLDS)
    small = [p for p in parts.values() if p.pins.get("emitter") in ("RAW", "LIMITED")]
    assert [p.pins["collector"] for p in small] == ["LIMIT_GATE"]
    passes = next(p for p in parts.values() if p.pins.get("collector") == "OUT")
    shunt = next(p for p in parts.values() if p.pins.get("two") == passes.pins["emitter"])
    assert shunt.pins["one"] == limiter(parts)["switch"].pins["drain"]


@pytest.mark.parametrize(
    ("kind", "text", "reason"),
    [
        (AdjustableLinear(), need("constant-current", "0.35 A", "0.45 A", CHANGES), "limits at"),
        (FixedLinear(), need("foldback", "0.3 A", "0.6 A", CHANGES), "limits at"),
        (
            FixedLinear(),
            need("foldback", "0.3 A", "0.75 A", CHANGES).replace(
                'kind = "resistive"', 'kind = "constant-current"'
            ),
            "in a short it gives less than the load takes at once",
        ),
        (
            FixedLinear(),
            need(
                "constant-current",
                "0.35 A",
                "0.75 A",
                {
                    **CHANGES,
                    '"12 V", max = "12 V"': '"5 V", max = "5 V"',
                    '"17 V", nominal = "18 V", max = "19 V"': (
                        '"8.8 V", nominal = "8.9 V", max = "9.2 V"'
                    ),
                },
            ),
            "its gate wants 8 V of 7.8 V",
        ),
    ],
    ids=["narrow", "narrow fold", "load", "gate"],
)
def test_what_binds_is_told(kind: Architecture, text: str, reason: str) -> None:
    assert reason in refused(kind, text)


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        (AdjustableLinear(), HOLDS),
        (
            PreRegulatedLinear(),
            need("constant-current", "0.35 A", "0.75 A", CHANGES | FROM_TWENTY_FOUR),
        ),
        (OutboardLinear(), STRONG_FOLDS),
    ],
    ids=["held", "behind a step-down", "folded"],
)
def test_a_candidate_holds_at_depth_quick(kind: Architecture, text: str) -> None:
    assert held_at_quick(kind, text) == []
