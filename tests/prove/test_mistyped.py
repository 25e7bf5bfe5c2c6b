"""A transformer of another voltage is told where that alone would mend a supply on the mains."""

from __future__ import annotations

from pathlib import Path

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

TEXT = (Path(__file__).parents[2] / "examples" / "workshop-twelve-volts.toml").read_text("utf-8")
OWN = 'use = "mains transformer 230 V, 2 x 15 V, 30 VA"'
ONLY = ["headroom.series", "ripple.mains"]


def proved(rated: str) -> list[Finding]:
    """What does not hold of the supply with another transformer."""
    assert OWN in TEXT
    text = TEXT.replace(OWN, f'use = "mains transformer 230 V, {rated}"')
    findings = prove(read_text(text, "workshop.toml"), only=ONLY).findings
    return [f for f in findings if f.verdict == "falls short"]


def test_a_transformer_of_too_few_volts_is_told_with_one_that_would_do() -> None:
    # 12 V less 10 % of the mains leave a regulator of 12 V too little: sums of the example.
    told = [f for f in proved("2 x 12 V, 30 VA") if f.id == "design.type"]
    assert [(f.subject, f.causes[0].part) for f in told] == [("T1", "T1")]
    other = told[0].causes[0].instead.removeprefix("mains transformer 230 V, ")
    assert other != "2 x 12 V, 30 VA"
    assert proved(other) == []


def test_what_spread_takes_at_a_cliff_hides_no_type() -> None:
    # Typical parts have 29.5 mV of 30 mV of ripple left, the worst fall 1.1 V short: a regulator
    # out of headroom passes on what it should keep off.
    told = [f for f in proved("2 x 12 V, 120 VA, toroid") if f.id == "design.type"]
    assert [f.subject for f in told] == ["T1"]
    assert "12 V" not in told[0].causes[0].instead


def test_the_right_one_is_under_no_suspicion() -> None:
    assert proved("2 x 15 V, 30 VA") == []
