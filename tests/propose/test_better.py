"""The joint choice: what is better is found and told, nothing is invented, nothing gets worse."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from itertools import pairwise

import pytest

from railwright.architectures.architecture import Architecture, Refusal
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.step_down import StepDown
from railwright.catalogue.loader import load
from railwright.circuit.design import Design, read_text
from railwright.circuit.writer import set_value
from railwright.propose.better import (
    MOST_CHEAPENED,
    MOST_RAISED,
    Worth,
    improved,
    is_worse,
    worth_of,
)
from railwright.propose.draft import drafted, with_nets
from railwright.propose.tried import Tried
from railwright.prove.proof import Change
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK
from tests.architectures.needs import EXAMPLES, PLAIN, task_of
from tests.propose.proposals import finding, proof_of

CATALOGUE = load()


@dataclass
class Proving:
    """Proves texts at depth quick, and remembers how many whole ones."""

    whole: list[str] = field(default_factory=list)

    def __call__(self, text: str, changes: tuple[Change, ...], only: Collection[str]) -> Tried:
        design = read_text(text, "draft")
        if not only:
            self.whole.append(text)
        proof = prove(design, depth=QUICK, only=only, suspecting=False)
        return Tried(text, design, proof, changes)


def sketched(architecture: Architecture, need: str) -> str:
    """The text of the first sketch for a need."""
    offer = architecture.offer(task_of(need))
    assert not isinstance(offer, Refusal)
    return drafted(with_nets(need, read_text(need, "need")), offer[0])


class TestWorth:
    def test_the_worst_reserve_comes_before_the_next_and_that_before_cost(self) -> None:
        order = [
            Worth((), 5.0, 10),
            Worth((), 5.0, 11),
            Worth((), 9.0, 9),
            Worth((-2,), 1.0, 5),
            Worth((-2, -1), 1.0, 5),
            Worth((-3,), 1.0, 5),
        ]
        for better, worse in pairwise(order):
            assert better.exceeds(worse)
            assert not worse.exceeds(better)

    def test_a_verdict_that_falls_is_worse_and_so_is_a_new_one_that_does_not_hold(self) -> None:
        before = proof_of(finding("heat.junction", "holds", 0.3), finding("a.b", "marginal", 0.05))
        assert not is_worse(before, before)
        less = finding("heat.junction", "holds", 0.11), finding("a.b", "holds", 0.2)
        assert not is_worse(proof_of(*less), before)
        assert is_worse(proof_of(finding("heat.junction", "marginal", 0.09)), before)
        assert is_worse(proof_of(finding("a.b", "not proven")), before)
        assert is_worse(proof_of(finding("c.d", "marginal", 0.05)), before)


@pytest.fixture(scope="module")
def found() -> tuple[Tried, Tried, Proving]:
    """A step-down whose fuse is just large enough, with a sink that is too good: made better."""
    need = (EXAMPLES / "mast-amplifier-twelve-volts.toml").read_text(encoding="utf-8")
    proving = Proving()
    small = set_value(sketched(StepDown(), need), "F1", "use", "fuse T 0.8 A")
    first = proving(small, (), ())
    proving.whole.clear()
    return first, improved(first, (), CATALOGUE, proving), proving


class TestReal:
    def test_what_lacks_reserve_gets_it(self, found: tuple[Tried, Tried, Proving]) -> None:
        first, better, _ = found
        assert [f.subject for f in first.proof.findings if f.verdict == "marginal"] == [
            "F1 rated_current"
        ]
        assert all(f.verdict == "holds" for f in better.proof.findings)

    def test_it_costs_no_more_than_it_has_to(self, found: tuple[Tried, Tried, Proving]) -> None:
        first, better, _ = found
        assert worth_of(better, CATALOGUE).cost < worth_of(first, CATALOGUE).cost
        assert not is_worse(better.proof, first.proof)

    def test_each_change_tells_its_reserves(self, found: tuple[Tried, Tried, Proving]) -> None:
        first, better, _ = found
        assert {change.part for change in better.changes} == {"F1", "H1"}
        for change in better.changes:
            why = better.design.circuit.part(change.part).why
            assert why.startswith(f"{change.to} instead of {change.now}, ")
            assert " in reserve instead of " in why
            assert why.endswith(first.design.circuit.part(change.part).why)
            assert better.design.circuit.part(change.part).use == change.to

    def test_the_text_is_what_was_proved(self, found: tuple[Tried, Tried, Proving]) -> None:
        _, better, proving = found
        assert better.text in proving.whole
        assert len(proving.whole) <= MOST_RAISED + MOST_CHEAPENED


def test_where_nothing_is_better_nothing_is_invented() -> None:
    proving = Proving()
    first = proving(sketched(FixedLinear(), PLAIN), (), ())
    better = improved(first, (), CATALOGUE, proving)
    assert improved(better, (), CATALOGUE, proving) is better


def test_what_holds_is_not_traded_for_less() -> None:
    """A proof that calls every other text marginal: each change is seen, none is taken."""
    first = Proving()(sketched(FixedLinear(), PLAIN), (), ())
    dear = set_value(first.text, "H1", "use", "heat sink 1.3 K/W")
    first = Tried(dear, read_text(dear, "draft"), first.proof)

    def doubtful(text: str, changes: tuple[Change, ...], only: Collection[str]) -> Tried:
        findings = [replace(f, verdict="marginal") for f in first.proof.findings]
        return Tried(text, read_text(text, "draft"), replace(first.proof, findings=findings))

    assert improved(first, (), CATALOGUE, doubtful) is first


def test_what_the_file_refuses_is_passed_over() -> None:
    """Another sink would be for sale for less; it does not go in its place."""
    text = sketched(FixedLinear(), PLAIN)
    first = Tried(text, read_text(text, "draft"), proof_of())
    refused = []

    def unread(text: str, changes: tuple[Change, ...], only: Collection[str]) -> Tried:
        refused.append(changes)
        return Tried(
            text, read_text(text.replace('kind = "fuse"', 'kind = "fuze"'), ""), proof_of()
        )

    assert improved(first, (), CATALOGUE, unread) is first
    assert refused


def test_another_sketch_is_taken_where_it_lacks_less() -> None:
    text = sketched(FixedLinear(), PLAIN)
    larger = set_value(text, "H1", "why", "the next larger")
    reserves = {text: 0.04, larger: 0.2}

    def proved(text: str, changes: tuple[Change, ...], only: Collection[str]) -> Tried:
        lacks = reserves.get(text, 0.04) < 0.1
        found = finding("heat.junction", "marginal" if lacks else "holds", 0.04 if lacks else 0.2)
        found = replace(found, subject="U1 junction_limit")
        return Tried(text, read_text(text, "draft"), proof_of(found), changes)

    first = proved(text, (), ())
    assert improved(first, (larger,), CATALOGUE, proved).text == larger
    assert improved(first, (text,), CATALOGUE, proved).text != larger


def test_a_part_is_not_exchanged_for_one_of_another_value() -> None:
    """The ceramic at the pins could be had for less with less of it."""
    need = (EXAMPLES / "lamp-panel-twelve-volts.toml").read_text(encoding="utf-8")
    first = Proving()(sketched(StepDown(), need), (), ())
    better = improved(first, (), CATALOGUE, Proving())
    assert farads(better.design) == farads(first.design)


def farads(design: Design) -> dict[str, float]:
    """Capacitances by ref."""
    return {
        part.ref: part.values["capacitance"].spread.typical
        for part in design.circuit.parts
        if part.kind == "capacitor"
    }
