"""Random needs: how many of those that an inequality calls servable get a proved candidate.

    python benchmarks/random_needs.py [--quick] [--first N] [--count N] [--json FILE]

Every need is sized by every architecture; what is offered is proved at depth quick, one kind of
supply after the other, until one serves. `--quick` sizes only. The needs and the inequality:
`tests/architectures/needs.py`. JSON keys: servable, served, by (seed -> architecture), refused
(seed -> reasons by architecture), machine, commit.
"""

from __future__ import annotations

import argparse
import sys

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path[0] = str(ROOT)

from railwright.architectures import every  # noqa: E402
from railwright.architectures.architecture import Refusal  # noqa: E402
from railwright.circuit.design import Design, read_text  # noqa: E402
from railwright.propose.candidates import propose  # noqa: E402
from railwright.surveys.depth import QUICK  # noqa: E402
from tests.architectures.needs import need_of, servable, task_of  # noqa: E402

COUNT = 100


def reasons(need: Design, text: str, size_only: bool) -> tuple[str, dict[str, str]]:
    """The first architecture that serves, or none; and why each before it does not."""
    task = task_of(text)
    refused: dict[str, str] = {}
    offered = []
    for architecture in every():
        offer = architecture.offer(task)
        if isinstance(offer, Refusal):
            refused[architecture.name] = offer.reason
        else:
            offered.append(architecture)
    for architecture in offered:
        if size_only:
            return architecture.name, refused
        found = propose(need, text, depth=QUICK, architectures=[architecture])
        if found.candidates:
            return architecture.name, refused
        refused[architecture.name] = f"(proved) {found.withdrawn[0].reason}"
    return "", refused


def asked() -> argparse.Namespace:
    """What the command line says."""
    parser = arguments(__doc__, "size only, without proof")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--count", type=int, default=COUNT, help="how many seeds")
    found: argparse.Namespace = parser.parse_args()
    return found


def main() -> None:
    """Go through the seeds, tell each, count."""
    args = asked()
    served: dict[int, str] = {}
    refused: dict[int, dict[str, str]] = {}
    for seed in range(args.first, args.first + args.count):
        text = need_of(seed)
        need = read_text(text, "need")
        if not servable(need.need):
            continue
        by, why = reasons(need, text, args.quick)
        if by:
            served[seed] = by
        else:
            refused[seed] = why
        total = len(served) + len(refused)
        print(f"{seed}: {by or 'none'}; {len(served)} of {total}", flush=True)
        for name, reason in why.items() if not by else ():
            print(f"    {name}: {reason}", flush=True)
    figures = {
        "servable": len(served) + len(refused),
        "served": len(served),
        "by": served,
        "refused": refused,
        "machine": machine(),
        "commit": commit(),
    }
    print(as_json(figures))
    write(figures, args.json)


if __name__ == "__main__":
    main()
