"""What stands before a regulator, from the input to the net that feeds it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from railwright.architectures.regulator import Feed, Regulator
from railwright.architectures.sheet import Sheet
from railwright.circuit.need import Output

Draw = Callable[[Sheet], None]
"""Puts parts on a sheet."""


LEGS = 25e-3
"""A beside the load for which a front is sized: legs and the regulator itself."""


def sized_for(rail: Output) -> float:
    """What a front has to give for a rail [A]; a resistive load takes more of more volts."""
    return rail.current.max * (1.0 + (rail.accuracy or 0.0)) + LEGS


@dataclass(frozen=True)
class Front:
    """One way to feed a regulator."""

    feed: Feed

    @property
    def wholly(self) -> Feed:
        """What feeds the regulator and all that carries a part of the current beside it."""
        return self.feed

    def asks(self, rail: Output) -> Output:
        """What is left of a rail for the regulator: all of it, where nothing carries a part."""
        return rail

    def fitted(self, regulator: Regulator) -> Draw:
        """What draws it before a regulator; Unserved where it cannot feed that."""
        raise NotImplementedError(type(self).__name__)
