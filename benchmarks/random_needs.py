"""Random needs: what becomes of each, and how many of those that can be served are.

    python benchmarks/random_needs.py [--quick] [--deep] [--first N] [--count N] [--json FILE]

A proposal of every kind of supply for each seed: what is offered is proved at depth quick, made
better, or withdrawn with its reason; `--deep` proves the best at depth default, `--quick` sizes
only. The needs, and the inequality that calls one servable: `tests/architectures/needs.py`. A FILE
of the same commit is gone on with where it ended: it is written anew after each need. JSON keys:
depth, asked, servable, served, share, crashed, needs (seed -> servable, seconds, candidates,
withdrawn, crash), machine, commit.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
import traceback
from collections.abc import Mapping
from typing import Any

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path[0] = str(ROOT)

from railwright.architectures import every  # noqa: E402
from railwright.architectures.architecture import Refusal  # noqa: E402
from railwright.architectures.guarded import guarded  # noqa: E402
from railwright.circuit.design import read_text  # noqa: E402
from railwright.propose.candidates import propose  # noqa: E402
from railwright.surveys.depth import DEFAULT, QUICK, Depth  # noqa: E402
from tests.architectures.needs import need_of, servable, task_of  # noqa: E402

COUNT = 200
SIZED = "sized only"


def sized(text: str) -> dict[str, Any]:
    """Which kinds of supply offer something, and why the others do not."""
    task = task_of(text)
    offers = {architecture.name: guarded(architecture, task) for architecture in every()}
    return {
        "candidates": {n: SIZED for n, offer in offers.items() if not isinstance(offer, Refusal)},
        "withdrawn": {n: o.reason for n, o in offers.items() if isinstance(o, Refusal)},
    }


def proposed(text: str, depth: Depth) -> dict[str, Any]:
    """What stands, with verdict and depth, and why the others do not."""
    found = propose(read_text(text, "need"), text, depth=depth)
    return {
        "candidates": {
            c.architecture: f"{c.proof.verdict} at {c.depth.name}" for c in found.candidates
        },
        "withdrawn": {w.architecture: w.reason for w in found.withdrawn},
    }


def looked_at(seed: int, depth: Depth | None) -> dict[str, Any]:
    """What becomes of one need; an error is told and stays its own."""
    text, started = need_of(seed), time.perf_counter()
    found: dict[str, Any] = {"servable": servable(read_text(text, "need").need)}
    try:
        found |= sized(text) if depth is None else proposed(text, depth)
    except Exception as error:
        last = traceback.extract_tb(error.__traceback__)[-1]
        found["crash"] = f"{type(error).__name__}: {error} ({last.name}, line {last.lineno})"
    return found | {"seconds": round(time.perf_counter() - started, 1)}


def counted(needs: Mapping[str, Mapping[str, Any]], depth: str) -> dict[str, Any]:
    """The figures of all that was looked at."""
    can = [found for found in needs.values() if found["servable"]]
    served = sum(bool(found.get("candidates")) for found in can)
    return {
        "depth": depth,
        "asked": len(needs),
        "servable": len(can),
        "served": served,
        "share": round(served / len(can), 3) if can else None,
        "crashed": sum("crash" in found for found in needs.values()),
        "needs": needs,
        "machine": machine(),
        "commit": commit(),
    }


def asked() -> argparse.Namespace:
    """What the command line says."""
    parser = arguments(__doc__, "size only, without proof")
    parser.add_argument("--deep", action="store_true", help="prove the best at depth default")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--count", type=int, default=COUNT, help="how many seeds")
    found: argparse.Namespace = parser.parse_args()
    return found


def known(args: argparse.Namespace, depth: str) -> dict[str, dict[str, Any]]:
    """What the file has already, of this commit and depth."""
    if args.json is None or not args.json.exists():
        return {}
    before = json.loads(args.json.read_text(encoding="utf-8"))
    if (before.get("commit"), before.get("depth")) != (commit(), depth):
        return {}
    found: dict[str, dict[str, Any]] = before["needs"]
    return found


def main() -> None:
    """Go through the seeds, tell each, count."""
    args = asked()
    depth = None if args.quick else DEFAULT if args.deep else QUICK
    name = SIZED if depth is None else depth.name
    needs = known(args, name)
    for seed in range(args.first, args.first + args.count):
        if str(seed) in needs:
            continue
        found = looked_at(seed, depth)
        needs[str(seed)] = found
        write(counted(needs, name), args.json)
        stands = ", ".join(found.get("candidates", ())) or found.get("crash", "none")
        can = "" if found["servable"] else " (not called servable)"
        print(f"{seed}{can}: {stands}; {found['seconds']} s", flush=True)
    figures = counted(needs, name)
    print(as_json({key: value for key, value in figures.items() if key != "needs"}))


if __name__ == "__main__":
    main()
