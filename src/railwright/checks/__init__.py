"""The questions put to a supply; a family of them is one file of this folder."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import TypeVar

from railwright.checks.check import Check, FaultCheck, WiringCheck
from railwright.files.folder import classes_in

Kind = TypeVar("Kind", Check, FaultCheck, WiringCheck)


@cache
def every() -> Sequence[Check]:
    """Every check over range and spread, by id."""
    return _found(Check)


@cache
def every_wiring() -> Sequence[WiringCheck]:
    """Every wiring check, in the order in which they are asked."""
    return sorted(_found(WiringCheck), key=lambda check: check.order)


@cache
def every_faults() -> Sequence[FaultCheck]:
    """Every check of single faults, by id."""
    return _found(FaultCheck)


def _found(base: type[Kind]) -> list[Kind]:
    checks = [each() for each in classes_in(__name__, __path__, base) if each.id]
    return sorted(checks, key=lambda check: check.id)
