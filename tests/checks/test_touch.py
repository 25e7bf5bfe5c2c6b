"""How hot a heat sink is to the hand: against its watts worked out by hand."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from railwright.circuit.design import read_text
from railwright.circuit.writer import remove_part
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK

FIVE = (Path(__file__).parents[1] / "data" / "trimmed_five_volts.toml").read_text("utf-8")
SINK = 'use = "heat sink 5 K/W"'
WATTS = (13.0 - 0.05 * 0.5125 - 5.0) * 0.5125
"""13 V in, behind 50 mΩ, 5 V out at 0.5 A, and 1.25 V / 100 Ω through the divider."""


def limited(words: str) -> str:
    """The supply, with a limit on what may be touched."""
    return FIVE.replace('max = "40 °C" }', f'max = "40 °C" }}\ntouch_limit = "{words}"', 1)


def findings(text: str) -> list[Finding]:
    proof = prove(read_text(text, "touch.toml"), depth=QUICK, only=("heat",))
    return [f for f in proof.findings if f.id == "heat.touch"]


@cache
def touched(words: str, kelvin_per_watt: float, more: str = "") -> list[Finding]:
    own = f'resistance = {{ typical = "{kelvin_per_watt} K/W", tolerance = "0 %" }}'
    return findings(limited(words).replace(SINK, own, 1) + more)


@pytest.mark.parametrize(
    ("words", "kelvin_per_watt", "allowed", "verdict"),
    [
        ("metal, held briefly", 5.0, 51.0, "holds"),
        ("metal, held briefly", 10.0, 51.0, "falls short"),
        ("metal, touched by chance", 10.0, 70.0, "holds"),
        ("metal, held or worn", 5.0, 48.0, "holds"),
        ("plastic, touched occasionally", 10.0, 77.0, "holds"),
    ],
)
def test_a_sink_is_as_warm_as_its_watts_make_it_in_air_of_25_degrees(
    words: str, kelvin_per_watt: float, allowed: float, verdict: str
) -> None:
    """Limits of IEC 62368-1, table 38; `tests/standards/test_touch.py` holds the table."""
    (found,) = touched(words, kelvin_per_watt)
    assert found.value is not None
    assert found.limit is not None
    assert found.value - 273.15 == pytest.approx(25.0 + kelvin_per_watt * WATTS, abs=0.3)
    assert found.limit - 273.15 == pytest.approx(allowed)
    assert (found.subject, found.verdict) == ("H1", verdict)


def test_words_that_are_not_understood_prove_nothing() -> None:
    (found,) = touched("cool to the hand", 5.0)
    assert found.verdict == "not proven"
    assert "held briefly" in found.because


def test_where_there_is_nothing_to_touch_nothing_is_proven() -> None:
    (found,) = findings(remove_part(limited("metal, held briefly"), "H1"))
    assert found.verdict == "not proven"
    assert "no heat sink" in found.because


def test_a_sink_outside_the_box_is_touched_as_well() -> None:
    box = 'kind = "enclosure"\nresistance = "2 K/W"\npins = { inside = "INSIDE", air = "AMBIENT" }'
    found = touched("metal, held briefly", 10.0, f'\n[[part]]\nref = "B1"\n{box}\n')
    assert {f.subject: f.verdict for f in found} == {"B1": "holds", "H1": "falls short"}


def test_in_a_box_the_wall_counts_half_way_to_the_air_inside() -> None:
    """Its sink's air is inside; 2 K/W of walls."""
    box = """
[[part]]
ref = "B1"
kind = "enclosure"
resistance = { typical = "2 K/W", tolerance = "0 %" }
pins = { inside = "INSIDE", air = "AMBIENT" }
"""
    text = limited("metal, held or worn").replace('air = "AMBIENT"', 'air = "INSIDE"', 1)
    (found,) = findings(text + box)
    assert found.subject == "B1"
    assert found.value is not None
    assert found.value - 273.15 == pytest.approx(25.0 + 0.5 * 2.0 * WATTS, abs=0.3)
