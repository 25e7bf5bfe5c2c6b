"""Mistakes of assembly and of design, kept here once for all who look for them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from railwright.catalogue.loader import load
from railwright.circuit.circuit import Circuit
from railwright.surveys.spread import PartSpread

DECADES = (0.1, 10.0)
WRONG = tuple(10.0 ** (step / 24.0) for step in range(-24, 25) if step)
"""Factors from a value to those that stand in its place by mistake: E24, a decade either way."""
COARSE = tuple(10.0 ** (step / 6.0) for step in range(-6, 7) if step)
"""The same in E6."""
LEAKY, SOUND_JUNCTION = "forward_voltage", 2.0
"""A junction of so much more forward voltage leaks next to nothing."""
TELLING = {
    "fixed-regulator": ("output_voltage",),
    "negative-fixed-regulator": ("output_voltage",),
    "current-sense-amplifier": ("gain",),
    "zener": ("zener_voltage",),
}
"""Kinds -> the values by which their types are told apart."""
SAME_TYPE = 0.05
"""Types whose values differ by a smaller share are not mixed up to any effect."""
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
    return _slips(circuit, spread, DECADES)


def value_slips(circuit: Circuit, spread: PartSpread) -> Iterator[Slip]:
    """Every value that may stand in the place of another one within a decade."""
    return _slips(circuit, spread, WRONG)


def type_slips(circuit: Circuit, spread: PartSpread) -> Iterator[Slip]:
    """Every part that may be of another type: a voltage or a gain that others of its kind have, a
    junction that leaks less."""
    for index, quantity in enumerate(spread.quantities):
        if quantity.role != "value":
            continue
        ((ref, name),) = quantity.moves
        part = circuit.part(ref)
        if name == LEAKY:
            yield Slip(index, ref, name, SOUND_JUNCTION)
        if name not in TELLING.get(part.kind, ()):
            continue
        own = quantity.spread.typical
        others = {
            entry.values[name].spread.typical / own
            for entry in load().values()
            if entry.kind == part.kind and name in entry.values and own
        }
        for factor in sorted(others):
            if abs(factor - 1.0) > SAME_TYPE:
                yield Slip(index, ref, name, factor)


def storage_slips(circuit: Circuit, spread: PartSpread) -> Iterator[Slip]:
    """The same for coils and capacitors alone, in the coarse steps in which they are bought."""
    stored = ("capacitance", "inductance")
    return (s for s in _slips(circuit, spread, COARSE) if s.value in stored)


def _slips(circuit: Circuit, spread: PartSpread, factors: Sequence[float]) -> Iterator[Slip]:
    for index, quantity in enumerate(spread.quantities):
        if quantity.role != "value":
            continue
        ((ref, name),) = quantity.moves
        if CODED.get(name) == circuit.part(ref).values[name].unit:
            for factor in factors:
                yield Slip(index, ref, name, factor)
