"""Every kind of part by itself, at random numbers of a physical size."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from circuits import GROUND, Board
from numpy.typing import NDArray

from railwright.devices import kinds
from railwright.devices.device import Device, Value
from railwright.engine.assembly import AMBIENT
from railwright.engine.model import Model, Name
from railwright.engine.topology import AIR

Array = NDArray[np.float64]

SIZES: Mapping[str, tuple[float, float]] = {
    "Ω": (0.01, 0.3),
    "V": (0.3, 1.5),
    "A": (1e-3, 1.0),
    "F": (1e-9, 1e-3),
    "C": (1e3, 1e5),
    "W": (0.1, 10.0),
    "K": (2000.0, 3000.0),
    "H": (1e-5, 1e-3),
    "Hz": (5e4, 5e5),
    "s": (1e-8, 1e-6),
    "°C": (330.0, 400.0),
    "K/W": (1.0, 100.0),
    "A²s": (0.1, 100.0),
    "Vs": (0.1, 10.0),
    "V/s": (1e4, 1e7),
    "V/√Hz": (1e-9, 1e-6),
    "J/K": (0.1, 100.0),
    "V/V": (1e-5, 1e-3),
    "V/K": (1e-6, 3e-3),
    "1/K": (1e-5, 1e-3),
    "1/V": (1e-5, 1e-3),
    "A/V": (1e-3, 0.1),
    "A/s": (1e3, 1e5),
    "°": (90.0, 300.0),
    "1": (1e-3, 0.9),
}
"""Range of a value by its unit, before what the kind itself declares as its bounds.

Ohms times amperes stay below the volts, so that a junction is left something of its voltage.
"""
STATES: Mapping[str, tuple[float, float]] = {
    "V": (-1.0, 8.0),
    "A": (-0.5, 2.0),
    "K": (270.0, 420.0),
    "1": (-0.3, 1.3),
}
"""Range of an unknown by its unit."""
FED: Mapping[str, tuple[float, float]] = {
    "supply": (9.0, 16.0),
    "power-input": (9.0, 16.0),
    "ground": (-0.5, 0.5),
}
"""Range of the nets that feed a part, by the role of its pin [V]: fed backwards, it computes
little but the rounding of small differences."""

Variant = tuple[str, Mapping[str, str], bool]
"""Kind, options that differ from the first ones, and whether optional pins are connected."""


def variants() -> list[Variant]:
    """Every kind, with each choice of its options, with and without its optional pins."""
    found: list[Variant] = []
    for kind, device in kinds().items():
        found.append((kind, {}, True))
        if any(pin.optional for pin in device.pins.values()):
            found.append((kind, {}, False))
        found += [
            (kind, {option: word}, True)
            for option, words in device.options.items()
            for word in words[1:]
        ]
    return found


def name_of(variant: Variant) -> str:
    """A readable name for a test."""
    kind, options, whole = variant
    return " ".join([kind, *options.values(), *([] if whole else ["bare"])])


def board_of(variant: Variant) -> Board:
    """The part with every pin on a net of its own that something else leads to ground."""
    kind, options, whole = variant
    device = kinds()[kind]
    pins = {n: f"N{n}" for n, pin in device.pins.items() if whole or not pin.optional}
    board = Board().part("X", kind, pins, options)
    for name, net in pins.items():
        if device.pins[name].role == "thermal":
            board.part(f"H{name}", "heat-sink", {"face": net, "air": AIR}, resistance=5.0)
        else:
            board.resistor(f"R{name}", net, GROUND, 1e3)
    for name, link in device.links.items():
        other = kinds()[link.kinds[0]]
        ends = [p for p, pin in other.pins.items() if not pin.optional]
        nets = {p: pins[link.at] if p == link.pins[0] else GROUND for p in ends}
        board.part(f"L{name}", other.kind, nets)
    return board


READ_BY_CHECKS = ("second_breakdown_voltage", "second_breakdown_current")
"""Values that no equation reads."""


def physical(device: Device, rng: np.random.Generator, lanes: int) -> dict[str, Array]:
    """A random number for every value of a kind, within its bounds.

    What checks alone read is drawn apart, so that it moves nothing that equations read.
    """
    apart = np.random.default_rng(1)
    return {
        name: _value(value, apart if name in READ_BY_CHECKS else rng, lanes)
        for name, value in device.values.items()
    }


def _value(value: Value, rng: np.random.Generator, lanes: int) -> Array:
    low, high = SIZES[value.unit]
    if value.least:
        low, high = (value.least, 100.0 * value.least) if value.least > high else (low, high)
        low = max(low, value.least)
    if value.most is not None:
        high = min(high, value.most)
        low = min(low, 0.5 * (high + (value.least or 0.0)))
    size = np.exp(rng.uniform(np.log(low), np.log(high), lanes))
    return size * rng.choice([-1.0, 1.0], lanes) if value.signed else size


def random_lanes(board: Board, rng: np.random.Generator, lanes: int) -> dict[Name, Any]:
    """Values and inputs of all parts of a board, and the air, over lanes."""
    found: dict[Name, Any] = {AMBIENT: rng.uniform(270.0, 330.0, lanes)}
    for part in board.parts:
        for name, row in physical(part.device, rng, lanes).items():
            found[part.ref, name] = row
        for name, rest in part.device.inputs.items():
            found[part.ref, name] = rest + rng.uniform(0.0, 1.0, lanes) * (1.0 - rest)
    return found


def random_unknowns(model: Model, rng: np.random.Generator, lanes: int) -> Array:
    """Unknowns (row, lane) of a physical size."""
    fed = {
        net: FED[element.device.pins[pin].role]
        for element in model.topology.elements
        for pin, net in element.pins.items()
        if element.device.pins[pin].role in FED
    }
    ranges = [fed.get(u.owner, STATES[u.unit]) for u in model.topology.unknowns]
    return np.array([rng.uniform(*limits, lanes) for limits in ranges])


def as_blocks(rows: Array, width: int) -> Array:
    """(row, lane) laid out for compiled code, as (block, row, W); the last lane fills up."""
    rows = np.pad(rows, ((0, 0), (0, -rows.shape[1] % width)), mode="edge")
    return np.ascontiguousarray(rows.reshape(len(rows), -1, width).transpose(1, 0, 2))


def as_rows(blocks: Array, lanes: int) -> Array:
    """The way back."""
    return blocks.transpose(1, 0, 2).reshape(blocks.shape[1], -1)[:, :lanes]
