"""What is true of every change that the study of mistakes makes: mistake, harmless, borderline?

    nice python benchmarks/_mutation_truth.py [--only EXAMPLE ...] [--again]

Writes benchmarks/truth/mutations.json: by id the verdict, the demand that decides with its
numbers, and the hash of the changed design. Changes whose hash stands there already are left
alone, unless they are to be decided again. SUNDIALS decides what is electrical, written rules from
published limits the rest (tests/mutants/truth.py, mains.py, rules.py); the tool's checks have
no part in it.
"""

from __future__ import annotations

import json
import sys
import time
from collections import Counter
from typing import Any

from _report import ROOT, arguments, as_json, commit

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from mutants.boards import NAMES, Board
from mutants.kinds import drawn
from mutants.rules import RULES
from mutants.verdicts import reserves, verdict

from railwright.pages.whole_file import write_whole

FILE = ROOT / "benchmarks" / "truth" / "mutations.json"
MOST = 110
"""Changes of one example."""


def known() -> dict[str, Any]:
    """What the file says already."""
    return json.loads(FILE.read_text("utf-8")) if FILE.exists() else {"changes": {}}


def write(found: dict[str, Any]) -> None:
    """The file, in the order of the ids."""
    FILE.parent.mkdir(exist_ok=True)
    write_whole(FILE, as_json(found) + "\n")


def main() -> None:
    """Decide what is not decided yet."""
    parser = arguments(__doc__, "nothing less: there is no quick truth")
    parser.add_argument("--only", nargs="*", default=NAMES, help="examples")
    parser.add_argument("--again", action="store_true", help="decide everything again")
    asked = parser.parse_args()
    figures = known()
    figures["rules"] = {rule: source for rule, (_, source) in RULES.items()}
    figures["commit"] = commit()
    for name in asked.only:
        decide(Board(name), figures, asked.again)
    print(Counter(each["verdict"] for each in figures["changes"].values()))


def decide(board: Board, figures: dict[str, Any], again: bool) -> None:
    """Every change of one example; written after each, so that nothing is lost."""
    changes, began = drawn(board, MOST), time.perf_counter()
    done = figures["changes"]
    wanted = [
        change
        for change in sorted(changes, key=lambda change: change.rewired)
        if again or done.get(change.id, {}).get("hash") != change.digest
    ]
    if not wanted:
        return
    forms: dict[str, Any] = {}
    before = {(f.rule, f.subject): f.reserve for f in reserves(board.design, forms)}
    for change in wanted:
        if change.rewired:
            forms = {}
        found = verdict(change.design(), before, forms)
        done[change.id] = {"hash": change.digest, **found.as_json()}
        write(figures)
        print(f"{time.perf_counter() - began:6.0f} s  {found.verdict:10} {change.id}  {found.by}",
              flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
