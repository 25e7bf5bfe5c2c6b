"""The joint choice: what serves, against its neighbours that one can buy just as well.

Values are sized one after the other, each from its own limits. Here they are weighed against each
other by proofs at depth quick, a bounded number of them: the worst reserve decides, then cost, then
the number of parts. Tried are the values and parts around what lacks reserve, then the
architecture's other sketches, then cheaper parts in the place of dear ones. What gives any question
a worse verdict is not taken.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice, zip_longest

from railwright.catalogue.entry import Entry
from railwright.catalogue.price import cost_of_all
from railwright.circuit.circuit import Part
from railwright.files.mistakes import FileError
from railwright.pages.wording import percent
from railwright.propose.figures import bought_of, judged
from railwright.propose.tried import Tried, changed
from railwright.prove.proof import WORST_FIRST, Change, Finding, Proof
from railwright.prove.remedy import USE, concerned, fits, gaining
from railwright.standards.hand_soldering import CLASSES, class_of
from railwright.surveys.depth import QUICK
from railwright.surveys.faults import CODED
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey

MOST_RAISED, MOST_CHEAPENED = 4, 3
"""Whole proofs for a greater reserve, and for less cost."""
MOST_ASKED = 8
"""Changes that are put to the questions that bind, for each finding that lacks reserve, and for
less cost."""
DEAR_WHOLE, DEAR_ASKED = 1, 3
"""Where each point is a cycle of the mains: whole proofs for a reserve, and for cost; and changes
that are put to questions, all in all."""
BINDS = 0.05
"""Of reserve that a question has beyond what it wants, at most, to be one of these."""
MOST_SKETCHES = 2
"""Other sketches that are tried for a greater reserve."""
NOTICED = 0.005
"""Of a reserve; what it lacks is counted in such steps."""
WORTHWHILE = 0.02
"""Of what all parts cost; what saves less is not tried."""
MOST_NEAR, MOST_CHEAPER = 3, 2
"""Other parts that are tried in the place of one: those nearest to it."""

Prove = Callable[[str, tuple[Change, ...], Collection[str]], Tried]
"""A text at depth quick, with what was changed in it: the questions named, all where none is."""


@dataclass(frozen=True)
class Worth:
    """What designs that serve are compared by."""

    lacking: tuple[int, ...]
    """What questions lack of the reserve that they want, in steps below nil, the worst first."""
    cost: float
    """€, roughly."""
    parts: int

    def exceeds(self, other: Worth) -> bool:
        """Whether it lacks less, or else costs less, or else has fewer parts.

        >>> Worth((-3,), 20.0, 9).exceeds(Worth((-3, -1), 10.0, 8))
        True
        >>> Worth((), 20.0, 9).exceeds(Worth((), 20.0, 9))
        False
        """
        for own, others in zip_longest(self.lacking, other.lacking, fillvalue=0):
            if own != others:
                return own > others
        return (-self.cost, -self.parts) > (-other.cost, -other.parts)


def improved(
    first: Tried, sketches: Iterable[str], catalogue: Mapping[str, Entry], prove: Prove
) -> Tried:
    """The best that is found around a text that serves at depth quick; itself where none is better.

    sketches: texts of the architecture's other sketches, the next larger first.
    """
    return _Improving(first, sketches, catalogue, prove).run()


def is_worse(after: Proof, before: Proof) -> bool:
    """Whether a question has a worse verdict than before, or one that is new does not hold."""
    ranks = {(f.id, f.subject): WORST_FIRST.index(f.verdict) for f in before.findings}
    best = len(WORST_FIRST) - 1
    return any(
        WORST_FIRST.index(f.verdict) < ranks.get((f.id, f.subject), best) for f in after.findings
    )


def worth_of(tried: Tried, catalogue: Mapping[str, Entry]) -> Worth:
    """The worth of a text that was proved whole."""
    lacking = sorted(math.floor(each / NOTICED) for _, each in _beyond(tried) if each < 0.0)
    bought = bought_of(tried.design, catalogue)
    cost = cost_of_all(entry.price for entry in bought)
    return Worth(tuple(lacking), round(cost, 2), len(tried.design.circuit.parts))


class _Improving:
    def __init__(
        self, first: Tried, sketches: Iterable[str], catalogue: Mapping[str, Entry], prove: Prove
    ) -> None:
        self.first = self.best = first
        self.sketches, self.catalogue, self.prove = sketches, catalogue, prove
        self.reasons: dict[tuple[str, str], tuple[Change, str]] = {}
        """Part and value -> how it differs from the first, and why."""
        self.left = 0
        """Whole proofs that may still be made."""
        self.dear = first.design.need.input.kind == "ac"
        self.asks = DEAR_ASKED if self.dear else math.inf
        """Changes that may still be put to questions."""

    def run(self) -> Tried:
        """Reserve first, then cost."""
        self.left = DEAR_WHOLE if self.dear else MOST_RAISED
        self._raise()
        self.left = DEAR_WHOLE if self.dear else MOST_CHEAPENED
        self._cheapen()
        return self.best

    def _raise(self) -> None:
        """Go on with what lacks most, until nothing lacks any more or nothing helps."""
        given_up: set[tuple[str, str]] = set()
        while self.left and (finding := self._most_lacking(given_up)):
            if not self._raised(finding):
                given_up.add(_key(finding))
        for text in islice(self.sketches, MOST_SKETCHES):
            if not self.left or not self._most_lacking(()):
                return
            self.left -= 1
            other = self.prove(text, (), ())
            if self._is_better(other):
                self.first = self.best = other
                self.reasons = {}

    def _most_lacking(self, given_up: Collection[tuple[str, str]]) -> Finding | None:
        lacking = [
            (each, f) for f, each in _beyond(self.best) if each < 0.0 and _key(f) not in given_up
        ]
        return min(lacking, key=lambda row: row[0])[1] if lacking else None

    def _raised(self, finding: Finding) -> bool:
        """Whether changes were found and taken that raise one reserve."""
        for changes in islice(self._named(finding), MOST_ASKED):
            if not self.left:
                return False
            alone = self._asked(changes, {finding.id})
            if alone is None:
                continue
            after, before = _after(alone, finding), finding.reserve or 0.0
            if before + NOTICED <= after < math.inf and self._take(
                changes, self._told(finding, after), alone
            ):
                return True
        return False

    def _named(self, finding: Finding) -> Iterator[tuple[Change, ...]]:
        """Changes that may raise one reserve: values and other parts in turn, the nearest first."""
        best = self.best
        values = gaining(best.design, best.text, best.proof, finding, QUICK)
        others = [
            [(change,) for change, _ in self._others(part)[:MOST_NEAR]]
            for part in concerned(best.design, finding)
        ]
        for turn in zip_longest(values, *others):
            yield from filter(None, turn)

    def _cheapen(self) -> None:
        """Cheaper parts, those first that save most."""
        refused: set[Change] = set()
        for _ in range(MOST_ASKED):
            change = next((each for each in self._cheaper() if each not in refused), None)
            if change is None or not self.left:
                return
            known = [f for f, _ in _beyond(self.best)]
            about = {f.id for f in known if self._concerns(f, change.part)}
            alone = self._asked((change,), about)
            if alone is None:
                refused.add(change)
                continue
            least = min(known, key=lambda f: _after(alone, f), default=None)
            reason = " instead of ".join(
                self.catalogue[name].price for name in (change.to, change.now)
            )
            if least is not None and math.isfinite(_after(alone, least)):
                reason += f"; {self._told(least, _after(alone, least))}"
            if not self._take((change,), reason, alone):
                refused.add(change)

    def _concerns(self, finding: Finding, ref: str) -> bool:
        return any(part.ref == ref for part in concerned(self.best.design, finding))

    def _cheaper(self) -> list[Change]:
        """Parts in the place of dearer ones of the same value; those first that save most."""
        found, least = [], WORTHWHILE * worth_of(self.best, self.catalogue).cost
        for part in self.best.design.circuit.parts:
            others = [
                (self._saved(change), change)
                for change, other in self._others(part)
                if other.price and _is_same_value(self.catalogue[part.use], other)
            ]
            found += [each for each in others if each[0] > least][:MOST_CHEAPER]
        return [change for _, change in sorted(found, key=lambda row: -row[0])]

    def _saved(self, change: Change) -> float:
        now, to = (cost_of_all([self.catalogue[name].price]) for name in (change.now, change.to))
        return now - to

    def _others(self, part: Part) -> list[tuple[Change, Entry]]:
        """Parts of the catalogue that go in the place of one, the nearest first.

        None is harder to solder, or has less of a rating about which nothing was asked.
        """
        now = self.catalogue.get(part.use)
        if now is None:
            return []
        subjects = {f.subject for f in self.best.proof.findings}
        unasked = [name for name in part.ratings if f"{part.ref} {name}" not in subjects]
        found = [
            other
            for other in self.catalogue.values()
            if other.name != now.name
            and fits(part, now, other)
            and _hardness(other) <= _hardness(now)
            and all(_at_least(other, now, name) for name in unasked)
        ]
        found.sort(key=lambda other: _apart(now, other))
        return [(Change(part.ref, USE, now.name, other.name), other) for other in found]

    def _asked(self, changes: tuple[Change, ...], ids: Collection[str]) -> Proof | None:
        """What questions and those that bind say of changes; None where the file refuses them, or
        no more may be asked."""
        if not self.asks:
            return None
        self.asks -= 1
        binding = {f.id for f, each in _beyond(self.best) if each < BINDS}
        text = self._text(self._merged(changes, ""))
        try:
            return self.prove(text, changes, binding.union(ids)).proof
        except FileError:  # another type that wants other pins or values
            return None

    def _take(self, changes: tuple[Change, ...], reason: str, alone: Proof) -> bool:
        """Whether changes are worth more, and are worse in nothing; if so they stay."""
        if is_worse(alone, self.best.proof):
            return False
        self.left -= 1
        merged = self._merged(changes, reason)
        all_changes = (*self.first.changes, *(change for change, _ in merged.values()))
        other = self.prove(self._text(merged), all_changes, ())
        taken = self._is_better(other)
        if taken:
            self.best, self.reasons = other, merged
        return taken

    def _is_better(self, other: Tried) -> bool:
        new, old = (worth_of(each, self.catalogue) for each in (other, self.best))
        return new.exceeds(old) and not is_worse(other.proof, self.best.proof)

    def _merged(
        self, changes: tuple[Change, ...], reason: str
    ) -> dict[tuple[str, str], tuple[Change, str]]:
        """All changes of the first, of one that is changed again the last."""
        merged = dict(self.reasons)
        for change in changes:
            place = (change.part, change.value)
            now = merged[place][0].now if place in merged else change.now
            merged[place] = replace(change, now=now), reason
        return merged

    def _text(self, merged: Mapping[tuple[str, str], tuple[Change, str]]) -> str:
        return changed(self.first.text, self.first.design, merged.values())

    def _told(self, finding: Finding, after: float) -> str:
        """A reserve with a change, and what it was at first."""
        now = self.first.proof.findings
        before = next((f.reserve for f in now if _key(f) == _key(finding)), finding.reserve)
        about = f"{finding.id} of {finding.subject}"
        return f"{about} keeps {percent(after)} in reserve instead of {percent(before)}"


def _beyond(tried: Tried) -> list[tuple[Finding, float]]:
    """Findings of questions that want a reserve, with what they have beyond that."""
    survey = Survey(Fixture.of(tried.design), depth=QUICK)
    return [(f, (f.reserve or 0.0) - wanted) for f, wanted in judged(survey, tried.proof)]


def _key(finding: Finding) -> tuple[str, str]:
    """The same question about the same subject in any proof."""
    return finding.id, finding.subject


def _after(proof: Proof, finding: Finding) -> float:
    """The reserve of a finding in another proof; infinite where it was not asked there."""
    found = (f.reserve for f in proof.findings if _key(f) == _key(finding))
    return next((each for each in found if each is not None), math.inf)


def _apart(one: Entry, other: Entry) -> float:
    """How far two parts are from each other: the ratios of their values, each as times of e."""
    shared = one.values.keys() & other.values.keys()
    ends = ((one.values[n].spread.typical, other.values[n].spread.typical) for n in sorted(shared))
    return sum(abs(math.log(b / a)) for a, b in ends if a > 0.0 and b > 0.0)


def _at_least(other: Entry, now: Entry, rating: str) -> bool:
    """Whether a part stands as much as another."""
    known, wanted = other.values.get(rating), now.values.get(rating)
    return wanted is None or (known is not None and known.spread.low >= wanted.spread.low)


def _hardness(entry: Entry) -> int:
    return CLASSES.index(class_of(entry.package))


def _is_same_value(one: Entry, other: Entry) -> bool:
    """Whether two parts are marked with the same value, where their kind is marked with any."""
    name = CODED.get(one.kind, "")
    if name not in one.values:
        return True
    return math.isclose(one.values[name].spread.typical, other.values[name].spread.typical)
