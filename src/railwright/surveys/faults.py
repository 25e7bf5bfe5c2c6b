"""Mistakes of assembly and of design, kept here once for all who look for them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from railwright.circuit.circuit import Circuit
from railwright.surveys.spread import PartSpread

DECADES = (0.1, 10.0)
CODED = {"resistance": "Ω", "capacitance": "F", "inductance": "H"}
"""Values that are read off a code or coloured bands, where a decade slips easily."""


@dataclass(frozen=True)
class Slip:
    """A value that may be wrong by a factor: the quantity it is, and the factor that mends it."""

    quantity: int
    ref: str
    value: str
    factor: float


def decade_slips(circuit: Circuit, spread: PartSpread) -> Iterator[Slip]:
    """Every value that may have been taken a decade too large or too small."""
    for index, quantity in enumerate(spread.quantities):
        if quantity.role != "value":
            continue
        ((ref, name),) = quantity.moves
        if CODED.get(name) == circuit.part(ref).values[name].unit:
            for factor in DECADES:
                yield Slip(index, ref, name, factor)
