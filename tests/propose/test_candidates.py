"""What becomes of the sketches: proved, replaced by the next, mended, withdrawn with a reason."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace
from pathlib import Path

import pytest

from railwright.architectures.architecture import Task
from railwright.architectures.fixed_linear import FixedLinear
from railwright.catalogue.loader import load
from railwright.circuit.design import Design, read_text
from railwright.propose import candidates
from railwright.propose.as_json import as_json, exit_status
from railwright.propose.better import Prove
from railwright.propose.candidates import (
    MOST_OPEN,
    HasCircuit,
    Proposal,
    breaches,
    propose,
    rank,
    serves,
)
from railwright.propose.draft import drafted, with_nets
from railwright.propose.figures import figures_of
from railwright.propose.reasons import reason
from railwright.propose.tried import Tried
from railwright.propose.written import path_of, refuse_taken, write_candidates
from railwright.prove.proof import Change, Proof, Remedy, Verdict
from railwright.surveys.depth import DEFAULT, QUICK, Depth
from tests.architectures.needs import PLAIN
from tests.propose.proposals import Refusing, Wired, by_resistance, finding, proof_of

NEED = read_text(PLAIN, "need")


def unmended(design: Design, text: str, proof: Proof, *_: object) -> Proof:
    """Stands for `remedied` where nothing mends."""
    return proof


@pytest.fixture
def wired(monkeypatch: pytest.MonkeyPatch) -> Wired:
    """An architecture of three sketches, none of which is solved."""
    monkeypatch.setattr(candidates, "remedied", unmended)
    return Wired()


def proposed(wired: Wired, depth: Depth = QUICK) -> Proposal:
    return propose(NEED, PLAIN, depth=depth, architectures=[wired, Refusing()])


class TestServes:
    @pytest.mark.parametrize("family", candidates.KEY_FAMILIES)
    def test_not_what_is_open_where_it_counts(self, family: str) -> None:
        assert not serves(proof_of(finding(f"{family}.x", "not proven")))
        assert serves(proof_of(finding(f"{family}.x", "marginal")))

    def test_not_what_falls_short_anywhere(self) -> None:
        assert not serves(proof_of(finding("life.electrolytic", "falls short")))

    def test_what_leaves_little_open_elsewhere(self) -> None:
        few = [finding(f"transient.{n}", "not proven") for n in range(MOST_OPEN)]
        assert serves(proof_of(*few))
        assert not serves(proof_of(*few, finding("noise.output", "not proven")))

    def test_the_worst_breach_is_told_first(self) -> None:
        proof = proof_of(
            finding("output.accuracy", "not proven"), finding("heat.touch", "falls short")
        )
        assert breaches(proof)[0].id == "heat.touch"


class TestPropose:
    def test_the_next_sketch_takes_the_place_of_one_that_falls_short(
        self, wired: Wired, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        verdicts: dict[str, Verdict] = {"1": "falls short", "0.1": "holds", "0.01": "holds"}
        monkeypatch.setattr(candidates, "prove", by_resistance(verdicts))
        monkeypatch.setattr(candidates, "figures_of", lambda *_: None)
        monkeypatch.setattr(candidates, "rank", lambda _: 0)
        (found,) = proposed(wired).candidates
        assert 'resistance = "100 mΩ"' in found.text
        assert found.depth is QUICK

    def test_what_others_fell_short_of_is_asked_first_and_the_rest_where_that_holds(
        self, wired: Wired, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        asked: list[set[str]] = []
        verdicts: dict[str, Verdict] = {"1": "falls short", "0.1": "falls short", "0.01": "holds"}
        by_wire = by_resistance(verdicts)

        def prove(design: Design, only: Collection[str], **_: object) -> Proof:
            asked.append(set(only))
            return by_wire(design)

        monkeypatch.setattr(candidates, "prove", prove)
        monkeypatch.setattr(candidates, "improved", lambda first, *_: first)
        monkeypatch.setattr(candidates, "figures_of", lambda *_: None)
        monkeypatch.setattr(candidates, "rank", lambda _: 0)
        (found,) = proposed(wired).candidates
        assert 'resistance = "10 mΩ"' in found.text
        one = {"output.accuracy"}
        assert asked == [set(), one, one, set()]

    def test_what_falls_short_throughout_is_withdrawn_with_its_reason(
        self, wired: Wired, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        verdicts: dict[str, Verdict] = dict.fromkeys(("1", "0.1", "0.01"), "falls short")
        monkeypatch.setattr(candidates, "prove", by_resistance(verdicts))
        found = proposed(wired)
        assert found.candidates == ()
        refused, fallen = found.withdrawn
        assert (refused.reason, refused.proved) == ("12 V are more than 11 V", False)
        assert fallen.proved
        assert fallen.reason == "output.accuracy of U1 falls short: So it is."
        assert found.recommended is None
        assert reason(found) == ""
        assert exit_status(found) == 1
        assert as_json(found)["candidates"] == []

    def test_a_remedy_is_put_into_the_text_and_proved(
        self, wired: Wired, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        verdicts: dict[str, Verdict] = dict.fromkeys(("1", "0.1", "0.01"), "falls short")
        monkeypatch.setattr(candidates, "prove", by_resistance({**verdicts, "0.001": "holds"}))
        monkeypatch.setattr(candidates, "figures_of", lambda *_: None)
        monkeypatch.setattr(candidates, "rank", lambda _: 0)

        def remedied(design: Design, text: str, proof: Proof, *_: object) -> Proof:
            change = Change("W1", "resistance", "1 Ω", "1 mΩ")
            mended = Remedy((change,), -0.1, 0.1, 0.1)
            return proof_of(*[replace(f, remedies=(mended,)) for f in proof.findings])

        monkeypatch.setattr(candidates, "remedied", remedied)
        (found,) = proposed(wired).candidates
        assert [change.to for change in found.changes] == ["1 mΩ"]
        assert found.design.circuit.part("W1").values["resistance"].spread.typical == 1e-3
        assert "1 mΩ instead of 1 Ω" in found.design.circuit.part("W1").why

    def test_what_holds_at_quick_and_falls_at_default_is_not_written(
        self, wired: Wired, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ) -> None:
        def prove(design: Design, depth: Depth, **_: object) -> Proof:
            return proof_of(finding("stress.rating", "holds" if depth is QUICK else "falls short"))

        monkeypatch.setattr(candidates, "prove", prove)
        monkeypatch.setattr(candidates, "figures_of", lambda *_: None)
        monkeypatch.setattr(candidates, "rank", lambda _: 0)
        found = proposed(wired, DEFAULT)
        assert found.candidates == ()
        assert list(write_candidates(found, tmp_path / "new", "need")) == []

    @pytest.mark.parametrize(("deeper", "stands"), [("marginal", "1 Ω"), ("holds", "100 mΩ")])
    def test_what_was_made_better_stands_only_where_it_is_no_worse_when_proved_deeper(
        self, wired: Wired, monkeypatch: pytest.MonkeyPatch, deeper: Verdict, stands: str
    ) -> None:
        at_default: dict[str, Verdict] = {"1": "holds", "0.1": deeper, "0.01": "holds"}
        deep, quick = by_resistance(at_default), by_resistance(dict.fromkeys(at_default, "holds"))

        def prove(design: Design, depth: Depth, **_: object) -> Proof:
            return (quick if depth is QUICK else deep)(design)

        def improved(first: Tried, sketches: Iterable[str], _: object, proved: Prove) -> Tried:
            return proved(next(iter(sketches)), (), ())

        monkeypatch.setattr(candidates, "prove", prove)
        monkeypatch.setattr(candidates, "improved", improved)
        monkeypatch.setattr(candidates, "figures_of", lambda *_: None)
        monkeypatch.setattr(candidates, "rank", lambda _: 0)
        (found,) = proposed(wired, DEFAULT).candidates
        assert f'resistance = "{stands}"' in found.text

    def test_a_file_with_a_circuit_is_refused(self, wired: Wired) -> None:
        named = with_nets(PLAIN, NEED)
        task = Task(read_text(named, "need").need, {}, NEED.derating)
        offer = wired.offer(task)
        assert isinstance(offer, tuple)
        text = drafted(named, offer[0])
        with pytest.raises(HasCircuit, match="has parts already"):
            propose(read_text(text, "need"), text)


def test_parts_of_ones_own_are_offered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "mine.toml").write_text(
        '["7810 type 1 A"]\nlike = "7805 type 1 A"\ntrade = "7810"\noutput_voltage = { min = 9.5, '
        'typical = 10.0, max = 10.5, unit = "V", at = "over temperature", from = "a test" }\n',
        encoding="utf-8",
    )
    monkeypatch.setattr(candidates, "prove", lambda *_, **__: proof_of())
    monkeypatch.setattr(candidates, "figures_of", lambda *_: None)
    monkeypatch.setattr(candidates, "rank", lambda _: 0)
    text = PLAIN.replace('"12 V", max = "12 V"', '"10 V", max = "10 V"')
    text += '\n[need.parts]\nown = "mine.toml"\n'
    need = read_text(text, "need", path=tmp_path / "need.toml")
    (found,) = propose(need, text, depth=QUICK, architectures=[FixedLinear()]).candidates
    assert found.design.circuit.part("U1").use == "7810 type 1 A"


@pytest.fixture(scope="module")
def real() -> Proposal:
    """A real one, at depth quick."""
    return propose(NEED, PLAIN, depth=QUICK, architectures=[FixedLinear()])


def test_a_fixed_linear_supply_proves_and_loses_what_a_sum_by_hand_says(real: Proposal) -> None:
    (found,) = real.candidates
    assert found.proof.verdict in ("holds", "marginal")
    # typical parts: 300 mA and 5 mA of its own at 12 V, less what line and load regulation move
    nominal, worst = found.figures.at_nominal, found.figures.at_worst
    assert nominal.given == pytest.approx(12.0 * 0.3, rel=0.01)
    assert nominal.taken == pytest.approx(18.0 * 0.305, rel=0.01)
    assert nominal.efficiency == pytest.approx(12.0 * 0.3 / (18.0 * 0.305), rel=0.01)
    assert worst.loss == pytest.approx(19.0 * 0.305 - 12.0 * 0.3, rel=0.02)
    assert found.figures.parts == len(found.design.circuit.parts)
    assert len(found.figures.sinks) == 1
    hottest = found.figures.hottest
    assert hottest is not None
    assert hottest.value is not None
    assert 313.15 < hottest.value < 363.15


@pytest.mark.parametrize("id", ["ripple.output", "ripple.mains"])
def test_what_the_mains_leave_at_the_terminals_is_ripple_too(real: Proposal, id: str) -> None:
    proof = proof_of(replace(finding(id, "holds"), value=1e-3))
    ripple = figures_of(real.candidates[0].design, proof, load()).ripple
    assert ripple is not None
    assert ripple.id == id


def test_at_depth_quick_none_is_recommended(real: Proposal) -> None:
    assert real.recommended is None
    assert as_json(real)["recommended"] is None
    assert exit_status(real) == 0


def test_the_reason_has_two_sentences_and_tells_what_decides(real: Proposal) -> None:
    (found,) = real.candidates
    deep = replace(found, depth=DEFAULT)
    parts = replace(found.figures, parts=found.figures.parts + 3)
    other = replace(deep, architecture="other", figures=parts)
    told = reason(Proposal("a need", (deep, other), ()))
    assert told.count(". ") == 1
    assert told.endswith(f"it has {deep.figures.parts} instead of {deep.figures.parts + 3} parts.")
    assert rank(deep) < rank(other) < rank(found)
    assert reason(Proposal("a need", (deep,), ())).endswith("the only kind that serves this need.")


def test_what_is_written_is_the_design_that_was_proved(real: Proposal, tmp_path: Path) -> None:
    folder = tmp_path / "new"
    assert refuse_taken(folder, "need") is None
    (path,) = write_candidates(real, folder, "need")
    assert path == path_of(folder, "need", "fixed linear")
    assert path.read_text(encoding="utf-8") == real.candidates[0].text
    assert refuse_taken(folder, "need") == path
