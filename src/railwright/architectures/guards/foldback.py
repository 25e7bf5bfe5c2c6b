"""A limit that folds back, made of a transistor ahead of the regulator and a divider to its base.

Where more voltage is across, less current turns the small transistor on: a short makes less heat.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from railwright.architectures.architecture import Unserved
from railwright.architectures.guards.limiter import BASE, Limiter, Sized, senses
from railwright.architectures.guards.own_limit import band_of
from railwright.standards.iec60063 import nearest

FOLDS = 0.33, 0.4, 0.5, 0.6, 0.7, 0.8
"""Current in a short over that where it begins to fold, which are tried: a third to a half is
usual (textbooks: a maximum of 2 to 3 times that in a short)."""


@dataclass(frozen=True)
class Foldback(Limiter):
    """As far as neither the band nor the load on its way up suffers."""

    name = "foldback limiter"
    style = "foldback"

    def chosen(self, bare: Sized) -> Sized:
        found = [self.best(_folding(bare, fold)) for fold in FOLDS]
        kept = [each for each in found if self.kept(each) and each.starts]
        if kept:
            return min(kept, key=lambda each: each.loss)
        best = max(found, key=lambda each: each.spare)
        held = "" if best.starts else "; in a short it gives less than the load takes at once"
        raise Unserved(f"{self.told(best)}, the wanted reserve left on either side{held}")


def _folding(bare: Sized, fold: float) -> Iterator[Sized]:
    """Resistors that fold typically so far.

    k from f (Vbe (1 + k) - k (V - Vout)) = Vbe (1 + k) - k V, at the highest output.
    """
    base, volts = bare.bases.typical, 0.5 * sum(bare.place.fed)
    top, left = bare.rail.voltage.max, 1.0 - fold
    share = left * base / (volts - fold * max(volts - top, 0.0) - left * base)
    back = nearest(BASE / share, bare.task.need.parts.series)
    _, act_by = band_of(bare.rail)
    return senses(replace(bare, back=back), act_by)
