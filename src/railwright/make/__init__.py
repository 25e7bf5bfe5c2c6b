"""What is needed to buy, wire, drill, solder and hand over; one file per document."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Sequence
from functools import cache

from railwright.make.document import Document


@cache
def every() -> Sequence[Document]:
    """Every document, by name."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    found = [each() for each in _subclasses(Document) if each.name]
    return sorted(found, key=lambda document: document.name)


def _subclasses(base: type[Document]) -> Iterator[type[Document]]:
    for each in base.__subclasses__():
        yield each
        yield from _subclasses(each)
