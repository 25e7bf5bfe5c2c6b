"""How often parts fail, by the part stress models of MIL-HDBK-217F, Notice 2, 28 February 1995.

Each is a base rate times factors for temperature, stress, quality and surroundings. The handbook
is old and its rates are known to be high for parts of today: they say which of a supply's parts
fail more often than others, and times the share of a fault how often that fault occurs, but no
date. Sections 6.1 (diodes), 6.3 (transistors), 9.1 (resistors) and 10.1 (capacitors), read in a
public copy of the tables; where a line says so, from memory.

All rates are failures per million hours.

>>> round(resistor(0.25, 0.5, 313.15), 4)
0.0308
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Literal, TypeVar

T = TypeVar("T")

Place = Literal["benign", "fixed", "mobile", "sheltered at sea"]
"""Surroundings: in a laboratory, in unheated buildings, on wheels, below deck."""
ResistorStyle = Literal["film", "wirewound"]
CapacitorStyle = Literal[
    "film", "ceramic", "ceramic chip", "tantalum", "tantalum chip", "aluminium electrolytic"
]
DiodeStyle = Literal["switching", "rectifier", "Schottky", "fast recovery", "zener", "suppressor"]
Use = Literal["linear", "switching"]

COMMERCIAL = 10.0
"""Quality factor of resistors and capacitors that no military specification covers."""
PLASTIC = 8.0
"""That of semiconductors in plastic, from memory."""

ROOM = 298.0  # K; at which the temperature factors are 1
BOLTZMANN = 8.617e-5  # eV/K, as the handbook has it

_PLACES: Mapping[str, Mapping[str, float]] = {
    "resistor": {"benign": 1.0, "fixed": 4.0, "mobile": 16.0, "sheltered at sea": 12.0},
    "capacitor": {"benign": 1.0, "fixed": 10.0, "mobile": 20.0, "sheltered at sea": 7.0},
    # The second and third of semiconductors from memory.
    "semiconductor": {"benign": 1.0, "fixed": 6.0, "mobile": 9.0, "sheltered at sea": 9.0},
}
_RESISTORS = {"film": (0.0037, 0.71, 1.1), "wirewound": (0.0024, 0.54, 2.04)}
"""Base rate, and the stress factor's size and exponent."""
_CAPACITORS = {
    "film": (0.00051, 0.15, 0.09, 5),
    "ceramic": (0.00099, 0.35, 0.09, 3),
    "ceramic chip": (0.0020, 0.35, 0.09, 3),
    "tantalum": (0.00040, 0.15, 0.23, 17),
    "tantalum chip": (0.00005, 0.15, 0.23, 17),
    "aluminium electrolytic": (0.00012, 0.35, 0.23, 5),
}
"""Base rate, activation energy [eV], power of the microfarads, power of the voltage ratio."""
_SERIES = ((0.8, 0.66), (0.6, 1.0), (0.4, 1.3), (0.2, 2.0), (0.1, 2.7), (0.0, 3.3))
"""Ohms per volt before a tantalum capacitor, above which the factor beside it holds."""
_DIODES = {
    "switching": (0.0010, 3091.0),
    "rectifier": (0.0030, 3091.0),
    "Schottky": (0.0030, 3091.0),
    "fast recovery": (0.025, 3091.0),
    "zener": (0.0020, 1925.0),
    "suppressor": (0.0013, 3091.0),
}
"""Base rate, and activation energy over Boltzmann's constant [K]."""
_MEANT_TO_BREAK_DOWN = {"zener", "suppressor"}
_TRANSISTOR = 0.00074
_TRANSISTOR_ENERGY = 2114.0  # K
_USES = {"linear": 1.5, "switching": 0.7}


def resistor(
    rated_power: float,
    ratio: float,
    body: float,
    style: ResistorStyle = "film",
    quality: float = COMMERCIAL,
    place: Place = "benign",
) -> float:
    """Rate of a fixed resistor.

    Rated power [W]; power over rated power; temperature of the body [K]. ValueError where an
    argument makes no sense.
    """
    base, size, exponent = _row(_RESISTORS, style)
    _check(ratio, body, rated_power, "W")
    stress = size * math.exp(exponent * ratio)
    rate = base * _warm(0.08 / BOLTZMANN, body) * rated_power**0.39 * stress
    return float(rate * quality * _row(_PLACES["resistor"], place))


def capacitor(
    style: CapacitorStyle,
    capacitance: float,
    ratio: float,
    ambient: float,
    ohms_per_volt: float = 1.0,
    quality: float = COMMERCIAL,
    place: Place = "benign",
) -> float:
    """Rate of a fixed capacitor.

    Capacitance [F]; peak voltage, its alternating part included, over rated voltage; ambient
    temperature [K]; resistance that feeds a tantalum capacitor, over its voltage [Ω/V].
    ValueError where an argument makes no sense.
    """
    base, energy, size, power = _row(_CAPACITORS, style)
    _check(ratio, ambient, capacitance, "F")
    stress = (ratio / 0.6) ** power + 1.0
    fed = 1.0
    if style.startswith("tantalum"):
        fed = next((factor for least, factor in _SERIES if ohms_per_volt > least), _SERIES[-1][1])
    rate = base * _warm(energy / BOLTZMANN, ambient) * (capacitance * 1e6) ** size * stress * fed
    return float(rate * quality * _row(_PLACES["capacitor"], place))


def diode(
    style: DiodeStyle,
    ratio: float,
    junction: float,
    quality: float = PLASTIC,
    place: Place = "benign",
) -> float:
    """Rate of a diode with bonded contacts.

    Reverse voltage over rated voltage, which matters to those that are not meant to break down;
    junction temperature [K]. ValueError where an argument makes no sense.
    """
    base, energy = _row(_DIODES, style)
    _check(ratio, junction)
    stress = ratio**2.43 if ratio > 0.3 else 0.054
    if style in _MEANT_TO_BREAK_DOWN:
        stress = 1.0
    return base * _warm(energy, junction) * stress * quality * _row(_PLACES["semiconductor"], place)


def transistor(
    rated_power: float,
    ratio: float,
    junction: float,
    use: Use = "linear",
    quality: float = PLASTIC,
    place: Place = "benign",
) -> float:
    """Rate of a low-frequency bipolar transistor.

    Rated power [W], counted as 0.1 W below that (from memory); collector to emitter voltage over
    rated voltage; junction temperature [K]. ValueError where an argument makes no sense.
    """
    _check(ratio, junction, rated_power, "W")
    size = max(rated_power, 0.1) ** 0.37
    stress = 0.045 * math.exp(3.1 * ratio)
    rate = _TRANSISTOR * _warm(_TRANSISTOR_ENERGY, junction) * _row(_USES, use) * size * stress
    return float(rate * quality * _row(_PLACES["semiconductor"], place))


def _warm(energy: float, temperature: float) -> float:
    """Factor of a temperature [K] by Arrhenius; energy over Boltzmann's constant [K]."""
    return math.exp(-energy * (1.0 / temperature - 1.0 / ROOM))


def _row(table: Mapping[str, T], name: str) -> T:
    if name not in table:
        raise ValueError(f"no row for {name!r}: there are {', '.join(table)}")
    return table[name]


def _check(ratio: float, temperature: float, size: float = 1.0, unit: str = "") -> None:
    if not 0.0 <= ratio <= 1.0:
        raise ValueError(f"a stress of {ratio!r}: wanted is a ratio from 0 to 1")
    if not temperature > 0.0:
        raise ValueError(f"{temperature!r} K: wanted is a temperature above 0")
    if not size > 0.0:
        raise ValueError(f"{size!r} {unit}: wanted is more than 0")
