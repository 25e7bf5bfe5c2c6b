"""Colours of insulated wires by what they carry.

Sources: IEC 60445 for line, neutral and protective conductor and for the poles of a direct
supply, letter codes of IEC 60757, both from memory; for signals common practice, no source. Local
codes go first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Carries = Literal["line", "neutral", "protective earth", "plus", "minus", "middle", "signal"]


@dataclass(frozen=True)
class Colour:
    """A colour with its letter code."""

    name: str
    code: str


COLOURS: Mapping[Carries, Colour] = {
    "line": Colour("brown", "BN"),
    "neutral": Colour("blue", "BU"),
    "protective earth": Colour("green-yellow", "GNYE"),
    "plus": Colour("red", "RD"),
    "minus": Colour("white", "WH"),
    "middle": Colour("grey", "GY"),
    "signal": Colour("yellow", "YE"),
}
"""Blue would be the standard's for a middle that is earthed; grey keeps it apart from a neutral."""
