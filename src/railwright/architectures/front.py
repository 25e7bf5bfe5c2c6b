"""What stands before a regulator, from the input to the net that feeds it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from railwright.architectures.regulator import Feed, Regulator
from railwright.architectures.sheet import Sheet

Draw = Callable[[Sheet], None]
"""Puts parts on a sheet."""


@dataclass(frozen=True)
class Front:
    """One way to feed a regulator."""

    feed: Feed

    def fitted(self, regulator: Regulator) -> Draw:
        """What draws it before a regulator; Unserved where it cannot feed that."""
        raise NotImplementedError(type(self).__name__)
