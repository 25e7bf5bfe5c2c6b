"""The example that the mains feed proves, and its mistakes do not."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding, Proof
from railwright.prove.run import prove

TEXT = (Path(__file__).parents[2] / "examples" / "workshop-twelve-volts.toml").read_text("utf-8")


@cache
def proof_of(old: str = "", new: str = "") -> Proof:
    assert old in TEXT
    return prove(read_text(TEXT.replace(old, new, 1), "workshop.toml"))


def finding(proof: Proof, check: str, subject: str) -> Finding:
    (found,) = [f for f in proof.findings if f.id == check and f.subject == subject]
    return found


def test_it_proves() -> None:
    proof = proof_of()
    assert not [f for f in proof.findings if f.verdict in ("falls short", "not proven")]
    assert proof.verdict in ("holds", "marginal")


def test_what_can_hurt_is_told() -> None:
    told = " ".join(proof_of().cautions)
    assert "The input can kill" in told
    assert "Charge stays in C1" in told
    assert "Heat sinks get hot" in told


def test_the_valley_is_that_of_the_sum_by_hand() -> None:
    """The head of the file reckons 17.4 V at the reservoir; the output is 12.5 V at most."""
    found = finding(proof_of(), "headroom.series", "U1")
    assert found.where is not None
    assert found.where.input == 207.0
    assert found.where.loads == {"main": 0.25}
    assert found.value == pytest.approx(17.4 - 12.6, abs=1.0)


def test_a_reservoir_of_the_next_decade_below_leaves_nothing_in_the_valley() -> None:
    small = "electrolytic 220 µF 35 V low-ESR"
    proof = proof_of("electrolytic 2200 µF 35 V low-ESR", small)
    found = finding(proof, "headroom.series", "U1")
    assert found.verdict == "falls short"
    assert found.causes[0].part == "C1"
