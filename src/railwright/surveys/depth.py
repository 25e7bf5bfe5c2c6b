"""How deep a proof looks: what it saves where time is short, and adds where there is some."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Depth:
    """How much of range and spread a proof looks at."""

    name: str
    rank: int
    """A deeper one looks at whatever those of lower rank look at."""
    places: int
    """On every axis of the operating range at least; for several rails one less."""
    points: int
    """Operating points at least."""
    turns: int
    """Rounds of turning single quantities over at the worst vertex, at most."""
    samples: int
    """At each of the worst points of a question, at most."""
    divided: int = 0
    """Operating points at least, by dividing the intervals of settings and loads, where a point
    is not dear."""

    def covers(self, other: Depth) -> bool:
        """Whether what is looked at from the depth `other` on is looked at here."""
        return self.rank >= other.rank


QUICK = Depth("quick", 0, places=2, points=1, turns=0, samples=0)
DEFAULT = Depth("default", 1, places=3, points=200, turns=3, samples=2000)
DEEP = Depth("deep", 2, places=3, points=600, turns=6, samples=5000)
FINE = replace(DEFAULT, name="map", rank=QUICK.rank, turns=0, samples=0, divided=1000)
"""For a map: what is looked at at depth quick, at all points of depth default and between."""
DEPTHS: Mapping[str, Depth] = {depth.name: depth for depth in (QUICK, DEFAULT, DEEP)}
