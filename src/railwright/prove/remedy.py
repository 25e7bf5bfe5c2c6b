"""Remedies: the smallest purchasable change that mends a shortfall and breaks nothing else.

Candidates are neighbours of coded values in their preferred series, and other parts of the
catalogue in the place of one; of the parts that cause a shortfall, the one it is about, and what
cools it. They are screened where the margin is worst: coded values as lanes of the survey, singly
and in pairs, other parts by the one question alone. What passes there is put into the design
file and proved whole, at depth quick and then as deep as the first proof. Only what holds
there is offered.
"""

from __future__ import annotations

import itertools
import math
import tomllib
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from railwright.catalogue.entry import Entry
from railwright.catalogue.loader import load
from railwright.catalogue.price import CLASSES
from railwright.checks import every
from railwright.checks.check import Check
from railwright.circuit.circuit import Part
from railwright.circuit.design import Design, read_text
from railwright.circuit.writer import EditError, set_value
from railwright.files.mistakes import FileError
from railwright.prove.proof import WORST_FIRST, Change, Finding, Proof, Remedy
from railwright.prove.run import prove
from railwright.quantity import parse, show
from railwright.standards.iec60063 import SERIES
from railwright.surveys.depth import DEFAULT, QUICK, Depth
from railwright.surveys.extremes import Answer, Extreme, explore
from railwright.surveys.fixture import Fixture
from railwright.surveys.mains import as_fed, put
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
CODED_UNITS = ("Ω", "F", "H")
"""Units of values that are bought in a preferred series."""
FARTHEST = 30.0
"""A value that would have to change by more than this factor is another design, or a slip by a
decade or more, which is within it only once."""
MOST_SWAPS = 6
"""Parts of the catalogue that are tried in the place of one."""
MOST_PARTS = 5
"""Parts that are changed for one shortfall: its main causes, its subject and what cools that."""
MOST_PAIRED = 24
"""Single changes that are tried in pairs: those that gain most."""
NOTICED = 0.02
"""Share of a negative margin by which it may go down and still counts as the same."""
MOST_TRIED = 12
"""Changes that are proved for one shortfall, at depth quick first."""
SWAP, PER_CLASS = 0.5, 0.25
"""How far another part of the catalogue is from the design, and a class of price more or less: as
far as a coded value that changes by so many times e."""

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class _Candidate:
    """Changes of a design, and how far they go from it."""

    changes: tuple[Change, ...]
    distance: float
    """Of coded values the ratio's logarithm; other parts by class of price."""

    @property
    def place(self) -> tuple[tuple[str, str], ...]:
        """What is changed."""
        return tuple((change.part, change.value) for change in self.changes)


def remedied(
    design: Design, text: str, proof: Proof, depth: Depth, progress: Progress = lambda _, __: None
) -> Proof:
    """A proof with remedies in those of its findings that fall short and have a margin.

    text: that of the design's file, which the changes are put into. A finding that nothing of
    all that was tried mends has none.
    """
    return _Mending(design, text, proof, depth, progress).run()


class _Mending:
    def __init__(
        self, design: Design, text: str, proof: Proof, depth: Depth, progress: Progress
    ) -> None:
        self.design, self.text, self.proof = design, text, proof
        self.depth, self.progress = depth, progress
        self.survey = Survey(Fixture.of(design), depth=replace(DEFAULT, samples=0))
        self.tables = {row["ref"]: row for row in tomllib.loads(text)["part"]}
        self.checks = {check.id: check for check in every()}
        self.quick = prove(design, seed=proof.seed, depth=QUICK)
        self.proofs: dict[tuple[Change, ...], Proof | None] = {}
        self.quick_proofs: dict[tuple[Change, ...], Proof | None] = {}

    def run(self) -> Proof:
        """Every shortfall in turn."""
        short = [f for f in self.proof.ledger if f.verdict == "falls short" and f.id in self.checks]
        found = {}
        for done, finding in enumerate(short):
            self.progress("remedies", done / len(short))
            found[finding.id, finding.subject] = self._remedies(finding)
        self.progress("remedies", 1.0)
        findings = [
            replace(f, remedies=found.get((f.id, f.subject), ())) for f in self.proof.findings
        ]
        return replace(self.proof, findings=findings)

    def _remedies(self, finding: Finding) -> tuple[Remedy, ...]:
        tried = 0
        for candidate in _in_turn(self._candidates(finding)):
            known = candidate.changes in self.proofs
            remedy = self._proved(candidate, finding)
            if remedy is not None:
                return (remedy,)
            tried += not known
            if tried >= MOST_TRIED:
                break
        return ()

    def _candidates(self, finding: Finding) -> Iterator[_Candidate]:
        """What mends the margin where it is worst; of larger changes none if a smaller one does."""
        check, subject = self.checks[finding.id], finding.subject
        parts = self._parts(finding)
        extreme = self._worst(self.survey, check, subject)
        wanted = self._wanted(self.survey, check, subject, finding)
        coded = list(self._coded(parts))
        margins = self._margins(check, subject, extreme, coded)
        good = [each for each, margin in zip(coded, margins, strict=True) if margin >= wanted]
        yield from good
        swaps = [
            each
            for part in parts
            for each in self._swaps(part)
            if self._margin_of(each, finding) >= wanted
        ]
        yield from swaps
        if not good and not swaps:
            yield from self._pairs(check, subject, extreme, coded, margins, wanted)

    def _wanted(self, survey: Survey, check: Check, subject: str, finding: Finding) -> float:
        """Margin that leaves the wanted reserve, with the scale that the finding had."""
        if finding.reserve is None or finding.margin is None or not finding.reserve:
            return 0.0
        return check.wanted(survey) * abs(finding.margin / finding.reserve)

    def _parts(self, finding: Finding) -> list[Part]:
        """Likely mistakes, the part a shortfall is about, what cools it, and the main causes."""
        circuit = self.design.circuit
        known = {part.ref: part for part in circuit.parts}
        subject = finding.subject.split(" ")[0]
        cools = [
            other.ref
            for net in (known[subject].pins.values() if subject in known else ())
            if net in circuit.thermal_nets
            for other, _ in circuit.on_net(net)
        ]
        mistakes = [cause.part for cause in finding.causes if cause.instead]
        causes = [cause.part for cause in sorted(finding.causes, key=lambda c: -c.share)]
        refs = dict.fromkeys([*mistakes, subject, *cools, *causes])
        return [known[ref] for ref in refs if ref in known][:MOST_PARTS]

    def _coded(self, parts: Sequence[Part]) -> Iterator[_Candidate]:
        """Values of the design file in their preferred series, from the nearest on."""
        series = SERIES[self.design.need.parts.series]
        for part in parts:
            for name, value in part.values.items():
                if value.unit not in CODED_UNITS or name not in self.tables[part.ref]:
                    continue
                now = value.spread.typical
                for new in _members(now, [float(member) for member in series]):
                    change = Change(
                        part.ref, name, show(now, value.unit, 4), show(new, value.unit, 4)
                    )
                    yield _Candidate((change,), abs(math.log(new / now)))

    def _swaps(self, part: Part) -> list[_Candidate]:
        """Other parts of the catalogue that fit where a part is, the cheapest first."""
        if not part.use:
            return []
        own = load()
        now = own.get(part.use)
        fitting = [
            (abs(_price(entry) - _price(now)), entry)
            for entry in own.values()
            if entry.name != part.use and _fits(part, now, entry)
        ]
        fitting.sort(key=lambda row: (row[0], row[1].name))
        return [
            _Candidate((Change(part.ref, "use", part.use, entry.name),), SWAP + PER_CLASS * apart)
            for apart, entry in fitting[:MOST_SWAPS]
        ]

    def _worst(self, survey: Survey, check: Check, subject: str) -> Extreme:
        """The one question, explored by itself without samples."""
        situation = as_fed(survey, check.situation)
        question = {"": partial(_ask, check, subject)}
        return explore(survey, situation, question, self.proof.seed)[""]

    def _margins(
        self, check: Check, subject: str, extreme: Extreme, several: Sequence[_Candidate]
    ) -> Array:
        """Margins at the worst place with coded values changed, all side by side."""
        count = len(several)
        if not count:
            return np.empty(0)
        situation = as_fed(self.survey, check.situation)
        survey = self.survey.within(situation.scope)
        rows = {
            quantity.moves[0]: row
            for row, quantity in enumerate(survey.spread.quantities)
            if quantity.role == "value"
        }
        actual = np.repeat(extreme.actual[:, None], count, axis=1)
        reached = np.ones(count, bool)
        for lane, candidate in enumerate(several):
            for change in candidate.changes:
                row = rows.get((change.part, change.value))
                if row is None:
                    reached[lane] = False  # a value without a spread of its own
                else:
                    part = survey.fixture.circuit.part(change.part)
                    typical = part.values[change.value].spread.typical
                    actual[row, lane] *= _number(change, part) / typical
        points = extreme.points.take(np.full(count, extreme.worst))
        view = situation.view(survey, points, actual, None)
        margin = np.where(view.solved, _ask(check, subject, view).margin, np.nan)
        return np.where(reached & np.isfinite(margin), margin, -np.inf)

    def _margin_of(self, candidate: _Candidate, finding: Finding) -> float:
        """Margin in the changed design at depth quick; minus infinity where there is none."""
        quick = self._quick_proof(candidate)
        same = None if quick is None else _same(quick, finding)
        return -math.inf if same is None or same.margin is None else same.margin

    def _quick_proof(self, candidate: _Candidate) -> Proof | None:
        """The changed design at depth quick; None where its file is refused."""
        if candidate.changes not in self.quick_proofs:
            design = self._changed(candidate)
            seed = self.proof.seed
            found = None if design is None else prove(design, seed=seed, depth=QUICK)
            self.quick_proofs[candidate.changes] = found
        return self.quick_proofs[candidate.changes]

    def _pairs(
        self,
        check: Check,
        subject: str,
        extreme: Extreme,
        coded: Sequence[_Candidate],
        margins: Array,
        wanted: float,
    ) -> Iterator[_Candidate]:
        """Two coded values changed together, of those that gain most by themselves."""
        best = [coded[i] for i in np.argsort(-margins)[:MOST_PAIRED] if np.isfinite(margins[i])]
        pairs = [
            _Candidate((*one.changes, *other.changes), one.distance + other.distance)
            for one, other in itertools.combinations(best, 2)
            if {c.part for c in one.changes}.isdisjoint(c.part for c in other.changes)
        ]
        for pair, margin in zip(pairs, self._margins(check, subject, extreme, pairs), strict=True):
            if margin >= wanted:
                yield pair

    def _changed(self, candidate: _Candidate) -> Design | None:
        """The design with changes in its file; None where the file refuses them."""
        text = self.text
        try:
            for change in candidate.changes:
                text = set_value(text, change.part, change.value, change.to)
            return read_text(text, self.design.title, path=self.design.path)
        except (EditError, FileError):
            return None

    def _proved(self, candidate: _Candidate, finding: Finding) -> Remedy | None:
        """What a change does to a finding, if it mends it and makes no other worse."""
        if candidate.changes not in self.proofs:
            self.proofs[candidate.changes] = self._proof_of(candidate)
        after = self.proofs[candidate.changes]
        if after is None:
            return None
        mended = _same(after, finding)
        if mended is None or mended.verdict not in ("holds", "marginal"):
            return None
        return Remedy(candidate.changes, finding.margin, mended.margin, mended.reserve)

    def _proof_of(self, candidate: _Candidate) -> Proof | None:
        """The whole proof of a changed design; None where something got worse."""
        quick = self._quick_proof(candidate)
        if quick is None or _worse(self.quick, quick):
            return None
        if self.depth == QUICK:
            return quick
        design = self._changed(candidate)
        assert design is not None  # it was read for the quick proof
        whole = prove(design, seed=self.proof.seed, depth=self.depth)
        return None if _worse(self.proof, whole) else whole


def _in_turn(candidates: Iterable[_Candidate]) -> list[_Candidate]:
    """Single changes before pairs; the smallest at each place, then the next at each ..."""
    turns: defaultdict[tuple[tuple[str, str], ...], int] = defaultdict(int)
    found = []
    for candidate in sorted(candidates, key=lambda each: each.distance):
        found.append((len(candidate.changes), turns[candidate.place], candidate))
        turns[candidate.place] += 1
    return [candidate for *_, candidate in sorted(found, key=lambda row: row[:2])]


def _same(proof: Proof, finding: Finding) -> Finding | None:
    """The same question about the same subject in another proof."""
    asked = (finding.id, finding.subject)
    return next((f for f in proof.ledger if (f.id, f.subject) == asked), None)


def _ask(check: Check, subject: str, view: View) -> Answer:
    return put(partial(check.answer, subject=subject), view)


def _members(now: float, series: Sequence[float]) -> list[float]:
    """Values of a series around one, but not itself."""
    lowest, highest = (math.floor(math.log10(now * f)) for f in (1.0 / FARTHEST, FARTHEST))
    found = [member * 10.0**power for power in range(lowest, highest + 1) for member in series]
    return [v for v in found if 1.0 / FARTHEST < v / now < FARTHEST and abs(v / now - 1.0) > 1e-6]


def _number(change: Change, part: Part) -> float:
    """The new value of a coded change in SI."""
    return parse(change.to, part.values[change.value].unit)


def _price(entry: Entry | None) -> int:
    """Place of a class of price; the dearest where nobody says."""
    if entry is None or entry.price not in CLASSES:
        return len(CLASSES)
    return list(CLASSES).index(entry.price)


def _fits(part: Part, now: Entry | None, other: Entry) -> bool:
    """Whether a part of the catalogue goes where another is: kind, choices, package, pins."""
    alike = all(other.options.get(name, word) == word for name, word in part.options.items())
    outline = now is None or not now.pins or (now.package, now.pins) == (other.package, other.pins)
    return other.kind == part.kind and alike and outline


def _worse(before: Proof, after: Proof) -> bool:
    """Whether any question went to a worse verdict, or one that falls short lost more yet."""
    known = {(f.id, f.subject): f for f in reversed(before.ledger)}
    return any(_lost(known.get((f.id, f.subject)), f) for f in after.findings)


def _lost(before: Finding | None, after: Finding) -> bool:
    if before is None:
        return after.verdict in ("falls short", "not proven")
    ranks = [WORST_FIRST.index(finding.verdict) for finding in (before, after)]
    if ranks[0] != ranks[1] or after.verdict != "falls short":
        return ranks[1] < ranks[0]
    if before.margin is None or after.margin is None:
        return False
    return after.margin < before.margin - NOTICED * abs(before.margin)
