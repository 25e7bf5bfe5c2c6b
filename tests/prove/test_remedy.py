"""Remedies: what is offered was proved, is the smallest that does it, and breaks nothing else."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from railwright.circuit.design import read_text
from railwright.circuit.writer import set_value
from railwright.prove.proof import Finding, Proof, Verdict
from railwright.prove.remedy import _serves, remedied
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK

FIVE = (Path(__file__).parents[1] / "data" / "trimmed_five_volts.toml").read_text("utf-8")
TOO_SMALL = ("heat sink 5 K/W", "heat sink 20 K/W")
TOO_LOW = ('resistance = "270 Ω"', 'resistance = "150 Ω"')


def spoilt(*changes: tuple[str, str]) -> str:
    text = FIVE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return text


@cache
def mended(text: str) -> Proof:
    design = read_text(text, "remedy.toml")
    return remedied(design, text, prove(design, depth=QUICK), QUICK)


def the(proof: Proof, check: str) -> Finding:
    (found,) = [f for f in proof.findings if f.id == check and f.verdict == "falls short"]
    return found


def test_a_sink_that_is_too_small_is_exchanged_for_the_next_that_will_do() -> None:
    """5.1 W at most: of 2.5, 5, 9 and 20 K/W the third keeps 125 °C in air of 40 °C."""
    found = the(mended(spoilt(TOO_SMALL)), "heat.junction")
    (remedy,) = found.remedies
    (change,) = remedy.changes
    assert (change.part, change.value, change.to) == ("H1", "use", "heat sink 9 K/W")
    assert remedy.before == found.margin
    assert remedy.after is not None
    assert remedy.after > 0 > (found.margin or 0.0)


@pytest.mark.parametrize("mistake", [TOO_SMALL, TOO_LOW])
def test_what_is_offered_mends_when_it_is_put_into_the_file(mistake: tuple[str, str]) -> None:
    text = spoilt(mistake)
    proof = mended(text)
    offered = [(f, r) for f in proof.findings for r in f.remedies]
    assert offered
    before = {(f.id, f.subject): f.verdict for f in proof.findings}
    for finding, remedy in offered:
        changed = text
        for change in remedy.changes:
            changed = set_value(changed, change.part, change.value, change.to)
        after = prove(read_text(changed, "mended.toml"), depth=QUICK).findings
        (same,) = [f for f in after if (f.id, f.subject) == (finding.id, finding.subject)]
        assert same.verdict in ("holds", "marginal")
        assert same.margin == pytest.approx(remedy.after, rel=1e-6)
        short = {(f.id, f.subject) for f in after if f.verdict in ("falls short", "not proven")}
        assert all(before.get(key) in ("falls short", "not proven") for key in short)


def test_the_smallest_step_of_the_series_is_offered() -> None:
    """The trim reaches 5 V again from 1.25 V × (1 + 250 Ω / R1): 82 Ω, of which 75 Ω is sure."""
    (remedy,) = the(mended(spoilt(TOO_LOW)), "output.accuracy").remedies
    (change,) = remedy.changes
    assert (change.part, change.to) == ("R1", "75 Ω")


def test_nothing_is_offered_where_nothing_can_mend() -> None:
    """5 V from 5.5 V: no part of the catalogue works with so little across it."""
    text = spoilt(('min = "11 V", nominal = "12 V"', 'min = "5.2 V", nominal = "12 V"'))
    found = the(mended(text), "headroom.series")
    assert not found.remedies


def test_a_shortfall_is_not_moved_to_another_question() -> None:
    """R1 greater gives the regulator room, since the output is then farther below 5 V yet."""
    text = spoilt(('min = "11 V", nominal = "12 V"', 'min = "5.2 V", nominal = "12 V"'))
    offered = [r for f in mended(text).findings for r in f.remedies]
    assert not any(change.part == "R1" for r in offered for change in r.changes)


def test_each_of_two_mistakes_is_mended_by_its_own_part() -> None:
    proof = mended(spoilt(TOO_SMALL, TOO_LOW))
    (sink,) = the(proof, "heat.junction").remedies
    (divider,) = the(proof, "output.accuracy").remedies
    assert [change.part for change in sink.changes] == ["H1"]
    assert [change.part for change in divider.changes] == ["R1"]


def test_what_deepens_a_shortfall_has_to_mend_more_than_that() -> None:
    short = [finding(name, "falls short", -1.0) for name in ("one", "two", "three")]
    good, worse = finding("one", "holds", 1.0), finding("three", "falls short", -2.0)
    before = replace(mended(FIVE), findings=short)

    def serves(*changed: Finding) -> bool:
        ids = {f.id for f in changed}
        return _serves(
            before, replace(before, findings=[*changed, *(f for f in short if f.id not in ids)])
        )

    assert serves(good)
    assert not serves(good, worse)
    assert serves(good, finding("two", "marginal", 0.1), worse)
    assert not serves(good, finding("four", "not proven", None))


def finding(id: str, verdict: Verdict, margin: float | None) -> Finding:
    return Finding(id, "main", "", verdict, "", "", margin=margin)


def test_a_sound_design_needs_none() -> None:
    assert not any(f.remedies for f in mended(FIVE).findings)
