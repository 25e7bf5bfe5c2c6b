"""Mistake, harmless, borderline or undecided: from reserves before and after a change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from mutants.guards import guarded
from mutants.mains import MainsTruth
from mutants.rules import Ruled, ruled
from mutants.truth import RESERVE, Forms, Truth, Undecided

from railwright.circuit.design import Design

SAME = 0.02
"""A reserve that fell by less than this is that of the example still."""
CLEAR = -0.01
"""A reserve below this is broken; between it and nil rounding may decide."""


@dataclass(frozen=True)
class Verdict:
    """What is true of a change, and the demand that decides."""

    verdict: str
    """`mistake`, `harmless`, `borderline` or `undecided`."""
    by: str = ""
    reserve: float | None = None
    value: float | None = None
    limit: float | None = None

    def as_json(self) -> dict[str, object]:
        rounded = {
            name: None if number is None or not np.isfinite(number) else float(f"{number:.4g}")
            for name, number in (
                ("reserve", self.reserve), ("value", self.value), ("limit", self.limit)
            )
        }  # fmt: skip
        return {"verdict": self.verdict, "by": self.by, **rounded}


def reserves(design: Design, forms: Forms) -> list[Ruled]:
    """All demands on a design; those of guards where the others are met.

    Undecided where SUNDIALS cannot tell.
    """
    truth = (MainsTruth if design.need.input.kind == "ac" else Truth)(design, forms)
    found = [*ruled(design), *truth.judged()]
    if any(each.reserve < CLEAR for each in found):
        return found
    return [*found, *guarded(truth)]


def verdict(design: Design, before: Mapping[tuple[str, str], float], forms: Forms) -> Verdict:
    """The verdict on a changed design; before: reserves of the example itself."""
    by_rules = [found for found in ruled(design) if found.reserve < CLEAR]
    if by_rules:
        return _told("mistake", min(by_rules, key=lambda found: found.reserve))
    try:
        with np.errstate(all="ignore"):
            found = reserves(design, forms)
    except (Undecided, np.linalg.LinAlgError, ValueError, KeyError, StopIteration) as error:
        return Verdict("undecided", f"{type(error).__name__}: {error}"[:200])
    if any(not np.isfinite(each.reserve) for each in found):
        return Verdict("undecided", "a demand without a number")
    lowest = min(found, key=lambda each: each.reserve)
    if lowest.reserve < CLEAR:
        return _told("mistake", lowest)
    near = [
        each
        for each in found
        if each.reserve < RESERVE
        and each.reserve < _earlier(before, each) - SAME * abs(each.reserve) - 1e-3
    ]
    if lowest.reserve < 0 or near:
        return _told("borderline", min(near or [lowest], key=lambda each: each.reserve))
    return _told("harmless", lowest)


def _earlier(before: Mapping[tuple[str, str], float], found: Ruled) -> float:
    """The reserve of a demand in the example; of a ref it does not have, the rule's least one."""
    known = before.get((found.rule, found.subject))
    if known is not None:
        return known
    return min((r for (rule, _), r in before.items() if rule == found.rule), default=np.inf)


def _told(word: str, found: Ruled) -> Verdict:
    return Verdict(
        word, f"{found.rule} of {found.subject}", found.reserve, found.value, found.limit
    )
