"""Published supplies that did not work, rebuilt: the proof must name the cause that was published.

Each design file beside this one retells a case in its comment. Numbers are those that were
published, or follow by the law named in the row from values that were.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding, Proof
from railwright.prove.run import prove
from railwright.quantity import parse

HERE = Path(__file__).parent


class Number(NamedTuple):
    """A published number that a finding must give."""

    of: str
    """`value`, `limit` or `margin` of the finding."""
    expected: float
    within: float
    """Share of it, for what the rebuilt parts have and the published sum leaves out."""


class Row(NamedTuple):
    """What the proof must say of a case."""

    name: str
    check: str
    subject: str
    parts: str
    """Refs of which one must be the subject, or the first cause told."""
    number: Number | None = None
    change: tuple[str, str] | None = None
    """A text of the file, and what stands in its place."""


LIFT = 0.31e-3 * 720 * 550 / (720 + 550)
"""V; the 0.31 mA that the reference would have to take lift both resistors, side by side."""
FLAGGED = [
    Row("starved-logic-rail", "headroom.series", "U1", "U1"),
    Row("sense-point-before-the-leads", "output.load-regulation", "main", "W1",
        Number("value", 5.0 * 0.040, 0.03)),
    Row("lifted-reference", "output.accuracy", "reference", "R1 R2", Number("value", LIFT, 0.06)),
    Row("tired-input-capacitor", "stress.ripple-current", "C1", "C1",
        Number("value", 10.0 * (0.5 - 0.5**2) ** 0.5, 0.04)),
    Row("coil-too-small", "stress.cycle", "L1 rated_current", "L1",
        Number("value", 61.5 / 12**0.5, 0.02)),
    Row("source-cannot-start-it", "overload.source", "U1", "U1"),
    Row("one-divider-value-off", "output.accuracy", "main", "R1 R2", Number("value", 0.306, 0.04)),
    Row("driver-feeds-the-output", "heat.junction", "Q1 junction_limit", "Q1",
        Number("value", 298.15 + 2.3 * 100.0, 0.03)),
    Row("threshold-sets-the-difference", "headroom.series", "U2", "Q1"),
    Row("nothing-left-in-the-chain", "headroom.series", "U1", "U1"),
    Row("nothing-left-in-the-chain", "output.accuracy", "middle", "U1",
        Number("value", 30.0 - 25.4, 0.01)),
    Row("four-resistors-against-20-volts", "output.accuracy", "monitor", "R1 R2 R3 R4",
        Number("value", 2 * 0.01 * (20.0 - 8.0), 0.05)),
    Row("comparators-above-their-range", "headroom.input-top", "U2", "U2",
        Number("margin", 1.3 - 2.5, 0.03)),
    Row("latch-wakes-up-set", "wiring.start-state", "main", "U3"),
    Row("current-source-stays-asleep", "wiring.start-state", "main", "U1"),
    Row("boards-on-one-bus", "overload.inrush", "need.input", "C1 C2 C3 C4",
        Number("limit", 0.75e-3, 0.001)),
    Row("core-rail-with-a-wrong-divider", "output.accuracy", "main", "R1 R2",
        Number("value", 1.5 - 0.64, 0.01)),
    Row("core-rail-with-a-wrong-divider", "output.accuracy", "main", "R1 R2",
        Number("value", 1.5 - 1.458, 0.1), ("222 Ω", "4.75 kΩ")),
    Row("transformer-too-high", "stress.rating", "C1 rated_voltage", "C1",
        Number("value", 24.0 * 2**0.5 - 1.4, 0.02)),
    Row("transformer-too-low", "headroom.series", "U1", "U1"),
    Row("transformer-too-low", "headroom.series", "U1", "U1",
        Number("value", 8.3 - 12.0, 0.05), ('max = "1.5 A"', 'max = "1 A"')),
    Row("gain-inside-the-loop", "stability.poles", "main", "Q1"),
    Row("gain-inside-the-loop", "stability.phase-margin", "U1", "U1"),
    Row("filter-of-empty-ceramics", "headroom.capacitance", "C1", "C1"),
    Row("filter-of-empty-ceramics", "stability.filter", "L1", "L1"),
    Row("shorted-input", "wiring.rail-order", "U1", "U1"),
    Row("clamp-upside-down", "output.accuracy", "clamp", "Q1"),
    Row("starved-shunt-reference", "headroom.reference-current", "U1", "U1 R1"),
    Row("starved-shunt-reference", "output.accuracy", "main", "R1",
        Number("value", 5.0 - 4.6, 0.04)),
    Row("gate-without-a-zener", "stress.rating", "Q1 gate_source_voltage", "Q1",
        Number("value", 25.0, 0.01)),
    Row("ceramics-where-tantalum-is-asked", "stability.window", "U1 output_series_resistance",
        "C2"),
    Row("suppressor-above-what-it-protects", "transient.hot-plug", "U1 supply_maximum", "U1 D1",
        Number("value", 113.0, 0.05)),
    Row("enable-on-the-input", "stress.rating", "U1 enable_maximum", "U1",
        Number("value", 12.0, 0.01)),
    Row("pulses-too-short", "headroom.shortest-pulse", "U1", "U1",
        Number("limit", 200e-9 * 500e3, 0.001)),
    Row("rectifier-at-a-high-clock", "wiring.recovery", "D1", "D1"),
    Row("enable-on-its-own-output", "transient.comes-up", "main", "U1"),
]  # fmt: skip
DIODE = """[[part]]
ref = "D1"
kind = "diode"
use = "1N4002"
pins = { anode = "OUT", cathode = "IN" }

[[part]]
ref = "U1"
"""
TANTALUM = """[[part]]
ref = "C5"
kind = "capacitor"
use = "tantalum 10 µF 25 V"
pins = { plus = "QUIET", minus = "GND" }

[[part]]
ref = "U1"
"""
MENDED = [
    ("filter-of-empty-ceramics", "stability.filter", ('[[part]]\nref = "U1"\n', TANTALUM)),
    ("shorted-input", "wiring.rail-order", ('[[part]]\nref = "U1"\n', DIODE)),
    ("core-rail-with-a-wrong-divider", "output.accuracy", ("222 Ω", "4.99 kΩ")),
    ("one-divider-value-off", "output.accuracy", ("56k", "52.3 kΩ")),
    ("lifted-reference", "output.accuracy", ("550 Ω", "400 Ω")),
    ("source-cannot-start-it", "overload.source", ("1 A", "4 A")),
    ("boards-on-one-bus", "overload.inrush", ("2 ms", "8 ms")),
    ("starved-shunt-reference", "headroom.reference-current", ("47 Ω", "10 Ω")),
    ("suppressor-above-what-it-protects", "transient.hot-plug", ("85 V", "120 V")),
    (
        "latch-wakes-up-set",
        "wiring.start-state",
        ('one = "LATCH", two = "HOLD"', 'one = "GND", two = "HOLD"'),
    ),
]
"""The published cure, or the least that takes the cause away: the same question must hold."""


@cache
def proof(name: str, change: tuple[str, str] | None = None, only: tuple[str, ...] = ()) -> Proof:
    text = (HERE / f"{name}.toml").read_text(encoding="utf-8")
    if change is not None:
        assert change[0] in text
        text = text.replace(*change)
    return prove(read_text(text, f"{name}.toml"), only=only)


def found(row: Row) -> Finding:
    asked = {each.check for each in FLAGGED if (each.name, each.change) == (row.name, row.change)}
    findings = proof(row.name, row.change, tuple(sorted(asked))).findings
    return next(f for f in findings if (f.id, f.subject) == (row.check, row.subject))


def test_every_case_is_in_one_table() -> None:
    names = {row.name for row in FLAGGED} | {"hot-but-within-limits"}
    assert names == {path.stem for path in HERE.glob("*.toml")}


@pytest.mark.parametrize("row", FLAGGED, ids=lambda row: f"{row.name} {row.check}")
def test_the_published_cause_falls_short(row: Row) -> None:
    finding = found(row)
    assert finding.verdict == "falls short", finding.because
    told = {finding.subject.split(" ")[0], *(cause.part for cause in finding.causes[:1])}
    assert told & set(row.parts.split()), finding.causes
    if row.number is not None:
        value = getattr(finding, row.number.of)
        assert value == pytest.approx(row.number.expected, rel=row.number.within)


def test_both_states_of_the_sleeping_source_are_told() -> None:
    """2.5 V / 2.49 kΩ = 1.004 mA, and nothing; the rail is 1 kΩ."""
    (row,) = (row for row in FLAGGED if row.name == "current-source-stays-asleep")
    told = re.findall(r"\d+(?:\.\d+)? m?V", found(row).because)
    asleep, awake = (parse(volts, "V") for volts in told)
    assert asleep == pytest.approx(0.0, abs=0.01)
    assert awake == pytest.approx(1e3 * 2.5 / 2.49e3, rel=0.015)


@pytest.mark.parametrize(("name", "check", "change"), MENDED, ids=lambda x: str(x))
def test_what_is_mended_is_not_flagged(name: str, check: str, change: tuple[str, str]) -> None:
    answers = [f for f in proof(name, change, (check,)).findings if f.id == check]
    assert answers
    assert {f.verdict for f in answers} <= {"holds", "marginal"}


def test_the_false_alarm_raises_nothing() -> None:
    """(12 V - 5 V) x 208.5 mA x 45 K/W above 22 °C: 87.7 °C; the part's own current adds 3 K."""
    findings = proof("hot-but-within-limits").findings
    assert {f.verdict for f in findings} == {"holds"}
    (junction,) = (f for f in findings if f.id == "heat.junction")
    assert junction.value is not None
    assert 87.7 <= junction.value - 273.15 <= 87.7 + 5.0
