"""All documents of many supplies: is every one there, sound, and the same each time?

    python benchmarks/documents.py [--quick] [--deep] [--json FILE]

The examples, the published cases of `tests/cases`, and candidates of different kinds that are
proposed for `examples/needs`: each is proved, the demo at depth default and the others at quick
(`--deep`: all at default), its documents are made, and its files are read back as others read them
(see `tests/make/sound_documents.py`). A FILE of the same commit is gone on
with where it ended: it is written anew after each supply. JSON keys: supplies (by name: kind,
depth, verdict, parts, files, wrong, proof_s and documents_s of the processor), asked, sound, kinds
(of the candidates), seed, machine, commit.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
import traceback
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose files would stand before the tests' rooms of the same names.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from make.sound_documents import wrong

from railwright.architectures import every
from railwright.circuit.design import Design, read
from railwright.files.source import source_text
from railwright.make.written import documents
from railwright.propose.candidates import propose
from railwright.prove.run import prove
from railwright.surveys.depth import DEFAULT, QUICK, Depth
from railwright.surveys.operating_range import Choice

SEED = 1
KINDS = 12
"""Kinds of supply of which a candidate is looked at."""
DEMO = "radio-bench-rail"
QUICK_SUPPLIES = (DEMO, "workshop-twelve-volts", "gain-inside-the-loop")
EXAMPLES = ROOT / "examples"


@dataclass(frozen=True)
class Supply:
    """A design with where it is from."""

    name: str
    kind: str
    """`example`, `case`, or the kind of supply that was proposed."""
    design: Design


def examples() -> Iterator[Supply]:
    """Designs that come with the project; the board with mistakes is one of them."""
    for path in sorted(EXAMPLES.glob("*.toml")):
        if not path.stem.endswith("mistakes"):
            yield Supply(path.stem, "example", read(path))


def cases() -> Iterator[Supply]:
    """Published supplies that did not work, rebuilt."""
    for path in sorted((ROOT / "tests" / "cases").glob("*.toml")):
        yield Supply(path.stem, "case", read(path))


def proposed(have: Mapping[str, Any]) -> Iterator[Supply]:
    """A candidate of every kind of supply that is offered, need by need, until there are enough."""
    kinds = {each["kind"] for each in have.values()} - {"example", "case"}
    for path in sorted((EXAMPLES / "needs").glob("*.toml")):
        if len(kinds) >= KINDS:
            return
        left = [each for each in every() if each.name not in kinds]
        offered = propose(read(path), source_text(path), depth=QUICK, architectures=left)
        for each in offered.candidates:
            kinds.add(each.architecture)
            yield Supply(f"{path.stem}: {each.architecture}", each.architecture, each.design)


def looked_at(supply: Supply, depth: Depth) -> dict[str, Any]:
    """Prove a supply, make its documents, of an example twice; an error stays its own."""
    found: dict[str, Any] = {
        "kind": supply.kind,
        "depth": depth.name,
        "parts": len(supply.design.circuit.parts),
    }
    try:
        began = time.process_time()
        proof = prove(supply.design, seed=SEED, depth=depth, nets=Choice())
        proved = time.process_time()
        made = documents(supply.design, proof)
        taken = time.process_time()
        told = wrong(made, supply.design.circuit)
        if supply.kind == "example" and documents(supply.design, proof).files != made.files:
            told.append("made once more, the files are others")
    except Exception:
        return found | {"wrong": [traceback.format_exc(limit=-3)]}
    return found | {
        "verdict": proof.verdict,
        "files": len(made.files),
        "wrong": told,
        "proof_s": round(proved - began, 2),
        "documents_s": round(taken - proved, 2),
    }


def counted(supplies: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    """The figures of all that was looked at."""
    kinds = {each["kind"] for each in supplies.values()} - {"example", "case"}
    return {
        "asked": len(supplies),
        "sound": sum(not each["wrong"] for each in supplies.values()),
        "kinds": sorted(kinds),
        "supplies": supplies,
        "seed": SEED,
        "machine": machine(),
        "commit": commit(),
    }


def known(file: Path | None) -> dict[str, dict[str, Any]]:
    """What the file has already, of this commit: what was not sound is looked at again."""
    if file is None or not file.exists():
        return {}
    before = json.loads(file.read_text(encoding="utf-8"))
    if before.get("commit") != commit():
        return {}
    return {name: each for name, each in before["supplies"].items() if not each["wrong"]}


def wanted(args: argparse.Namespace, have: Mapping[str, Any]) -> Iterator[tuple[Supply, Depth]]:
    """What is to be looked at, and how deep its proof is."""
    if args.quick:
        yield from (
            (each, QUICK) for each in chain(examples(), cases()) if each.name in QUICK_SUPPLIES
        )
        return
    for each in chain(examples(), proposed(have), cases()):
        if each.name not in have:
            yield each, DEFAULT if args.deep or each.name == DEMO else QUICK


def main() -> None:
    """Make, read, count."""
    parser = arguments(__doc__, f"{len(QUICK_SUPPLIES)} supplies, proved at depth quick")
    parser.add_argument("--deep", action="store_true", help="prove all at depth default")
    args = parser.parse_args()
    supplies = known(args.json)
    for supply, depth in wanted(args, supplies):
        found = looked_at(supply, depth)
        supplies[supply.name] = found
        write(counted(supplies), args.json)
        told = "; ".join(found["wrong"]) or f"sound, {found['verdict']}"
        print(f"{supply.name}: {told}", flush=True)
    figures = counted(supplies)
    print(as_json({key: value for key, value in figures.items() if key != "supplies"}))


if __name__ == "__main__":
    main()
