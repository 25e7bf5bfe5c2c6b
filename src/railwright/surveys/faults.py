"""Values that stand in a design in the place of others, kept here once for all who seek them."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from railwright.catalogue.loader import load
from railwright.circuit.circuit import Circuit
from railwright.surveys.spread import PartSpread

LEAKY, SOUND_JUNCTION = "forward_voltage", 2.0
"""A junction of so much more forward voltage leaks next to nothing."""
CLOCK = "frequency"
"""Tells types of switching regulators apart, in cycles."""
TELLING = {
    "fixed-regulator": ("output_voltage",),
    "negative-fixed-regulator": ("output_voltage",),
    "current-sense-amplifier": ("gain",),
    "zener": ("zener_voltage",),
    "step-down-regulator": (CLOCK,),
    "step-up-regulator": (CLOCK,),
    "inverting-regulator": (CLOCK,),
}
"""Kinds -> the values by which their types are told apart."""
SAME_TYPE = 0.05
"""Types whose values differ by a smaller share are not mixed up to any effect."""
CODED = {
    "resistor": "resistance",
    "wirewound-resistor": "resistance",
    "potentiometer": "resistance",
    "ntc-thermistor": "resistance",
    "ptc-thermistor": "resistance",
    "capacitor": "capacitance",
    "inductor": "inductance",
}
"""Kinds that a person chooses by a value, which is read off a code or coloured bands: a decade
slips easily. What a fuse, a wire or a contact has of resistance comes with it."""


@dataclass(frozen=True)
class Slip:
    """A value that may be wrong by a factor: the quantity it is, and the factor that mends it."""

    quantity: int
    ref: str
    value: str
    factor: float

    @property
    def is_decade(self) -> bool:
        """Whether the value may be one decade too large or too small."""
        return self.factor in (0.1, 10.0)

    @property
    def is_type(self) -> bool:
        """Whether another type of the part has the value."""
        return self.value == LEAKY or any(self.value in names for names in TELLING.values())

    @property
    def is_stored(self) -> bool:
        """Whether it is that of a coil or a capacitor."""
        return self.value in ("capacitance", "inductance")


def value_slips(circuit: Circuit, spread: PartSpread, steps: int) -> Iterator[Slip]:
    """Every coded value that may stand in the place of another one, a decade either way.

    steps: to a decade, 24 as in E24; with one the decades alone.
    """
    for index, ref, name in _values(spread):
        if CODED.get(circuit.part(ref).kind) == name:
            for step in range(-steps, steps + 1):
                if step:
                    yield Slip(index, ref, name, 10.0 ** (step / steps))


def exchanged_values(circuit: Circuit, spread: PartSpread) -> Iterator[tuple[Slip, Slip]]:
    """Every two parts of a kind that may have been put in each other's place."""
    coded = [
        (index, ref, name, spread.quantities[index].spread.typical)
        for index, ref, name in _values(spread)
        if CODED.get(circuit.part(ref).kind) == name
    ]
    for (i, one, name, a), (k, other, _, b) in itertools.combinations(coded, 2):
        if circuit.part(one).kind == circuit.part(other).kind and abs(a / b - 1.0) > SAME_TYPE:
            yield Slip(i, one, name, b / a), Slip(k, other, name, a / b)


def type_slips(circuit: Circuit, spread: PartSpread) -> Iterator[Slip]:
    """Every part that may be of another type: a voltage or a gain that others of its kind have, a
    junction that leaks less."""
    for index, ref, name in _values(spread):
        part = circuit.part(ref)
        if name == LEAKY:
            yield Slip(index, ref, name, SOUND_JUNCTION)
        if name not in TELLING.get(part.kind, ()):
            continue
        own = spread.quantities[index].spread.typical
        others = {
            entry.values[name].spread.typical / own
            for entry in load().values()
            if entry.kind == part.kind and name in entry.values and own
        }
        for factor in sorted(others):
            if abs(factor - 1.0) > SAME_TYPE:
                yield Slip(index, ref, name, factor)


def _values(spread: PartSpread) -> Iterator[tuple[int, str, str]]:
    """Numbers of the quantities that are a value by itself, its part and its name."""
    for index, quantity in enumerate(spread.quantities):
        if quantity.role == "value":
            ((ref, name),) = quantity.moves
            yield index, ref, name
