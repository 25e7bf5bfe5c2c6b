"""Two proofs side by side: which way each question went, and what margin it had before."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pages.fake_proof import fake_proof
from surveys.supplies import resistor, supply

from railwright.circuit.design import read_text
from railwright.circuit.differences import Differences
from railwright.prove.as_json import comparison_as_json
from railwright.prove.compare import Change, Compared, Comparison, _pairs, compare
from railwright.prove.proof import Finding, Proof, Verdict
from railwright.prove.run import prove


def finding(id: str) -> Finding:
    (found,) = (f for f in fake_proof().findings if f.id == id)
    return found


def proof_of(*findings: Finding) -> Proof:
    return replace(fake_proof(), findings=findings)


def comparison(before: Proof, after: Proof) -> Comparison:
    return Comparison(before, after, Differences([], [], []), list(_pairs(before, after)))


HEADROOM, SOUND = finding("headroom.series"), finding("wiring.feedback")


class TestChange:
    @pytest.mark.parametrize(
        ("verdicts", "reserves", "change", "gain"),
        [
            (("holds", "falls short"), (0.2, -0.1), "worse", -0.3),
            (("falls short", "holds"), (-0.1, 0.2), "better", 0.3),
            (("falls short", "not proven"), (-0.1, None), "better", 0.0),
            (("holds", "holds"), (0.30, 0.20), "worse", -0.1),
            (("holds", "holds"), (0.300, 0.304), "same", 0.0),
            (("holds", "holds"), (20.0, 20.1), "same", 0.0),
            (("holds", "holds"), (20.0, 21.0), "better", 1.0),
            (("not proven", "not proven"), (None, None), "same", 0.0),
        ],
    )
    def test_is_told_by_verdict_and_then_by_reserve(
        self,
        verdicts: tuple[Verdict, Verdict],
        reserves: tuple[float | None, float | None],
        change: Change,
        gain: float,
    ) -> None:
        before, after = (
            replace(HEADROOM, verdict=v, reserve=r) for v, r in zip(verdicts, reserves, strict=True)
        )
        compared = Compared(before, after)
        assert compared.change == change
        assert compared.gain == pytest.approx(gain)

    def test_what_one_proof_alone_has_is_new_or_gone(self) -> None:
        assert Compared(None, HEADROOM).change == "new"
        assert Compared(HEADROOM, None).change == "gone"


class TestPairs:
    def test_are_of_one_question_and_one_subject(self) -> None:
        other = replace(HEADROOM, subject="U9")
        found = comparison(proof_of(HEADROOM), proof_of(other))
        assert [(c.told.subject, c.change) for c in found.compared] == [
            ("U2", "gone"),
            ("U9", "new"),
        ]

    def test_a_fault_of_wiring_stands_beside_what_held(self) -> None:
        faults = [replace(SOUND, subject=ref, verdict="falls short") for ref in ("U1", "U2")]
        broken = comparison(proof_of(SOUND), proof_of(*faults))
        assert [(c.told.subject, c.change) for c in broken.compared] == [
            ("U1", "worse"),
            ("U2", "worse"),
        ]
        mended = comparison(proof_of(*faults), proof_of(SOUND))
        assert [(c.told.subject, c.change) for c in mended.compared] == [
            ("U1", "better"),
            ("U2", "better"),
        ]

    def test_wiring_that_holds_for_other_parts_is_as_before(self) -> None:
        found = comparison(proof_of(SOUND), proof_of(replace(SOUND, subject="U1, U9")))
        assert [c.change for c in found.compared] == ["same"]

    def test_come_worst_first(self) -> None:
        reserves = {"A": 0.5, "B": -0.5, "C": 0.1}
        before = [replace(HEADROOM, verdict="holds", reserve=0.9, subject=s) for s in reserves]
        after = [
            replace(f, reserve=reserves[f.subject], verdict=v)
            for f, v in zip(before, ("holds", "falls short", "holds"), strict=True)
        ]
        found = comparison(proof_of(*before), proof_of(*after))
        assert [c.told.subject for c in found.of("worse")] == ["B", "C", "A"]

    def test_what_was_worst_before_comes_first_among_what_is_better(self) -> None:
        before = [
            replace(HEADROOM, verdict=v, reserve=r, subject=s)
            for s, v, r in (("A", "holds", 0.2), ("B", "falls short", -0.1), ("C", "holds", 0.2))
        ]
        after = [
            replace(f, verdict="holds", reserve=r)
            for f, r in zip(before, (0.3, 0.1, 0.9), strict=True)
        ]
        found = comparison(proof_of(*before), proof_of(*after))
        assert [c.told.subject for c in found.of("better")] == ["B", "C", "A"]


def test_says_what_only_one_proof_did_not_ask() -> None:
    later = replace(fake_proof(), not_asked=[*fake_proof().not_asked[1:], "main: noise"])
    found = comparison(fake_proof(), later)
    assert (found.asked_now, found.asked_no_more) == (["main: ripple"], ["main: noise"])


def test_single_faults_are_told_where_their_severity_changed() -> None:
    grave, hidden = fake_proof().faults
    milder = replace(grave, severity="III")
    found = comparison(fake_proof(), replace(fake_proof(), faults=[hidden, milder]))
    assert [(f.before, f.after) for f in found.faults] == [(grave, milder)]
    gone = comparison(fake_proof(), replace(fake_proof(), faults=[hidden]))
    assert [(f.before, f.after) for f in gone.faults] == [(grave, None)]
    assert comparison(fake_proof(), replace(fake_proof(), faults=[])).faults == []
    told = comparison_as_json(found)["faults"]
    assert isinstance(told, list)
    assert [(f["part"], f["before"]["severity"], f["after"]["severity"]) for f in told] == [
        (grave.part, "I", "III")
    ]


def test_a_narrower_divider_gains_what_the_sum_says() -> None:
    """10 V halved: both resistors at the wrong ends of t give 5 V t off, against 3 % of 5 V."""

    def divider(tolerance: str) -> str:
        parts = resistor("R1", "IN", "OUT", 1000, tolerance)
        return supply(parts + resistor("R2", "OUT", "GND", 1000, tolerance), output=ACCURATE)

    designs = tuple(read_text(divider(t), "divider.toml") for t in ("4 %", "1 %"))
    found = compare((designs[0], designs[1]), (prove(designs[0]), prove(designs[1])))
    (better,) = (c for c in found.of("better") if c.told.id == "output.accuracy")
    assert better.before is not None
    assert better.after is not None
    assert (better.before.verdict, better.after.verdict) == ("falls short", "holds")
    assert better.gain == pytest.approx((4 - 1) / 3, rel=0.01)
    assert [part.ref for part in found.differences.parts] == ["R1", "R2"]
    told = comparison_as_json(found)
    assert isinstance(told["checks"], list)
    assert ("output.accuracy", "better") in {(c["id"], c["change"]) for c in told["checks"]}


ACCURATE = 'accuracy = "3 %"'
