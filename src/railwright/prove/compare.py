"""What a change did: two proofs side by side, question by question."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from railwright.circuit.design import Design
from railwright.circuit.differences import Differences, differences
from railwright.prove.proof import SEVERITIES, WORST_FIRST, FaultRow, Finding, Proof

Change = Literal["worse", "new", "better", "gone", "same"]
CHANGES: tuple[Change, ...] = ("worse", "new", "better", "gone")
"""In the order in which they are told."""
NOTICED = 0.005
"""Reserves that differ by less than this, or by less than twice as much of themselves, are the
same: every part has some effect on nearly everything."""


@dataclass(frozen=True)
class Compared:
    """One question about one subject, before and after; None where it was not asked."""

    before: Finding | None
    after: Finding | None

    @property
    def told(self) -> Finding:
        """The finding that says what is asked about what: the later one, where there is one.

        Of a fault of wiring and what holds without it that is the fault, which names the part.
        """
        found = self.after or self.before
        if self.before is not None and found is not None and _is_sound(found):
            found = self.before
        assert found is not None
        return found

    @property
    def change(self) -> Change:
        """Which way it went: by its verdict, then by its reserve."""
        if self.before is None:
            return "new"
        if self.after is None:
            return "gone"
        before, after = (WORST_FIRST.index(f.verdict) for f in (self.before, self.after))
        if before != after:
            return "worse" if after < before else "better"
        gain = self.gain
        return "same" if not gain else "worse" if gain < 0 else "better"

    @property
    def gain(self) -> float:
        """Change of the reserve; nil where it is not noticed, or where there is no reserve."""
        before, after = (_reserve(f) for f in (self.before, self.after))
        if math.isnan(before) or math.isnan(after) or before == after:
            return 0.0
        noticed = max(NOTICED, 2.0 * NOTICED * min(abs(before), abs(after)))
        return after - before if abs(after - before) > noticed else 0.0


@dataclass(frozen=True)
class ComparedFault:
    """One way in which one part fails, before and after; None where there is none."""

    before: FaultRow | None
    after: FaultRow | None

    @property
    def told(self) -> FaultRow:
        """The row that says which part fails and how."""
        found = self.after or self.before
        assert found is not None
        return found


@dataclass(frozen=True)
class Comparison:
    """Two proofs of two designs, or of one before and after a change."""

    before: Proof
    after: Proof
    differences: Differences
    compared: Sequence[Compared]

    def of(self, change: Change) -> list[Compared]:
        """What went one way, worst first: by the worse verdict and reserve of before and after."""

        def rank(each: Compared) -> tuple[int, float, float]:
            both = [found for found in (each.before, each.after) if found is not None]
            known = [reserve for reserve in map(_reserve, both) if not math.isnan(reserve)]
            verdict = min(WORST_FIRST.index(found.verdict) for found in both)
            return verdict, min(known, default=math.inf), -abs(each.gain)

        return sorted((each for each in self.compared if each.change == change), key=rank)

    @property
    def faults(self) -> list[ComparedFault]:
        """Single faults of another severity than before, the gravest after first."""
        old, new = (
            {(row.part, row.mode): row for row in proof.faults}
            for proof in (self.before, self.after)
        )
        if not old or not new:  # one of both needs say nothing of them
            return []
        both = [ComparedFault(old.get(k), new.get(k)) for k in dict.fromkeys([*old, *new])]
        order = list(SEVERITIES)
        changed = [f for f in both if _severity(f.before) != _severity(f.after)]
        return sorted(changed, key=lambda fault: order.index(fault.told.severity))

    @property
    def asked_no_more(self) -> list[str]:
        """What only the second proof did not look at."""
        return [each for each in self.after.not_asked if each not in self.before.not_asked]

    @property
    def asked_now(self) -> list[str]:
        """What only the first proof did not look at."""
        return [each for each in self.before.not_asked if each not in self.after.not_asked]


def compare(designs: tuple[Design, Design], proofs: tuple[Proof, Proof]) -> Comparison:
    """Both proofs, question by question, with what differs between the designs."""
    before, after = proofs
    return Comparison(before, after, differences(*designs), list(_pairs(before, after)))


def _pairs(before: Proof, after: Proof) -> Iterator[Compared]:
    old, new = _by_question(before), _by_question(after)
    for question in dict.fromkeys([*old, *new]):
        yield from _paired(old.get(question, {}), new.get(question, {}))


def _by_question(proof: Proof) -> Mapping[str, Mapping[str, Finding]]:
    """Findings by id and subject."""
    found: defaultdict[str, dict[str, Finding]] = defaultdict(dict)
    for finding in proof.ledger:
        # Of several faults at one subject the first is the worst.
        found[finding.id].setdefault(finding.subject, finding)
    return found


def _paired(old: Mapping[str, Finding], new: Mapping[str, Finding]) -> Iterator[Compared]:
    """The findings of one question by subject.

    A question of wiring that holds has one finding for all that it looked at: it stands beside
    every fault that the other proof has.
    """
    before, after = (next(filter(_is_sound, each.values()), None) for each in (old, new))
    if before is not None and after is not None:
        yield Compared(before, after)
    elif before is not None:
        yield from (Compared(before, fault) for fault in new.values())
        if not new:
            yield Compared(before, None)
    elif after is not None:
        yield from (Compared(fault, after) for fault in old.values())
        if not old:
            yield Compared(None, after)
    else:
        for subject in dict.fromkeys([*old, *new]):
            yield Compared(old.get(subject), new.get(subject))


def _is_sound(finding: Finding) -> bool:
    """Whether it tells that no fault of wiring was found."""
    return finding.verdict == "holds" and finding.margin is None


def _severity(row: FaultRow | None) -> str:
    return "" if row is None else row.severity


def _reserve(finding: Finding | None) -> float:
    return math.nan if finding is None or finding.reserve is None else finding.reserve
