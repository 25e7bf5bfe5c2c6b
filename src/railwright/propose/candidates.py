"""Candidates for a need: what architectures offer is proved, mended or withdrawn.

All are proved at depth quick, the best of those at depth default. Where one falls short, the
architecture's own next larger sketch is tried, then purchasable changes that `prove.remedy` finds.
What still falls short is withdrawn with the finding that binds. The best at depth quick are made
better before they are proved any deeper.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field

from railwright.architectures import every
from railwright.architectures.architecture import Architecture, Refusal, Sketch, Task
from railwright.architectures.guarded import guarded
from railwright.catalogue.price import CLASSES
from railwright.circuit.design import Design, catalogue_of, read_text
from railwright.propose.better import improved, is_worse
from railwright.propose.draft import drafted, read_draft, with_nets
from railwright.propose.figures import Figures, figures_of
from railwright.propose.tried import Tried, changed
from railwright.prove.proof import Change, Finding, Proof
from railwright.prove.remedy import remedied
from railwright.prove.run import prove
from railwright.prove.words import in_words
from railwright.surveys.depth import DEFAULT, QUICK, Depth

KEY_FAMILIES = ("output", "headroom", "heat", "overload", "stress", "stability")
"""Families of questions none of which may stay open in what is written."""
MOST_OPEN = 2
"""Findings of other families that may stay `not proven`."""
MOST_SKETCHES = 4
"""Sketches of one architecture that are proved at one depth."""
MOST_MENDED = 2
"""Times that a text is changed by remedies at one depth."""
MOST_WHOLE = 3
"""Candidates that are proved at depth default."""

Progress = Callable[[str, float], None]


class HasCircuit(ValueError):
    """The file has a circuit already: nothing is to be proposed."""


@dataclass(frozen=True)
class Candidate:
    """A design that serves the need as far as its depth looked."""

    architecture: str
    gives_up: str
    text: str
    design: Design
    proof: Proof
    depth: Depth
    figures: Figures
    changes: tuple[Change, ...] = ()
    """What remedies and the joint choice changed of the sketch."""

    @property
    def open(self) -> list[Finding]:
        """What could not be proved."""
        return [f for f in self.proof.findings if f.verdict == "not proven"]


@dataclass(frozen=True)
class Withdrawn:
    """An architecture without a candidate, and why: it refused, or what it offered fell short."""

    architecture: str
    reason: str
    proved: bool
    """Whether it offered something that was proved, and fell short."""


@dataclass(frozen=True)
class Proposal:
    """All that was found for a need."""

    title: str
    candidates: tuple[Candidate, ...]
    """The best first."""
    withdrawn: tuple[Withdrawn, ...]

    @property
    def recommended(self) -> Candidate | None:
        """The best one that was proved at depth default; None where none was."""
        return next((c for c in self.candidates if c.depth.covers(DEFAULT)), None)


def propose(
    need: Design,
    text: str,
    *,
    seed: int = 1,
    depth: Depth = DEFAULT,
    architectures: Sequence[Architecture] | None = None,
    progress: Progress = lambda stage, share: None,
) -> Proposal:
    """Candidates for a need, compared.

    need: what the file says; text: that file; depth: the deepest to prove at; architectures: all
    where None. HasCircuit where the need comes with parts already.
    """
    if not need.is_need_only:
        raise HasCircuit(f"{need.title}: the file has parts already. Prove it, or take them out.")
    asked = every() if architectures is None else architectures
    return _Proposing(need, text, seed, progress).run(asked, depth)


@dataclass
class _Course:
    """How far an architecture came."""

    architecture: Architecture
    sketches: deque[Sketch]
    """What is still to be tried, the next first."""
    texts: deque[tuple[str, tuple[Change, ...]]] = field(default_factory=deque)
    """What is tried before those, with what was changed in it."""
    standing: Tried | None = None
    better: tuple[Tried, Tried] | None = None
    """What stood at depth quick, and what was made of it there."""
    reason: str = ""
    depth: Depth = QUICK


class _Proposing:
    def __init__(self, need: Design, text: str, seed: int, progress: Progress) -> None:
        self.text = with_nets(text, need)
        self.need = read_text(self.text, need.title, path=need.path)
        self.catalogue, self.seed, self.progress = catalogue_of(self.need), seed, progress

    def run(self, architectures: Sequence[Architecture], depth: Depth) -> Proposal:
        """Every architecture at depth quick, the best at the depth that is wanted."""
        task = Task(self.need.need, self.catalogue, self.need.derating)
        refused, courses = [], []
        for architecture in architectures:
            offer = guarded(architecture, task)
            if isinstance(offer, Refusal):
                refused.append(Withdrawn(architecture.name, offer.reason, proved=False))
            else:
                courses.append(_Course(architecture, deque(offer)))
        for course in courses:
            self._advance(course, QUICK)
        self._improve(courses)
        if depth.covers(DEFAULT):
            self._deepen(courses, depth)
        standing = [self._candidate(c, c.standing) for c in courses if c.standing is not None]
        fallen = [
            Withdrawn(c.architecture.name, c.reason, proved=True)
            for c in courses
            if c.standing is None
        ]
        return Proposal(self.need.title, tuple(sorted(standing, key=rank)), (*refused, *fallen))

    def _deepen(self, courses: Sequence[_Course], depth: Depth) -> None:
        """Prove the best as deep as wanted; where one falls, the next best takes its place."""
        whole = 0
        for course in self._ranked(courses):
            if whole == MOST_WHOLE:
                return
            assert course.standing is not None
            first = [course.standing] if course.better is None else course.better[::-1]
            course.texts.extend((each.text, each.changes) for each in first)
            self._advance(course, depth)
            whole += course.standing is not None

    def _ranked(self, courses: Sequence[_Course]) -> list[_Course]:
        """Courses of which a text stands, the best first."""
        standing = [(self._candidate(c, c.standing), c) for c in courses if c.standing is not None]
        return [course for _, course in sorted(standing, key=lambda each: rank(each[0]))]

    def _improve(self, courses: Sequence[_Course]) -> None:
        """Choose the values of the best jointly."""
        for course in self._ranked(courses)[:MOST_WHOLE]:
            assert course.standing is not None
            self.progress(f"{course.architecture.name}, better", 0.0)
            others = (drafted(self.text, sketch) for sketch in course.sketches)
            better = improved(course.standing, others, self.catalogue, self._proved_at_quick)
            if better is not course.standing:
                course.better = (course.standing, better)
                course.standing = better
            self.progress(f"{course.architecture.name}, better", 1.0)

    def _proved_at_quick(
        self, text: str, changes: tuple[Change, ...], only: Collection[str]
    ) -> Tried:
        return self._proved(text, QUICK, changes, only)

    def _advance(self, course: _Course, depth: Depth) -> None:
        """Find a text of a course that serves at a depth, or note why none does."""
        name = f"{course.architecture.name}, {depth.name}"
        course.standing, course.depth = None, depth
        fallen: list[Tried] = []
        asked: set[str] = set()
        while (course.texts or course.sketches) and len(fallen) < MOST_SKETCHES:
            self.progress(name, len(fallen) / MOST_SKETCHES)
            text, changes = self._next(course)
            tried = self._proved(text, depth, changes, asked)
            if asked and serves(tried.proof):
                tried = self._proved(text, depth, changes)
            # What others fell short of is asked first: few differ in all that they lack.
            asked |= {finding.id for finding in breaches(tried.proof)}
            if serves(tried.proof) and not self._is_regretted(course, tried, depth):
                course.standing = tried
                break
            fallen.append(tried)
        else:
            closest = min(fallen, key=lambda each: len(breaches(each.proof)))
            mended = self._mended(closest, depth)
            course.standing = mended if serves(mended.proof) else None
            course.reason = "" if course.standing else _told(breaches(mended.proof)[0])
        self.progress(name, 1.0)

    def _next(self, course: _Course) -> tuple[str, tuple[Change, ...]]:
        """What is tried next; drafting takes a while, so that a sketch is drafted only then."""
        if course.texts:
            return course.texts.popleft()
        return drafted(self.text, course.sketches.popleft()), ()

    def _is_regretted(self, course: _Course, tried: Tried, depth: Depth) -> bool:
        """Whether what was made better at depth quick is worse than before at this one."""
        if course.better is None or course.better[1].text != tried.text:
            return False
        asked = {f.id for f in tried.proof.findings if f.verdict != "holds"}
        before = course.better[0]
        return bool(asked) and is_worse(
            tried.proof, self._proved(before.text, depth, before.changes, asked).proof
        )

    def _proved(
        self,
        text: str,
        depth: Depth,
        changes: tuple[Change, ...] = (),
        only: Collection[str] = (),
    ) -> Tried:
        design = read_draft(text, self.need.title, self.need)
        proof = prove(design, seed=self.seed, depth=depth, only=only, suspecting=False)
        return Tried(text, design, proof, changes)

    def _mended(self, tried: Tried, depth: Depth) -> Tried:
        """What the changes that mend its shortfalls make of a text; itself where none do."""
        for _ in range(MOST_MENDED):
            proof = remedied(tried.design, tried.text, tried.proof, depth)
            remedy = next((f.remedies[0] for f in proof.ledger if f.remedies), None)
            if remedy is None:
                break
            reasons = [(change, "as proving it asked") for change in remedy.changes]
            text = changed(tried.text, tried.design, reasons)
            tried = self._proved(text, depth, (*tried.changes, *remedy.changes))
            if serves(tried.proof):
                break
        return tried

    def _candidate(self, course: _Course, tried: Tried) -> Candidate:
        return Candidate(
            course.architecture.name,
            course.architecture.gives_up,
            tried.text,
            tried.design,
            tried.proof,
            course.depth,
            figures_of(tried.design, tried.proof, self.catalogue),
            tried.changes,
        )


def breaches(proof: Proof) -> list[Finding]:
    """Findings for which a candidate is not written, the worst first."""
    key = [f for f in proof.ledger if f.id.partition(".")[0] in KEY_FAMILIES]
    others = [f for f in proof.ledger if f not in key and f.verdict == "not proven"]
    short = [f for f in proof.ledger if f.verdict == "falls short"]
    unproven = [f for f in key if f.verdict == "not proven"]
    return [*short, *unproven, *(others if len(others) > MOST_OPEN else [])]


def serves(proof: Proof) -> bool:
    """Whether a candidate may be written: nothing falls short, and little is open."""
    return not breaches(proof)


def rank(candidate: Candidate) -> tuple[float, ...]:
    """Best first: proved deeply, nothing open, few marginal, cheap, little loss, few parts."""
    findings = candidate.proof.findings
    return (
        not candidate.depth.covers(DEFAULT),
        len(candidate.open),
        sum(f.verdict == "marginal" for f in findings),
        CLASSES.index(candidate.figures.price),
        round(candidate.figures.at_worst.loss, 1),
        candidate.figures.parts,
    )


def _told(finding: Finding) -> str:
    """A finding as a reason."""
    where = f" ({in_words(finding.where)})" if finding.where else ""
    return f"{finding.id} of {finding.subject} {finding.verdict}: {finding.because or where}"
