"""Kinds of supply, one file each: what each can serve, and with which parts."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from railwright.architectures.architecture import Architecture
from railwright.files.folder import classes_in


@cache
def every() -> Sequence[Architecture]:
    """Every architecture, by name."""
    found = [each() for each in classes_in(__name__, __path__, Architecture) if each.name]
    return sorted(found, key=lambda architecture: architecture.name)
