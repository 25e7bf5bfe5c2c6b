"""A limit that holds the current, made of a transistor ahead of the regulator."""

from __future__ import annotations

from dataclasses import dataclass

from railwright.architectures.architecture import Unserved
from railwright.architectures.guards.limiter import Limiter, Sized, senses
from railwright.architectures.guards.own_limit import band_of


@dataclass(frozen=True)
class ConstantCurrent(Limiter):
    """As wide as the base voltage of a transistor with its warmth makes it."""

    name = "limiter of the current"
    style = "constant-current"

    def chosen(self, bare: Sized) -> Sized:
        carry, act_by = band_of(bare.rail)
        found = self.best(senses(bare, 0.5 * (carry + act_by)))
        if not self.kept(found):
            raise Unserved(f"{self.told(found)}, the wanted reserve left on either side")
        return found
