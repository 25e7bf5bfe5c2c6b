"""Guards that stand between a supply and its terminals, one file each."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Sequence
from functools import cache

from railwright.architectures.guards.guard import Guard


@cache
def every() -> Sequence[type[Guard]]:
    """Every guard, those nearest to the terminals first."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    found = [each for each in set(_subclasses(Guard)) if each.name]
    return sorted(found, key=lambda guard: (guard.depth, guard.preference, guard.name))


def _subclasses(base: type[Guard]) -> Iterator[type[Guard]]:
    for each in base.__subclasses__():
        yield each
        yield from _subclasses(each)
