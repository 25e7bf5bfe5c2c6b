"""What is needed to buy, wire, drill, solder and hand over; one file per document."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from railwright.files.folder import classes_in
from railwright.make.document import Document


@cache
def every() -> Sequence[Document]:
    """Every document, by name."""
    found = [each() for each in classes_in(__name__, __path__, Document) if each.name]
    return sorted(found, key=lambda document: document.name)
