"""Remedies: the smallest purchasable change that mends a shortfall and breaks nothing else.

Candidates are neighbours of coded values in their preferred series, and other parts of the
catalogue in the place of one; of the parts that cause a shortfall, the one it is about, and what
cools it. Coded values are screened where the margin is worst, as lanes of the survey, singly and in
pairs. What passes there is put into the design file: the one question first, then a whole proof at
depth quick, then one as deep as the first. A question whose lanes are dear is asked at its worst
place alone. Only what holds in the last proof is offered, and what was proved for one shortfall is
offered for every other that it mends.
"""

from __future__ import annotations

import itertools
import math
import tomllib
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

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
from railwright.prove.proof import WORST_FIRST, Change, Finding, Proof, Remedy, Verdict
from railwright.prove.run import looked_past, prove
from railwright.prove.words import points_of
from railwright.quantity import parse, show
from railwright.standards.iec60063 import SERIES
from railwright.surveys.depth import DEFAULT, QUICK, Depth
from railwright.surveys.extremes import Answer, explore
from railwright.surveys.faults import CODED
from railwright.surveys.fixture import Fixture
from railwright.surveys.mains import as_fed, put
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import Situation, View
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
BROKEN: tuple[Verdict, ...] = ("falls short", "not proven")
"""Verdicts that no change may bring about; less margin than is wanted it may."""
NOTICED = 0.02
"""Share of a negative margin by which it may go down and still counts as the same."""
MOST_TRIED = 12
"""Changes of which the one question is asked, for one shortfall."""
MOST_GAINING = 4
"""Single values that are named for what they gain, though it is not enough."""
MOST_QUICK = 4
"""Changes that are proved whole at depth quick, for one shortfall."""
MOST_WHOLE, MOST_WHOLE_IN_ALL = 2, 3
"""Changes that are proved as deep as the first proof, for one shortfall and for all of a design:
each costs as much as that."""
DEAR_SERIES, MOST_DEAR = "E6", 24
"""Steps of values, and how many of them, where what happens in time has to be followed for each."""
SWAP, PER_CLASS = 0.5, 0.25
"""How far another part of the catalogue is from the design, and a class of price more or less: as
far as a coded value that changes by so many times e."""

USE = "use"
"""Key of a part's table that names the catalogue's part."""

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

    @property
    def is_coded(self) -> bool:
        """Whether values alone are changed, which a lane of the survey can."""
        return all(change.value != USE for change in self.changes)


@dataclass(frozen=True)
class _Screen:
    """Where changed values are tried, before anything is proved."""

    points: Points
    """The one point at which the margin is worst."""
    actual: Array
    """Quantities there (quantity,)."""
    now: float
    """The margin there."""
    wanted: float
    """The margin that a change has to reach there."""
    nominal: float
    """The margin there with typical parts."""


def remedied(
    design: Design, text: str, proof: Proof, depth: Depth, progress: Progress = lambda _, __: None
) -> Proof:
    """A proof with remedies in those of its findings that fall short and have a margin.

    text: that of the design's file, which the changes are put into. A finding that nothing of
    all that was tried mends has none; one for which nothing was proved any more stands under
    `not_asked`.
    """
    return _Mending(design, text, proof, depth, progress).run()


def gaining(
    design: Design, text: str, proof: Proof, finding: Finding, depth: Depth
) -> list[tuple[Change, ...]]:
    """Values of the file that may raise the margin of one finding of a proof; none is proved.

    The smallest changes that seem to reach the wanted reserve first, single ones before pairs; then
    those that come nearest to it.
    """
    mending = _Mending(design, text, proof, depth, lambda _, __: None)
    return [each.changes for each in mending.gaining(finding)]


def concerned(design: Design, finding: Finding) -> list[Part]:
    """Likely mistakes, the part a finding is about, what cools it, and the main causes."""
    circuit = design.circuit
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


class _Mending:
    def __init__(
        self, design: Design, text: str, proof: Proof, depth: Depth, progress: Progress
    ) -> None:
        self.design, self.text, self.proof = design, text, proof
        self.depth, self.progress = depth, progress
        self.survey = _unsampled(design)
        self.tables = {row["ref"]: row for row in tomllib.loads(text)["part"]}
        self.checks = {check.id: check for check in every()}
        self.designs: dict[_Candidate, Design | None] = {}
        self.asked: dict[tuple[_Candidate, str], Proof] = {}
        self.proofs: dict[_Candidate, Proof | None] = {}
        self.quick_proofs: dict[_Candidate, Proof | None] = {}
        self.begun = self.whole = 0
        self.cut_short: list[str] = []

    @cached_property
    def quick(self) -> Proof:
        return self._prove(self.design, QUICK)

    def _prove(self, design: Design, depth: Depth, only: Sequence[str] = ()) -> Proof:
        return prove(design, seed=self.proof.seed, depth=depth, only=only, suspecting=False)

    def run(self) -> Proof:
        """Every shortfall in turn."""
        found = {}
        short = self._short()
        for done, finding in enumerate(short):
            self.progress("remedies", done / len(short))
            found[finding.id, finding.subject] = self._remedies(finding)
        for finding in short:  # what was proved for one that came later may mend it, too
            if not found[finding.id, finding.subject]:
                found[finding.id, finding.subject] = self._known_remedies(finding)
        self.progress("remedies", 1.0)
        findings = [
            replace(f, remedies=found.get((f.id, f.subject), ())) for f in self.proof.findings
        ]
        return replace(
            self.proof, findings=findings, not_asked=[*self.proof.not_asked, *self.cut_short]
        )

    def gaining(self, finding: Finding) -> list[_Candidate]:
        """Values that may raise a margin, the smallest changes that do all first."""
        screen = self._screen(finding)
        coded = list(self._coded(concerned(self.design, finding), finding))
        margins = self._margins(finding, screen, coded)
        found = [c for c, margin in zip(coded, margins, strict=True) if margin >= screen.wanted]
        found = found or list(self._pairs(finding, screen, coded, margins))
        gains = [coded[n] for n in np.argsort(-margins)[:MOST_GAINING] if margins[n] > screen.now]
        return [*_in_turn(found), *(each for each in gains if each not in found)]

    def _short(self) -> list[Finding]:
        """Shortfalls, those first of which a likely mistake is known and which are cheap to ask:
        what mends one often mends others."""
        short = [
            f
            for f in self.proof.ledger
            if f.verdict == "falls short" and f.id in self.checks and f.margin is not None
        ]
        return sorted(short, key=lambda f: (self._is_dear(f), not any(c.instead for c in f.causes)))

    def _situation(self, finding: Finding) -> Situation:
        return as_fed(self.survey, self.checks[finding.id].situation)

    def _is_dear(self, finding: Finding) -> bool:
        return self._situation(finding).thrift.samples is not None

    def _known_remedies(self, finding: Finding) -> tuple[Remedy, ...]:
        """Of the changes that were proved already the one that mends it best."""
        known = _in_turn(each for each, proof in self.proofs.items() if proof is not None)
        found = [remedy for each in known if (remedy := self._remedy(each, finding))]
        return (min(found, key=lambda remedy: len(remedy.lowers)),) if found else ()

    def _remedies(self, finding: Finding) -> tuple[Remedy, ...]:
        if known := self._known_remedies(finding):
            return known
        whole = self.whole
        for candidate in self._promising(finding):
            if self.whole == MOST_WHOLE_IN_ALL:
                self.cut_short.append(
                    f"remedies of {finding.id} of {finding.subject}: "
                    f"{MOST_WHOLE_IN_ALL} changes were proved for this and others"
                )
                break
            self.proofs[candidate] = self._proof_of(candidate)
            if remedy := self._remedy(candidate, finding):
                return (remedy,)
            if self.whole == whole + MOST_WHOLE:
                break
        return ()

    def _promising(self, finding: Finding) -> Iterator[_Candidate]:
        """Changes that mend it, and at depth quick break nothing.

        What deepens another shortfall comes last, and only where nothing else was proved.
        """
        begun, whole = self.begun, self.whole
        screen, deepening = self._screen(finding), []
        candidates = _in_turn(self._candidates(finding, screen))
        for candidate in candidates[:MOST_TRIED]:
            if self.begun == begun + MOST_QUICK:
                break
            if candidate in self.proofs or not self._mends(candidate, finding, screen):
                continue
            quick = self._quick_of(candidate)
            if quick is None:
                continue
            if _lowered(self.quick, quick):
                deepening.append(candidate)
            else:
                yield candidate
        if self.whole == whole:
            yield from deepening

    def _candidates(self, finding: Finding, screen: _Screen) -> Iterator[_Candidate]:
        """What may mend a margin; pairs of values only where no single one does where it is worst.

        Other parts are not screened: they change more than a lane of the survey can.
        """
        parts = concerned(self.design, finding)
        coded = list(self._coded(parts, finding))
        margins = self._margins(finding, screen, coded)
        good = [c for c, margin in zip(coded, margins, strict=True) if margin >= screen.wanted]
        yield from good
        about = finding.subject.split(" ")[0]
        for part in parts:
            # Another make of the same value changes ratings and spread: no other's typical margin.
            valued = CODED.get(part.kind, "") in self.tables[part.ref]
            if part.ref == about or not (valued and screen.nominal < 0):
                yield from self._swaps(part)
        if not good and not self._is_dear(finding):
            yield from self._pairs(finding, screen, coded, margins)

    def _wanted(self, finding: Finding) -> float:
        """Margin that leaves the wanted reserve, with the scale that the finding had."""
        if finding.reserve is None or finding.margin is None or not finding.reserve:
            return 0.0
        wanted = self.checks[finding.id].wanted(self.survey)
        return wanted * abs(finding.margin / finding.reserve)

    def _coded(self, parts: Sequence[Part], finding: Finding) -> Iterator[_Candidate]:
        """Values of the design file in their preferred series, few where lanes are dear."""
        dear = self._is_dear(finding)
        series = SERIES[DEAR_SERIES if dear else self.design.need.parts.series]
        found = [
            _coded_change(part, name, new)
            for part in parts
            for name, value in part.values.items()
            if value.unit in CODED_UNITS and name in self.tables[part.ref]
            for new in _members(value.spread.typical, [float(member) for member in series])
        ]
        yield from _in_turn(found)[: MOST_DEAR if dear else None]

    def _swaps(self, part: Part) -> list[_Candidate]:
        """Other parts of the catalogue that fit where a part is, the cheapest first."""
        if not part.use:
            return []
        own = load()
        now = own.get(part.use)
        fitting = [
            (abs(_price(entry) - _price(now)), entry)
            for entry in own.values()
            if entry.name != part.use and fits(part, now, entry)
        ]
        fitting.sort(key=lambda row: (row[0], row[1].name))
        return [
            _Candidate((Change(part.ref, USE, part.use, entry.name),), SWAP + PER_CLASS * apart)
            for apart, entry in fitting[:MOST_SWAPS]
        ]

    def _screen(self, finding: Finding) -> _Screen:
        """Where a margin is worst. Where lanes are dear: with typical parts, and as much more
        wanted there as the spread takes."""
        check, subject = self.checks[finding.id], finding.subject
        situation = self._situation(finding)
        survey, wanted = self.survey.within(situation.scope), self._wanted(finding)
        if not self._is_dear(finding):
            question = {"": partial(_ask, check, subject)}
            extreme = explore(self.survey, situation, question, self.proof.seed)[""]
            points = extreme.points.take(np.array([extreme.worst]))
            nominal = float(extreme.nominal[extreme.worst])
            return _Screen(points, extreme.actual, extreme.margin, wanted, nominal)
        assert finding.where is not None  # it has a margin
        points, typical = points_of(finding.where), survey.typical(1)
        nominal = float(self._margin(self.survey, finding, points, typical)[0])
        taken = nominal - (finding.margin or 0.0)
        wanted += max(0.0, taken) if np.isfinite(taken) else 0.0
        return _Screen(points, typical[:, 0], nominal, wanted, nominal)

    def _margin(self, survey: Survey, finding: Finding, points: Points, actual: Array) -> Array:
        """Margins of lanes; minus infinity where it is not known."""
        check = self.checks[finding.id]
        situation = as_fed(survey, check.situation)
        view = situation.view(survey.within(situation.scope), points, actual, None)
        margin = np.where(view.solved, _ask(check, finding.subject, view).margin, np.nan)
        return np.where(np.isfinite(margin), margin, -np.inf)

    def _margins(self, finding: Finding, screen: _Screen, several: Sequence[_Candidate]) -> Array:
        """Margins where it is worst with coded values changed, all side by side."""
        count = len(several)
        if not count:
            return np.empty(0)
        survey = self.survey.within(self._situation(finding).scope)
        rows = {
            quantity.moves[0]: row
            for row, quantity in enumerate(survey.spread.quantities)
            if quantity.role == "value"
        }
        actual = np.repeat(screen.actual[:, None], count, axis=1)
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
        points = screen.points.take(np.zeros(count, np.intp))
        margin = self._margin(self.survey, finding, points, actual)
        return np.where(reached, margin, -np.inf)

    def _pairs(
        self, finding: Finding, screen: _Screen, coded: Sequence[_Candidate], margins: Array
    ) -> Iterator[_Candidate]:
        """Two coded values changed together, of those that gain most by themselves."""
        best = [coded[i] for i in np.argsort(-margins)[:MOST_PAIRED] if np.isfinite(margins[i])]
        pairs = [
            _Candidate((*one.changes, *other.changes), one.distance + other.distance)
            for one, other in itertools.combinations(best, 2)
            if {c.part for c in one.changes}.isdisjoint(c.part for c in other.changes)
        ]
        for pair, margin in zip(pairs, self._margins(finding, screen, pairs), strict=True):
            if margin >= screen.wanted:
                yield pair

    def _changed(self, candidate: _Candidate) -> Design | None:
        """The design with changes in its file; None where the file refuses them."""
        if candidate not in self.designs:
            self.designs[candidate] = self._read(candidate)
        return self.designs[candidate]

    def _read(self, candidate: _Candidate) -> Design | None:
        text = self.text
        try:
            for change in candidate.changes:
                text = set_value(text, change.part, change.value, change.to)
            return read_text(text, self.design.title, path=self.design.path)
        except (EditError, FileError):
            return None

    def _mends(self, candidate: _Candidate, finding: Finding, screen: _Screen) -> bool:
        """Whether a finding seems to hold in the changed design, nothing else asked.

        At the least depth at which it is asked, and without samples: what falls short there does
        so at any. Where the need says a yield, samples decide. Where lanes are dear the worst place
        with typical parts has to do.
        """
        design = self._changed(candidate)
        if design is None:
            return False
        if self._is_dear(finding):
            return candidate.is_coded or self._passes(design, finding, screen)
        depth = self.depth
        if self.design.need.parts.yield_ is None:
            quick = QUICK.covers(self._situation(finding).since)
            depth = QUICK if quick else replace(self.depth, samples=0)
        asked = candidate, finding.id
        if asked not in self.asked:
            self.asked[asked] = self._prove(design, depth, [finding.id])
        return _holds(_same(self.asked[asked], finding))

    def _passes(self, design: Design, finding: Finding, screen: _Screen) -> bool:
        """Whether a changed design with typical parts has margin enough where it was worst."""
        survey, check = _unsampled(design), self.checks[finding.id]
        situation = as_fed(survey, check.situation)
        if not situation.applies(survey) or situation.unready(survey):
            return False
        if finding.subject not in check.subjects(survey) or check.missing(survey, finding.subject):
            return False
        typical = survey.within(situation.scope).typical(1)
        return bool(self._margin(survey, finding, screen.points, typical)[0] >= screen.wanted)

    def _remedy(self, candidate: _Candidate, finding: Finding) -> Remedy | None:
        """What a change that was proved does to a finding, if it mends it."""
        after = self.proofs[candidate]
        mended = None if after is None else _same(after, finding)
        if after is None or mended is None or not _holds(mended):
            return None
        lowers = _lowered(self.proof, after)
        return Remedy(candidate.changes, finding.margin, mended.margin, mended.reserve, lowers)

    def _quick_of(self, candidate: _Candidate) -> Proof | None:
        """The proof of a changed design at depth quick; None where it does not serve there."""
        if candidate not in self.quick_proofs:
            self.begun += 1
            quick = self._prove(self._design_of(candidate), QUICK)
            self.quick_proofs[candidate] = quick if _serves(self.quick, quick) else None
        return self.quick_proofs[candidate]

    def _proof_of(self, candidate: _Candidate) -> Proof | None:
        """The proof of a changed design as deep as the first; None where it does not serve."""
        self.whole += 1
        if self.depth == QUICK:
            return self._quick_of(candidate)
        whole = self._prove(self._design_of(candidate), self.depth)
        return whole if _serves(self.proof, whole) else None

    def _design_of(self, candidate: _Candidate) -> Design:
        design = self._changed(candidate)
        assert design is not None  # or else it mends nothing
        return design


def _unsampled(design: Design) -> Survey:
    """A survey of the design as the proof's questions see it, without samples."""
    return looked_past(Survey(Fixture.of(design), depth=replace(DEFAULT, samples=0)))


def _in_turn(candidates: Iterable[_Candidate]) -> list[_Candidate]:
    """Single changes before pairs; the smallest at each place, then the next at each ..."""
    turns: defaultdict[tuple[tuple[str, str], ...], int] = defaultdict(int)
    found = []
    for candidate in sorted(candidates, key=lambda each: each.distance):
        found.append((len(candidate.changes), turns[candidate.place], candidate))
        turns[candidate.place] += 1
    return [candidate for *_, candidate in sorted(found, key=lambda row: row[:2])]


def _coded_change(part: Part, name: str, new: float) -> _Candidate:
    value = part.values[name]
    now = value.spread.typical
    change = Change(part.ref, name, show(now, value.unit, 4), show(new, value.unit, 4))
    return _Candidate((change,), abs(math.log(new / now)))


def _holds(finding: Finding | None) -> bool:
    return finding is not None and finding.verdict in ("holds", "marginal")


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


def fits(part: Part, now: Entry | None, other: Entry) -> bool:
    """Whether a part of the catalogue goes where another is: kind, choices, package, pins."""
    if other.kind != part.kind:
        return False
    alike = all(other.options.get(name, word) == word for name, word in part.options.items())
    outline = now is None or not now.pins or (now.package, now.pins) == (other.package, other.pins)
    return alike and outline


def _serves(before: Proof, after: Proof) -> bool:
    """Whether a change breaks nothing, and mends more shortfalls than it deepens, if it does so.

    Where several things are wrong, what undoes one mistake may show another all the more: an
    output that comes up to its setting also comes up unasked. What only moves a shortfall from
    one question to another does not serve.
    """
    deepened = _lowered(before, after)
    mended = [f for f in before.findings if f.verdict in BROKEN and _holds(_same(after, f))]
    return not _breaks(before, after) and (not deepened or len(mended) > len(deepened))


def _breaks(before: Proof, after: Proof) -> bool:
    """Whether any question comes to a verdict of a broken one that had a better one, or none."""
    ranks = {(f.id, f.subject): WORST_FIRST.index(f.verdict) for f in before.findings}
    return any(
        f.verdict in BROKEN
        and WORST_FIRST.index(f.verdict) < ranks.get((f.id, f.subject), len(WORST_FIRST))
        for f in after.findings
    )


def _lowered(before: Proof, after: Proof) -> tuple[str, ...]:
    """Shortfalls that were there already and are greater after a change."""
    known = {(f.id, f.subject): f.margin for f in before.findings if f.verdict == "falls short"}
    margins = [(f, known.get((f.id, f.subject)), f.margin) for f in after.findings]
    return tuple(
        f"{finding.id} of {finding.subject}"
        for finding, was, now in margins
        if was is not None and now is not None and now < was - NOTICED * abs(was)
    )
