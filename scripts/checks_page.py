"""Write `docs/checks.md`: every question that a proof asks, with its formula and an example."""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Iterator
from itertools import groupby
from pathlib import Path

from railwright.checks import every, every_faults, every_wiring
from railwright.checks.check import Check, FaultCheck, WiringCheck
from railwright.pages.whole_file import write_whole
from railwright.surveys.depth import QUICK, Depth

AnyCheck = Check | FaultCheck | WiringCheck

PAGE = Path(__file__).resolve().parent.parent / "docs" / "checks.md"
OPENING = """\
# The checks

Written by `scripts/checks_page.py` from the checks themselves: change those, not this page. The
sums of the examples are held by a test.

A check is a question, put to every part, rail or net that it concerns. Its answer is a margin:
the distance of a value from its limit, positive where all is well. The reserve is that margin over
a scale of the question's own, so that reserves compare. A negative margin falls short; a reserve
below the one that the need wants (`need.parts.reserve`, 10 % where it says nothing) is marginal.
Unless said otherwise a margin is the least over the operating range, with every part at its
worst within its spread; faults of wiring have no margin.
"""


def page() -> str:
    """The whole page, as Markdown."""
    found: list[AnyCheck] = sorted(
        [*every(), *every_faults(), *every_wiring()], key=lambda check: check.id
    )
    families = {name: list(checks) for name, checks in groupby(found, _family)}
    lines = [OPENING, f"{len(found)} checks in {len(families)} families.\n", *_overview(found)]
    for name, checks in families.items():
        lines += [f"\n## {name}", *(line for check in checks for line in _check(check))]
    return "\n".join(lines) + "\n"


def _family(check: AnyCheck) -> str:
    return check.id.partition(".")[0]


def _overview(found: Iterable[AnyCheck]) -> Iterator[str]:
    yield "| check | question |"
    yield "| --- | --- |"
    for check in found:
        yield f"| [{check.id}](#{check.id.replace('.', '')}) | {check.question} |"


def _check(check: AnyCheck) -> Iterator[str]:
    yield f"\n### {check.id}\n"
    yield f"**{check.question}**\n"
    yield f"{check.analysis}\n"
    yield f"Example: {check.example}\n"
    yield f"{_put(check)}\n"
    yield f"Source: {check.source}."


def _put(check: AnyCheck) -> str:
    """In which situation the check looks at the circuit."""
    if isinstance(check, WiringCheck):
        return f"Looked at: how the parts are joined, once.{_from_depth(check.since)}"
    if isinstance(check, FaultCheck):
        return "Looked at: each part in each of its kind's fault modes, one at a time."
    situation = check.situation
    told = inspect.cleandoc(type(situation).__doc__ or "").partition("\n\n")[0]
    return f"Looked at: {situation.name}. {' '.join(told.split())}{_from_depth(situation.since)}"


def _from_depth(since: Depth) -> str:
    return "" if since == QUICK else f" From depth `{since.name}` on."


if __name__ == "__main__":
    write_whole(PAGE, page())
