"""Kinds of supply, one file each: what each can serve, and with which parts."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Sequence
from functools import cache

from railwright.architectures.architecture import Architecture


@cache
def every() -> Sequence[Architecture]:
    """Every architecture, by name."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    found = [each() for each in set(_subclasses(Architecture)) if each.name]
    return sorted(found, key=lambda architecture: architecture.name)


def _subclasses(base: type[Architecture]) -> Iterator[type[Architecture]]:
    for each in base.__subclasses__():
        yield each
        yield from _subclasses(each)
