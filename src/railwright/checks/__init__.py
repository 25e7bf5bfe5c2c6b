"""The questions put to a supply; a family of them is one file of this folder."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Sequence
from functools import cache
from typing import TypeVar

from railwright.checks.check import Check, FaultCheck, WiringCheck

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
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    checks = [each() for each in set(_subclasses(base)) if each.id]
    return sorted(checks, key=lambda check: check.id)


def _subclasses(base: type[Kind]) -> Iterator[type[Kind]]:
    for each in base.__subclasses__():
        yield each
        yield from _subclasses(each)
