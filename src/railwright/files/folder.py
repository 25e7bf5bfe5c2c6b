"""Classes that exist by standing in a file of a folder: kinds of part, checks, documents ..."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterable, Iterator
from typing import TypeVar

Base = TypeVar("Base")


def classes_in(package: str, path: Iterable[str], base: type[Base]) -> list[type[Base]]:
    """Every class of a folder that builds on a base, by file and name; none from elsewhere.

    package, path: `__name__` and `__path__` of the folder.
    """
    for module in pkgutil.iter_modules(path):
        importlib.import_module(f"{package}.{module.name}")
    own = {each for each in _below(base) if each.__module__.startswith(f"{package}.")}
    return sorted(own, key=lambda each: (each.__module__, each.__qualname__))


def _below(base: type[Base]) -> Iterator[type[Base]]:
    for each in base.__subclasses__():
        yield each
        yield from _below(each)
