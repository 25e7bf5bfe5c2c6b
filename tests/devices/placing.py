"""Parts of every kind between two random places: potentials, temperatures, values and inputs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from devices.samples import drawn_values
from devices.terms import Array, LonePart
from numpy.typing import NDArray

from railwright.devices.device import Device

Carry = Callable[[Array, Array], Any]
"""From a given at both places to the number that the equations are run on."""

COLDEST, HOTTEST = 220.0, 450.0  # K
LEAST = 1e-2  # V or A; states lie within a size that is drawn between it and a greatest


def between(part: LonePart, carry: Carry, count: int, greatest: float, fixed: bool) -> LonePart:
    """The part, and those linked to it, with all that is given between two places.

    greatest: V or A; in which size the states lie at most. fixed: whether values stay the same.
    """
    return _placed(part, carry, count, greatest, fixed, np.random.default_rng(7))


def stated(part: LonePart) -> Iterator[tuple[str, Any]]:
    """Everything that a part states, and what it makes those state that it is linked to."""
    for table in ("flows", "zeros", "fluxes", "heats", "observed", "signals"):
        for name, amount in getattr(part, table).items():
            yield f"{table} {name}", amount
    for number, (_, _, amount) in enumerate(part.charges):
        yield f"charges {number}", amount
    for number, (_, density, corner) in enumerate(part.noises):
        yield f"noise {number}", density
        yield f"corner of noise {number}", corner
    for number, (guard, changes) in enumerate(part.events):
        yield f"guard {number}", guard
        for name, amount in changes.items():
            yield f"change {number} of {name}", amount
    for number, amount in enumerate(part.paces):
        yield f"pace {number}", amount
    for link in part.links.values():
        for name, amount in stated(link):
            yield f"{name} of linked {link.device.kind}", amount


def _placed(
    part: LonePart,
    carry: Carry,
    count: int,
    greatest: float,
    fixed: bool,
    draw: np.random.Generator,
) -> LonePart:
    starts, ends = (_states(part.device, count, greatest, draw) for _ in range(2))
    at = {name: carry(starts[name], ends[name]) for name in starts}
    one, other = (_values(part.device, count, draw) for _ in range(2))
    kept = one if fixed else other
    values = {name: carry(one[name], kept[name]) for name in one}
    one, other = (_set_from_outside(part.device, count, draw) for _ in range(2))
    values |= {name: carry(one[name], other[name]) for name in one}
    links = {
        name: _placed(link, carry, count, greatest, fixed, draw)
        for name, link in part.links.items()
    }
    placed = LonePart(
        part.device, values, at, part.options, part.without, links, moving=part.moving
    )
    placed.ambient = carry(*draw.uniform(COLDEST, HOTTEST, (2, count)))
    placed.time = carry(*draw.uniform(0.0, 1e-3, (2, count)))
    placed.gain = draw.uniform(0.01, 1.0, count)
    return placed


def _states(
    device: Device, count: int, greatest: float, draw: np.random.Generator
) -> dict[str, NDArray[np.float64]]:
    size = np.exp(draw.uniform(np.log(LEAST), np.log(greatest), count))
    hot = {name for name, pin in device.pins.items() if pin.role == "thermal"}
    unknowns = {**device.unknowns, **(device.switched_unknowns or {})}
    hot |= {name for name, unknown in unknowns.items() if unknown.unit == "K"}
    return {
        name: draw.uniform(COLDEST, HOTTEST, count)
        if name in hot
        else size * draw.uniform(-1.0, 1.0, count)
        for name in (*device.pins, *unknowns)
    }


def _values(
    device: Device, count: int, draw: np.random.Generator
) -> dict[str, NDArray[np.float64]]:
    defaults = {n: v.default for n, v in device.values.items() if v.default is not None}
    around = {n: x * draw.uniform(0.9, 1.1, count) for n, x in defaults.items()}
    return {**around, **drawn_values(device.kind, count, draw)}


def _set_from_outside(
    device: Device, count: int, draw: np.random.Generator
) -> dict[str, NDArray[np.float64]]:
    """Inputs and what is held, anywhere up to where they rest, or up to 1."""
    rest = {**device.inputs, **device.holds}
    return {name: (x or 1.0) * draw.uniform(0.0, 1.0, count) for name, x in rest.items()}
