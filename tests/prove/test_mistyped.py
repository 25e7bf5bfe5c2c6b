"""A transformer of another voltage is told where that alone would mend a supply on the mains."""

from __future__ import annotations

from pathlib import Path

from railwright.circuit.design import read_text
from railwright.prove.run import prove

TEXT = (Path(__file__).parents[2] / "examples" / "workshop-twelve-volts.toml").read_text("utf-8")
OWN = 'use = "mains transformer 230 V, 2 x 15 V, 30 VA"'
ONLY = ["headroom.series", "ripple.mains"]


def told(rated: str) -> list[tuple[str, str]]:
    """(ref, what instead) of the supply with another transformer."""
    assert OWN in TEXT
    text = TEXT.replace(OWN, f'use = "mains transformer 230 V, {rated}"')
    found = [
        f for f in prove(read_text(text, "x.toml"), only=ONLY).findings if f.id == "design.type"
    ]
    assert all(f.verdict == "falls short" for f in found)
    return [(f.subject, f.causes[0].instead) for f in found]


def test_a_transformer_of_too_few_volts_is_told_with_the_voltage_that_would_do() -> None:
    # 12 V less 10 % of the mains leave the regulator of 12 V nothing, by the sums of the example.
    ((ref, instead),) = told("2 x 12 V, 30 VA")
    assert ref == "T1"
    assert "2 x 15 V" in instead


def test_the_right_one_is_under_no_suspicion() -> None:
    assert told("2 x 15 V, 30 VA") == []
