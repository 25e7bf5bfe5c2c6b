"""Guards that stand between a supply and its terminals, one file each."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from railwright.architectures.guards.guard import Guard
from railwright.files.folder import classes_in


@cache
def every() -> Sequence[type[Guard]]:
    """Every guard, those nearest to the terminals first."""
    found = [each for each in classes_in(__name__, __path__, Guard) if each.name]
    return sorted(found, key=lambda guard: (guard.depth, guard.preference, guard.name))
