"""The demo supply proves, and the board before it shows each of its five mistakes."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from railwright.catalogue.loader import load
from railwright.checks import every, every_faults, every_wiring
from railwright.circuit.design import Design, read, read_text
from railwright.engine import operating_point as engine
from railwright.engine.model import Lanes, Model
from railwright.prove.proof import FaultRow, Finding, Proof
from railwright.prove.run import prove
from railwright.surveys import cycles, survey
from railwright.surveys.fixture import Fixture
from railwright.surveys.situations import Thrift
from railwright.surveys.survey import Survey
from railwright.surveys.trips import deciding_comparators

Solver = Callable[..., Any]
EXAMPLES = Path(__file__).parents[2] / "examples"
GOOD = EXAMPLES / "radio-bench-rail.toml"
FIRST = EXAMPLES / "radio-bench-rail-first-board.toml"
MISTAKES = tomllib.loads((EXAMPLES / "first-board-mistakes.toml").read_text("utf-8"))["mistake"]
IN_CYCLES = {"ripple.output", "ripple.subharmonic", "stress.cycle"}
IN_USE = {"life.electrolytic", "stress.ripple-current"}  # in cycles where something switches
WITHOUT_SPREAD = {check.id for check in (*every_wiring(), *every_faults())}


@cache
def proof_of(path: Path) -> Proof:
    return prove(read(path))


def changed_tables() -> dict[str, tuple[str | None, str | None]]:
    """Ref -> its table in the first board and in the good one, where they differ."""
    first, good = (_tables(p.read_text("utf-8")) for p in (FIRST, GOOD))
    refs = [*first, *(r for r in good if r not in first)]
    return {r: (first.get(r), good.get(r)) for r in refs if first.get(r) != good.get(r)}


def _tables(text: str) -> dict[str, str]:
    pieces = text.split("\n[[part]]\n")[1:]
    tables = {}
    for piece in pieces:
        body = piece.split("\n\n# ")[0].rstrip() + "\n"
        tables[body.split('"')[1]] = "[[part]]\n" + body
    return tables


def corrected(refs: list[str]) -> Design:
    """The first board with the good board's table for each of these parts."""
    text = FIRST.read_text("utf-8")
    for ref in refs:
        first, good = changed_tables()[ref]
        assert good is not None
        if first is not None:
            text = text.replace(first, good)
        else:  # where the good board has it, so that its equations need not be compiled again
            text = text.replace(after := _next_table(ref), f"{good}\n{after}")
    return read_text(text, "corrected.toml")


def _next_table(ref: str) -> str:
    """The first table behind a part's in the good board that the first board has too."""
    tables = _tables(GOOD.read_text("utf-8"))
    behind = list(tables)[list(tables).index(ref) + 1 :]
    return next(tables[other] for other in behind if other not in changed_tables())


def names(finding: Finding, part: str) -> bool:
    first = finding.causes[0].part if finding.causes else ""
    return part in (finding.subject, first)


def named(proof: Proof) -> set[tuple[str, str]]:
    """The listed mistakes that a proof names: falls short, the part as subject or first cause."""
    return {
        (m["part"], m["check"])
        for m in MISTAKES
        for f in proof.findings
        if f.verdict == "falls short" and f.id == m["check"] and names(f, m["part"])
    }


ALL = {(m["part"], m["check"]) for m in MISTAKES}
REF_OF = {"wiring.pull-up": "R10", "wiring.enable": "U1", "output.range-top": "R3",
          "headroom.input-top": "U4", "overload.power-up": "U5"}  # fmt: skip


def test_the_demo_holds_or_is_marginal_everywhere() -> None:
    bad = [(f.id, f.subject, f.verdict, f.because) for f in proof_of(GOOD).findings
           if f.verdict not in ("holds", "marginal")]  # fmt: skip
    assert bad == []


def test_what_turns_over_as_the_brick_breaks_down_does_not_trip_it() -> None:
    """U5 goes low while the input is too low, as a short circuit makes it too."""
    assert deciding_comparators(Survey(Fixture.of(read(GOOD)))) == {"main": {"U4": 0.0}}


def test_every_finding_says_why_and_from_where() -> None:
    for finding in proof_of(GOOD).findings:
        assert finding.because, finding.id
        assert finding.source, finding.id
        if finding.id not in WITHOUT_SPREAD:
            assert finding.margin is not None
            assert finding.where is not None


def test_every_check_with_a_spread_looked_at_all_points_and_samples() -> None:
    found = [f for f in proof_of(GOOD).findings if f.id not in WITHOUT_SPREAD]
    cheap = {check.id for check in every() if check.situation.thrift == Thrift()}
    grid = [f for f in found if f.id in cheap - IN_USE]
    assert len(grid) > 60
    assert all(f.looked.points > 1 and f.looked.samples > 1 for f in found)
    cycles = [f for f in found if f.id in IN_CYCLES]
    assert {f.id for f in cycles} == IN_CYCLES
    assert all(f.looked.points == 36 and f.looked.samples == 64 for f in cycles)
    for finding in grid:
        assert finding.looked.points >= 200, finding.id
        assert finding.looked.samples == 2000
        at_least = finding.looked.points * 2 + 2000
        assert finding.looked.lanes >= at_least, (finding.id, finding.looked)


def test_no_spread_in_an_example_is_narrower_than_its_catalogue_row() -> None:
    catalogue = load()
    compared = 0
    for path in (GOOD, FIRST):
        for part in read(path).circuit.parts:
            for name, row in (catalogue[part.use].values if part.use else {}).items():
                if name not in part.values or not row.spread.typical:
                    continue
                own = part.values[name].spread
                wanted = row.spread.scaled(own.typical / row.spread.typical)
                slack = 1e-9 * abs(own.typical)
                assert own.low <= wanted.low + slack, (part.ref, name)
                assert own.high >= wanted.high - slack, (part.ref, name)
                assert own.drift >= wanted.drift, (part.ref, name)
                compared += 1
    assert compared > 200


def test_the_first_board_differs_in_exactly_five_parts() -> None:
    assert set(changed_tables()) == {"R10", "U1", "R3", "U4", "U5"}


def test_the_first_board_shows_all_five_mistakes() -> None:
    assert named(prove(read(FIRST), only={check for _, check in ALL})) == ALL


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda m: m["check"])
def test_correcting_one_mistake_leaves_the_other_four(mistake: dict[str, str]) -> None:
    proof = prove(corrected([REF_OF[mistake["check"]]]), only={check for _, check in ALL})
    assert named(proof) == ALL - {(mistake["part"], mistake["check"])}


def test_correcting_all_five_leaves_none() -> None:
    proof = prove(corrected(list(changed_tables())))
    assert [f.id for f in proof.findings if f.verdict in ("falls short", "not proven")] == []


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Counts the lanes that the engine is asked to solve."""
    solved: list[int] = []

    def counting(true: Solver) -> Solver:
        def solve(model: Model, lanes: Lanes, count: int, *more: Any, **named: Any) -> Any:
            solved.append(count)
            return true(model, lanes, count, *more, **named)

        return solve

    monkeypatch.setattr(survey, "operating_point", counting(engine.operating_point))
    monkeypatch.setattr(survey, "first_order", counting(engine.first_order))
    monkeypatch.setattr(cycles, "cycle", counting(cycles.cycle))
    return solved


def test_the_lanes_told_are_the_lanes_solved(counted: list[int]) -> None:
    proof = prove(read(GOOD), only=("headroom", "heat", "ripple"))
    assert proof.took.lanes == sum(counted) > 100_000
    assert max(f.looked.lanes for f in proof.findings) <= sum(counted)


class TestSingleFaults:
    """What the guard, the trip and the latch of the demo make of single faults."""

    def test_every_mode_of_every_part_has_its_row(self) -> None:
        parts = read(GOOD).circuit.parts
        told = [(row.part, row.share) for row in proof_of(GOOD).faults]
        assert told == [(part.ref, f.share) for part in parts for f in part.device.faults]
        assert not {row.severity for row in proof_of(GOOD).faults} & {"I", "not known"}

    def test_a_divider_that_opens_fires_the_guard(self) -> None:
        """Above the zener's least 14.25 V, and with what gate and zener need at most 17.3 V."""
        row = self.row("R4", "open")
        assert 14.25 < row.highest["main"] < 17.3
        assert "Q2 fires" in row.seen

    def test_what_rushes_through_a_shorted_regulator_trips_it(self) -> None:
        row = self.row("U2", "short input-output")
        assert "the latch trips" in row.seen
        assert row.highest["main"] < 15.0

    def test_a_trip_that_is_stuck_stays_hidden(self) -> None:
        assert "hidden" in self.row("U4", "stuck high").seen

    def row(self, ref: str, mode: str) -> FaultRow:
        (found,) = (r for r in proof_of(GOOD).faults if (r.part, r.mode) == (ref, mode))
        return found
