"""Put the proof to every change of which the truth is known."""

from __future__ import annotations

import itertools
import random
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from mutants.boards import NAMES, Board, Change
from mutants.kinds import every

from railwright.prove.proof import Finding, Proof
from railwright.prove.run import prove
from railwright.surveys.depth import DEFAULT, QUICK, Depth

SELDOM = 25
DEAR = ("radio-bench-rail", "workshop-twelve-volts")
"""Examples that a quick run looks at once in so many rounds, and at no change for which their code
is made anew: each takes far longer."""
BY_IDENTITY = ("renamed", "reordered", "turned round", "split")
"""Kinds of changes that no spread decides: what is asked of them, the quick depth asks."""


@dataclass(frozen=True)
class Tried:
    """What the proof said of one change."""

    id: str
    example: str
    kind: str
    verdict: str
    """What is true: `mistake` or `harmless`."""
    by: str
    """The demand that decides."""
    right: bool
    depth: str
    said: str
    """What the proof said instead; or why it did not come through."""
    seconds: float


def known(changes: Mapping[str, Any]) -> list[tuple[Change, Mapping[str, Any]]]:
    """Changes whose truth is decided, of examples and changes that are still those."""
    found = []
    for name in NAMES:
        everything = every(Board(name))
        random.Random(name).shuffle(everything)
        for change in everything:
            truth = changes.get(change.id)
            if truth is not None and truth["hash"] == change.digest:
                found.append((change, truth))
    return found


def stale(changes: Mapping[str, Any], found: Sequence[tuple[Change, Any]]) -> int:
    """How many decided changes are of an example or a change that is another by now."""
    return len(changes) - len(found)


def names(finding: Finding, parts: Sequence[str]) -> bool:
    """Whether a finding has one of these parts as its subject or its first cause."""
    first = finding.causes[0].part if finding.causes else ""
    subjects = finding.subject.replace(",", " ").split()
    return first in parts or bool(set(subjects) & set(parts))


def catches(proof: Proof, change: Change) -> bool:
    """Whether a proof falls short over a change, and names it."""
    return any(f.verdict == "falls short" and names(f, change.parts) for f in proof.findings)


def tried(change: Change, truth: Mapping[str, Any]) -> Tried:
    """The proof of a changed design, at the depth that its truth needs."""
    began = time.perf_counter()
    mistake = truth["verdict"] == "mistake"
    depths: Sequence[Depth] = (QUICK, DEFAULT)
    if not mistake:
        depths = (QUICK,) if change.kind in BY_IDENTITY else (DEFAULT,)
    right, said = False, ""
    depth = depths[0]
    for depth in depths:
        try:
            proof = prove(change.design(), depth=depth)
        except Exception as error:
            said = f"{type(error).__name__}: {error}"[:300]
            continue
        bad = [f for f in proof.findings if f.verdict in ("falls short", "not proven")]
        right = catches(proof, change) if mistake else not bad
        said = "; ".join(
            f"{f.verdict}: {f.id} {f.subject} [{f.causes[0].part if f.causes else ''}] {f.because}"[
                :160
            ]
            for f in bad[:3]
        )
        if right and mistake:
            break
    return Tried(
        change.id, change.example, change.kind, truth["verdict"], truth["by"], right,
        depth.name, said, time.perf_counter() - began,
    )  # fmt: skip


def chosen(
    found: Sequence[tuple[Change, Mapping[str, Any]]],
    verdict: str,
    count: int,
    seldom: Sequence[str] = (),
) -> list[tuple[Change, Mapping[str, Any]]]:
    """So many changes of a verdict, in equal shares over the examples, then over the kinds.

    seldom: examples that get a turn in each SELDOM rounds only, and with no other circuit.
    """
    by_example: dict[str, dict[str, list[Any]]] = {name: {} for name in NAMES}
    for change, truth in found:
        anew = change.rewired and change.example in seldom
        if truth["verdict"] == verdict and not anew:
            by_example[change.example].setdefault(change.kind, []).append((change, truth))
    taken: list[Any] = []
    queues = {name: _by_turns(kinds) for name, kinds in by_example.items()}
    for turn in itertools.count():
        if len(taken) >= count or not any(queues.values()):
            return taken
        for name, queue in queues.items():
            if queue and len(taken) < count and not (name in seldom and turn % SELDOM):
                taken.append(queue.pop(0))
    return taken


def _by_turns(kinds: Mapping[str, list[Any]]) -> list[Any]:
    left = {kind: list(changes) for kind, changes in kinds.items()}
    found = []
    while any(left.values()):
        for changes in left.values():
            if changes:
                found.append(changes.pop(0))
    return found
