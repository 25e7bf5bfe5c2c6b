"""Verdicts, what a proof says of what it could not look at, and that a seed gives one proof."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply

from railwright.checks.check import Check, at_least
from railwright.circuit.design import read, read_text
from railwright.engine import operating_point as engine
from railwright.prove import run, single_faults
from railwright.prove.as_json import as_json
from railwright.prove.proof import Finding, Proof, Took, Verdict
from railwright.prove.run import NothingToProve, _map, prove
from railwright.prove.unasked import cautions, not_asked
from railwright.surveys import survey
from railwright.surveys.depth import DEEP, DEFAULT, QUICK
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import SOURCE
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.survey import Survey

ROOT = Path(__file__).parents[2]
TRIPPING = ROOT / "tests" / "data" / "tripping_rail.toml"
BUFFERED = ROOT / "tests" / "data" / "buffered_reference.toml"
DEMO = ROOT / "examples" / "radio-bench-rail.toml"


def divider(accuracy: str = "3 %", policy: str = "", **ranges: Any) -> str:
    """10 V halved by resistors of 1 % and 2 %: at worst it is 75.4 mV off."""
    parts = resistor("R1", "IN", "OUT", 1000, "1 %") + resistor("R2", "OUT", "GND", 1000, "2 %")
    return supply(parts, output=f'accuracy = "{accuracy}"', policy=policy, **ranges)


@cache
def proof_of(text: str, seed: int = 1) -> Proof:
    return prove(read_text(text, "run.toml"), seed=seed)


def accuracy(text: str) -> Finding:
    return the(proof_of(text), "output.accuracy")


def the(proof: Proof, check: str) -> Finding:
    (found,) = [f for f in proof.findings if f.id == check]
    return found


@pytest.mark.parametrize(
    ("allowed", "reserve", "verdict"),
    [
        ("3 %", "10 %", "holds"),
        ("3 %", "49 %", "holds"),  # 75.4 of 150 mV: half is left
        ("3 %", "51 %", "marginal"),
        ("1.6 %", "10 %", "marginal"),
        ("1.6 %", "0 %", "holds"),
        ("1.5 %", "0 %", "falls short"),
    ],
)
def test_the_verdict_follows_margin_and_reserve(
    allowed: str, reserve: str, verdict: Verdict
) -> None:
    found = accuracy(divider(allowed, f'reserve = "{reserve}"'))
    assert found.verdict == verdict
    assert found.margin is not None
    assert (found.margin < 0) == (verdict == "falls short")


@pytest.mark.parametrize(
    ("wanted", "verdict"), [("", "falls short"), ("yield = 0.5", "marginal"),
                            ("yield = 0.9", "falls short")],
)  # fmt: skip
def test_the_yield_decides_only_where_it_is_stated(wanted: str, verdict: Verdict) -> None:
    # 50 mV are a difference of 2 % between tolerances of 1 % and 2 %: an eighth of all pairs
    # (the corners of a rectangle) lie beyond.
    found = accuracy(divider("1 %", wanted))
    assert found.verdict == verdict
    assert found.margin is not None
    assert found.margin < 0
    assert found.passing is not None
    assert found.passing.estimate == pytest.approx(0.875, abs=0.005)
    assert found.passing.low < 0.875 < found.passing.high
    assert found.looked.samples == found.passing.samples == DEFAULT.samples


def finding(verdict: Verdict, reserve: float | None) -> Finding:
    return Finding("some.check", "U1", "Is it?", verdict, "so", "a book", reserve=reserve)


def proof_with(*findings: Finding) -> Proof:
    return Proof("a design", 1, findings, (), (), Took(0.0, 0, 0, 0))


@pytest.mark.parametrize(
    ("found", "worst"),
    [
        (("holds", "holds"), "holds"),
        (("holds", "marginal"), "marginal"),
        (("marginal", "not proven", "holds"), "not proven"),
        (("not proven", "falls short", "marginal"), "falls short"),
        ((), "not proven"),
    ],
)
def test_the_worst_of_all_verdicts_stands_for_all(
    found: tuple[Verdict, ...], worst: Verdict
) -> None:
    assert proof_with(*(finding(v, 0.5) for v in found)).verdict == worst


def test_the_ledger_begins_with_the_worst() -> None:
    found = [
        finding("holds", None), finding("holds", 0.2), finding("marginal", 0.05),
        finding("falls short", -0.1), finding("not proven", None), finding("falls short", -0.5),
    ]  # fmt: skip
    ledger = [(f.verdict, f.reserve) for f in proof_with(*found).ledger]
    assert ledger == [
        ("falls short", -0.5), ("falls short", -0.1), ("not proven", None), ("marginal", 0.05),
        ("holds", 0.2), ("holds", None),
    ]  # fmt: skip


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[..., Any]], None]:
    """Lets the engine give up in chosen lanes: those of a mask made of the lanes' inputs."""

    def install(lost: Callable[..., Any]) -> None:
        true = engine.operating_point

        def solve(model: Any, lanes: Any, count: int, *more: Any, **named: Any) -> Any:
            at = true(model, lanes, count, *more, **named)
            volts = np.broadcast_to(lanes[SOURCE, "voltage"], count)
            at.solved[lost(volts)] = False
            return at

        monkeypatch.setattr(survey, "operating_point", solve)

    return install


RANGE = {"input": (9.9, 10.0, 10.1)}


@pytest.mark.parametrize("policy", ["", "yield = 0.5"])
def test_what_needs_an_unsolved_lane_is_not_proven(
    failing: Callable[[Callable[..., Any]], None], policy: str
) -> None:
    text = divider("20 %", policy, **RANGE)
    assert prove(read_text(text, "run.toml")).verdict == "holds"
    failing(lambda volts: volts > 10.05)
    proof = prove(read_text(text, "run.toml"))
    assert proof.verdict == "not proven"
    for found in proof.findings:
        if not found.id.startswith("wiring."):
            assert found.verdict == "not proven", found.id
            assert "lanes could not be solved" in found.because


@dataclass
class Fickle(Check):
    """A question that is answered otherwise where many lanes are looked at together."""

    alone: float
    together: float
    id = ""
    situation = AS_SET

    def subjects(self, survey: Survey) -> list[str]:
        return ["main"]

    def answer(self, view: View, subject: str) -> Answer:
        alone = view.points.count == 1
        return at_least(np.full(view.points.count, self.alone if alone else self.together), 0.0)


@pytest.mark.parametrize(
    ("alone", "together", "reason"),
    [
        (np.inf, 1.0, "is not found in its lane by itself"),
        (np.nan, np.nan, "lanes were solved, but tell no margin, first at"),
    ],
)
def test_why_a_margin_is_not_known_is_told(
    monkeypatch: pytest.MonkeyPatch, alone: float, together: float, reason: str
) -> None:
    """Every lane is solved: none of the reasons is that some were not."""
    check = Fickle(alone, together)
    monkeypatch.setattr(check, "id", "fickle.one", raising=False)
    monkeypatch.setattr(run, "every", lambda: [check])
    proof = prove(read_text(divider("20 %", **RANGE), "run.toml"))
    (found,) = [f for f in proof.findings if f.id == "fickle.one"]
    assert found.verdict == "not proven"
    assert reason in found.because
    assert "could not be solved" not in found.because


def test_a_polar_part_is_not_proven_where_a_lasting_state_is_unsolved(
    failing: Callable[[Callable[..., Any]], None],
) -> None:
    text = divider("20 %", **RANGE) + STORE
    assert the(prove(read_text(text, "run.toml")), "wiring.reversed").verdict == "holds"
    failing(lambda volts: volts > 10.05)
    found = the(prove(read_text(text, "run.toml")), "wiring.reversed")
    assert found.verdict == "not proven"
    assert "operating points were not solved" in found.because


def test_a_shortfall_that_was_found_stands_beside_unsolved_lanes(
    failing: Callable[[Callable[..., Any]], None],
) -> None:
    failing(lambda volts: volts > 10.05)
    found = the(prove(read_text(divider("1 %", **RANGE), "run.toml")), "output.accuracy")
    assert found.verdict == "falls short"
    assert found.margin is not None
    assert found.margin < 0


def test_where_nothing_is_solved_nothing_is_proven(
    failing: Callable[[Callable[..., Any]], None],
) -> None:
    failing(lambda volts: volts > 0.0)
    proof = prove(read_text(divider(**RANGE), "run.toml"))
    assert {f.verdict for f in proof.findings if not f.id.startswith("wiring.")} == {"not proven"}
    found = the(proof, "output.accuracy")
    assert (found.value, found.margin, found.reserve) == (None, None, None)
    assert (found.looked.samples, found.passing, found.samples) == (0, None, None)


def test_a_rating_that_nobody_states_is_not_proven() -> None:
    proof = proof_of(divider().replace('rated_power = "0.25 W"', "", 1))
    (found,) = [f for f in proof.findings if f.subject == "R1 rated_power"]
    assert found.verdict == "not proven"
    assert "no rated power is known for R1. State rated_power, or name a" in found.because
    assert found.looked.lanes == 0
    assert found.unit == "W"
    assert proof.verdict == "not proven"
    (other,) = [f for f in proof.findings if f.subject == "R2 rated_power"]
    assert other.verdict == "holds"


def test_an_assumed_spread_that_matters_is_told() -> None:
    text = divider().replace('{ typical = "1000 Ω", tolerance = "1 %" }', '"1000 Ω"')
    assert accuracy(text).assumed == ["R1.resistance"]
    assert accuracy(divider()).assumed == []


@cache
def without_pull_up() -> Proof:
    text = TRIPPING.read_text("utf-8")
    return prove(read_text(text[: text.index('[[part]]\nref = "R4"')], "run.toml"))


def test_findings_that_lean_on_a_mend_say_so() -> None:
    proof = without_pull_up()
    fault = the(proof, "wiring.pull-up")
    assert fault.verdict == "falls short"
    assert not fault.assumed
    later = [f for f in proof.findings if not f.id.startswith("wiring.")]
    assert len(later) > 20
    for found in later:
        assert any("pull-up of 10 kΩ" in words for words in found.assumed), found.id


def test_a_mend_lets_the_other_questions_be_answered() -> None:
    acts = the(without_pull_up(), "overload.acts")
    assert acts.verdict in ("holds", "marginal")


def test_what_is_not_asked_is_listed() -> None:
    text = "\n".join(not_asked(read(DEMO)))
    for words in ("main: spikes", "see beyond their supplies for a moment"):
        assert words in text
    assert "main: ripple" not in text  # looked at, cycle by cycle
    quiet = divider('3 %"\nripple = "1 mV')
    assert "nothing in it switches" in "\n".join(not_asked(read_text(quiet, "run.toml")))
    less = "\n".join(not_asked(read_text(divider(), "run.toml")))
    assert "ripple" not in less
    assert "noise" not in less
    assert "beyond their supplies" not in less


def test_what_a_load_does_not_say_of_itself_is_listed() -> None:
    brings, kicks = "when it is connected", "goes on taking its current"
    plain = "\n".join(not_asked(read_text(divider(), "run.toml")))
    assert brings in plain
    assert kicks in plain
    load = '3 %"\n[[need.output.load]]\nkind = "inductive"\ninductance = "1 mH"\ncharged = "5 V'
    said = "\n".join(not_asked(read_text(divider(load), "run.toml")))
    assert brings not in said
    assert kicks not in said
    passing = "peaks of current in transistors"
    assert passing in "\n".join(not_asked(read(DEMO)))
    assert passing not in plain


def test_loads_and_references_that_nothing_looks_at_are_listed() -> None:
    lamp = read(ROOT / "tests" / "data" / "night_lamp.toml")
    assert any("loads of the kind lamp" in text for text in not_asked(lamp))
    floating = divider().replace('"common with input"', '"floating"')
    assert "floating" in "\n".join(not_asked(read_text(floating, "run.toml")))
    plain = "\n".join(not_asked(read_text(divider(), "run.toml")))
    assert "floating" not in plain
    assert "loads of the kind" not in plain


CURRENT_CONTROL = """
[[control]]
part = "RV1"
value = "position"
sets = "main.current"
role = "set"
"""
TRACK = part(
    "RV1",
    "potentiometer",
    "one = IN, wiper = LIMIT, two = GND",
    'use = "potentiometer single-turn 2 kΩ"',
)


def test_a_control_of_a_current_is_listed_as_not_looked_at() -> None:
    text = divider() + TRACK + CURRENT_CONTROL
    (told,) = [t for t in not_asked(read_text(text, "run.toml")) if "RV1" in t]
    assert told == "main: less current than RV1 lets through at its end"
    voltage = text.replace("main.current", "main.voltage")
    assert "RV1" not in "\n".join(not_asked(read_text(voltage, "run.toml")))


def test_a_proof_carries_what_was_not_asked_and_its_cautions() -> None:
    design = read_text(divider(), "run.toml")
    left_out = [*single_faults.left_out(design, DEFAULT), *not_asked(design)]
    deeper, asked = "over more of the spread (deep)", proof_of(divider()).not_asked
    assert [text for text in asked if not text.endswith(deeper)] == left_out
    assert list(proof_of(divider()).cautions) == cautions(design)


HEAT_SINK = part("H1", "heat-sink", "face = IN, air = AMBIENT", 'resistance = "10 K/W"')
STORE = part(
    "C1",
    "capacitor",
    "plus = IN, minus = GND",
    'use = "electrolytic 470 µF 35 V low-ESR"\n'
    'capacitance = { typical = "4700 µF", tolerance = "20 %" }',
)


@pytest.mark.parametrize(
    ("text", "words", "told"),
    [
        (divider(), "kill", False),
        (divider(input=(40.0, 50.0, 70.0)), "kill", True),
        (divider(volts=(70.0, 70.0)), "guard the terminals", True),
        (divider(), "guard the terminals", False),
        (divider().replace('"dc"', '"battery"'), "fuse it at its pole", True),
        (divider(), "fuse it at its pole", False),
        (divider() + HEAT_SINK.replace("IN", "HOT"), "Heat sinks get hot", True),
        (divider(), "Heat sinks get hot", False),
        (divider(input=(20.0, 24.0, 30.0)) + STORE, "Charge stays in C1", True),
        (divider() + STORE, "Charge stays in C1", False),  # 5.6 mF at 10 V: 0.28 J
        (divider(), "source with a current limit", True),
    ],
)
def test_cautions_where_the_design_calls_for_them(text: str, words: str, told: bool) -> None:
    found = cautions(read_text(text, "run.toml"))
    assert any(words in caution for caution in found) == told


def test_warnings_of_the_catalogue_are_cautions_told_once() -> None:
    rectifiers = "".join(
        part(ref, "diode", "anode = IN, cathode = OUT", 'use = "1N5822"') for ref in ("D1", "D2")
    )
    (told,) = [c for c in cautions(read_text(divider() + rectifiers, "run.toml")) if "D1" in c]
    assert told == "D1, D2: Schottky: its reverse current doubles about every 10 K."


def plain(proof: Proof) -> dict[str, object]:
    found = as_json(proof)
    return {key: value for key, value in found.items() if key != "took"}


def test_the_same_seed_gives_the_same_proof() -> None:
    design = read_text(divider("1.4 %"), "run.toml")
    assert plain(prove(design, seed=3)) == plain(prove(design, seed=3))


def test_another_seed_draws_other_samples_and_finds_the_same_extreme() -> None:
    one, other = proof_of(divider("1 %"), 1), proof_of(divider("1 %"), 2)
    assert (one.seed, other.seed) == (1, 2)
    first, second = the(one, "output.accuracy"), the(other, "output.accuracy")
    assert first.margin == second.margin
    assert first.samples is not None
    assert second.samples is not None
    assert not np.array_equal(first.samples, second.samples)


SECOND = """
[[need.output]]
name = "raw"
nets = { plus = "IN", minus = "GND" }
reference = "common with input"
voltage = { min = "10 V", max = "10 V" }
current = { min = "0 A", max = "0.1 A" }
accuracy = "1 %"
"""


def test_every_rail_is_asked_about_over_the_range_of_all() -> None:
    text = divider().replace("[need.surroundings]", SECOND + "[need.surroundings]")
    found = {f.subject: f for f in proof_of(text).findings if f.id == "output.accuracy"}
    assert set(found) == {"main", "raw"}
    assert found["main"].value == pytest.approx(accuracy(divider()).value)
    assert found["raw"].verdict == "holds"
    where = found["raw"].where
    assert where is not None
    assert set(where.outputs) == set(where.loads) == {"main", "raw"}
    shown = found["main"].map
    assert shown is not None
    assert list(shown.axes) == [
        "output main", "output raw", "load main", "load raw", "input", "ambient",
    ]  # fmt: skip
    assert shown.margins.size == found["main"].looked.points


def test_a_need_without_a_circuit_has_nothing_to_prove() -> None:
    text = divider().split("[[part]]")[0]
    text = "\n".join(line for line in text.splitlines() if not line.startswith("nets"))
    with pytest.raises(NothingToProve, match="no parts to prove"):
        prove(read_text(text, "run.toml"))


def test_progress_goes_from_nil_to_one_in_every_stage() -> None:
    told: dict[str, list[float]] = {}
    design = read_text(divider(), "run.toml")
    prove(design, progress=lambda stage, share: told.setdefault(stage, []).append(share))
    assert {"wiring", "held", "as set"} <= set(told)
    for shares in told.values():
        assert shares == sorted(shares)
        assert shares[-1] == 1.0


def test_what_goes_wrong_in_one_situation_ends_the_proof() -> None:
    told: list[str] = []

    def fail(stage: str, share: float) -> None:
        told.append(stage)
        if stage == "as set":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        prove(read_text(divider(), "run.toml"), progress=fail)
    assert told.count("as set") == 1
    before = len(told)
    time.sleep(0.1)
    assert len(told) == before  # nobody goes on behind one's back


def test_a_fixed_rail_of_which_no_accuracy_is_stated_must_still_be_near_its_voltage() -> None:
    """Of 10 V halved 5 V are wanted: nobody needs to say that 1 V is none."""
    silent = divider().replace('accuracy = "3 %"\n', "")
    assert accuracy(silent).verdict == "holds"
    found = accuracy(silent.replace('"1000 Ω"', '"9000 Ω"', 1))
    assert (found.verdict, found.limit) == ("falls short", pytest.approx(0.25))


class TestDepth:
    """What a proof saves is said, and what it looks at is no less right."""

    def test_a_quick_proof_says_what_it_left_out(self) -> None:
        found = prove(read(DEMO), depth=QUICK)
        left_out = " ".join(found.not_asked)
        assert "ripple.output" in left_out
        assert "overload.power-up (default)" in left_out
        assert "faults.contained, faults.never-above (default)" in left_out
        assert f"samples of the spread, {DEFAULT.samples} of them (default)" in found.not_asked
        assert not any(f.id.startswith(("ripple.", "transient.")) for f in found.findings)
        assert {f.looked.depth for f in found.findings} == {"quick"}

    def test_a_quick_margin_is_never_worse_than_the_one_of_more_points(self) -> None:
        quick, default = prove(read(BUFFERED), depth=QUICK), prove(read(BUFFERED))
        margins = {(f.id, f.subject): f.margin for f in default.findings}
        compared = 0
        for finding in quick.findings:
            if finding.margin is not None:
                deeper = margins[finding.id, finding.subject]
                assert deeper is not None
                assert finding.margin >= deeper - 1e-9 * abs(deeper)
                compared += 1
        assert compared > 5

    def test_a_deep_proof_draws_more(self) -> None:
        found = prove(read(BUFFERED), depth=DEEP)
        assert found.took.samples == DEEP.samples > DEFAULT.samples
        assert found.took.points >= DEEP.points > DEFAULT.points


def found_at(points: Points) -> Any:
    """What a search found: margins that tell the place."""
    margin = points.settings["main"] + 10 * points.loads["main"] + 100 * points.input
    return SimpleNamespace(points=points, vertex=margin + points.ambient)


def test_a_map_has_the_axes_of_the_points_that_were_looked_at() -> None:
    """Some situations leave one out: the setting at end stops, the load at a threshold."""
    axes = np.array([1.0, 2.0, 3.0]), np.array([4.0]), np.array([5.0, 6.0]), np.array([300.0])
    volts, amperes, source, air = (a.ravel() for a in np.meshgrid(*axes, indexing="ij"))
    points = Points({"main": volts}, {"main": amperes}, source, air)
    mixed = points.take(np.array([3, 0, 5, 2, 1, 4]))
    for each in (points, mixed):
        shown = _map(found_at(each))
        assert shown is not None
        assert [a.tolist() for a in shown.axes.values()] == [a.tolist() for a in axes]
        told = shown.margins[:, 0, :, 0]
        assert told.tolist() == [[841 + v + 100 * k for k in (0, 1)] for v in (0, 1, 2)]


def test_points_that_are_not_all_combinations_give_no_map() -> None:
    some = Points(
        {"main": np.array([1.0, 2.0, 2.0])},
        {"main": np.array([0.0, 0.0, 1.0])},
        np.full(3, 5.0),
        np.full(3, 300.0),
    )
    assert _map(found_at(some)) is None


def test_only_what_is_wanted_is_asked_beside_the_wiring() -> None:
    whole = proof_of(divider())
    found = prove(read_text(divider(), "run.toml"), only=("output.accuracy", "stress"))
    wanted = [
        f for f in whole.findings if f.id.startswith(("output.accuracy", "stress.", "wiring."))
    ]
    assert {(f.id, f.subject): f.margin for f in found.findings} == {
        (f.id, f.subject): f.margin for f in wanted
    }
    assert found.not_asked[0].startswith("all but output.accuracy, stress")
