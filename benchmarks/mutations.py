"""Does the proof find mistakes, and leave alone what is none?

    python benchmarks/mutations.py [--quick] [--json FILE] [--only EXAMPLE ...] [--misses FILE]
                                   [--kept FILE]

Every change of an example of which the truth is decided (benchmarks/truth/mutations.json, written
by _mutation_truth.py) is proven. A mistake is caught where a finding falls short that has the
changed part as its subject or its first cause, or, where a part went, one that shared a net with
it. A harmless change is a false alarm where anything falls short or stays unproven. JSON keys:
mistakes, caught, harmless, false_alarms (counts), misses and alarms (what was not right: id, the
demand that decides, what was said instead), by_kind and by_example (tried and right), stale (truths
of changes that are others by now), seconds, machine, commit.

The full study takes about an hour. With --kept every judgement is added to a file as it is made;
run again at the same commit, those in it are not made again.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from mutants.boards import NAMES
from mutants.study import DEAR, Tried, chosen, known, stale, tried

FILE = ROOT / "benchmarks" / "truth" / "mutations.json"
QUICK = 100
"""Mistakes, and harmless changes, of a quick run."""


def kept(file: Path | None) -> list[Tried]:
    """What was judged at this commit before; a run that was cut short may leave half a line."""
    if file is None or not file.exists():
        return []
    lines = [line for line in file.read_text("utf-8").splitlines() if line.endswith("}")]
    judged = [json.loads(line) for line in lines]
    return [Tried(**each["tried"]) for each in judged if each["commit"] == commit()]


def keeping(found: Iterable[Tried], file: Path | None) -> Iterator[Tried]:
    """The same, each added to the file as it comes."""
    for each in found:
        if file is not None:
            with file.open("a", encoding="utf-8") as lines:
                lines.write(json.dumps({"commit": commit(), "tried": asdict(each)}) + "\n")
        yield each


def one(task: tuple[Any, Any]) -> Tried:
    """One change, in a process of its own."""
    found = tried(*task)
    if not found.right:
        print(f"{found.verdict} {found.id} ({found.by}): {found.said[:200]}", flush=True)
    return found


def counted(found: Sequence[Tried], key: str) -> dict[str, dict[str, int]]:
    """Tried and right, of mistakes and of harmless changes, by some property."""
    counts: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for each in found:
        row = counts[getattr(each, key)]
        row[each.verdict] += 1
        row[f"{each.verdict} right"] += each.right
    return {name: dict(row) for name, row in sorted(counts.items())}


def told(each: Tried) -> dict[str, str]:
    """What is told of a miss or a false alarm."""
    return {"id": each.id, "by": each.by, "said": each.said}


def main() -> None:
    """Prove them all, count."""
    parser = arguments(__doc__, f"{QUICK} mistakes and {QUICK} harmless changes")
    parser.add_argument("--only", nargs="*", default=NAMES, help="examples")
    parser.add_argument("--misses", type=Path, metavar="FILE", help="a list to read, by kind")
    parser.add_argument("--kept", type=Path, metavar="FILE", help="judgements, added one by one")
    parser.add_argument("--processes", type=int, default=os.cpu_count(), help="side by side")
    asked = parser.parse_args()
    began = time.perf_counter()
    changes = json.loads(FILE.read_text("utf-8"))["changes"]
    decided = known(changes)
    old = stale(changes, decided)
    decided = [each for each in decided if each[0].example in asked.only]
    most = QUICK if asked.quick else len(decided)
    seldom = DEAR if asked.quick else ()
    tasks = [t for word in ("mistake", "harmless") for t in chosen(decided, word, most, seldom)]
    # Those of one example after another, so that what is compiled for one serves the next.
    tasks.sort(key=lambda task: (task[0].example, task[0].rewired))
    found = kept(asked.kept)
    before = {each.id for each in found}
    earlier = sum(each.seconds for each in found) / asked.processes
    left = [task for task in tasks if task[0].id not in before]
    with get_context("fork").Pool(asked.processes, maxtasksperchild=20) as pool:
        found += keeping(pool.imap_unordered(one, left), asked.kept)
    mistakes = [each for each in found if each.verdict == "mistake"]
    harmless = [each for each in found if each.verdict == "harmless"]
    misses = [each for each in mistakes if not each.right]
    alarms = [each for each in harmless if not each.right]
    figures = {
        "mistakes": len(mistakes),
        "caught": len(mistakes) - len(misses),
        "harmless": len(harmless),
        "false_alarms": len(alarms),
        "misses": [told(each) for each in sorted(misses, key=lambda each: each.id)],
        "alarms": [told(each) for each in sorted(alarms, key=lambda each: each.id)],
        "by_kind": counted(found, "kind"),
        "by_example": counted(found, "example"),
        "stale": old,
        "seconds": round(earlier + time.perf_counter() - began, 1),
        "machine": machine(),
        "commit": commit(),
    }
    if asked.misses:
        asked.misses.write_text(listed(figures, misses, alarms), "utf-8")
    print(as_json({k: v for k, v in figures.items() if k not in ("misses", "alarms")}))
    write(figures, asked.json)


def listed(figures: dict[str, Any], misses: list[Tried], alarms: list[Tried]) -> str:
    """Misses by kind of mistake, then false alarms, to be read."""
    head = (
        f"{figures['caught']} of {figures['mistakes']} mistakes caught, "
        f"{figures['false_alarms']} false alarms in {figures['harmless']} harmless changes; "
        f"commit {figures['commit']}, {figures['seconds']} s\n"
    )
    lines = [head]
    for word, group in (("MISSED", misses), ("FALSE ALARM", alarms)):
        for kind in sorted({each.kind for each in group}):
            lines.append(f"\n{word}: {kind}\n")
            lines += [
                f"  {each.id}\n      true by: {each.by}\n      said ({each.depth}): {each.said}\n"
                for each in sorted(group, key=lambda each: each.id)
                if each.kind == kind
            ]
    return "".join(lines)


if __name__ == "__main__":
    main()
