"""Values of a real part of every kind, and states in which to look at it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from devices.terms import LonePart

from railwright.catalogue.loader import load
from railwright.devices import kinds
from railwright.devices.device import Device

STATED = {
    "resistor": {"resistance": 1e3},
    "wirewound-resistor": {"resistance": 10.0},
    "wire": {"resistance": 10e-3},
    "source": {"resistance": 0.1, "current_limit": 3.0},
    "mains-source": {"frequency": 50.0, "resistance": 0.5, "voltage": 230.0, "phase": 0.4},
    "brick": {
        "resistance": 0.1,
        "current_limit": 3.0,
        "inductance": 1e-6,
        "trip_voltage": 4.0,
        "on_time": 0.01,
        "off_time": 0.2,
    },
    "constant-power-load": {"least_voltage": 3.0, "power": 5.0},
    "stepped-load": {"period": 1e-3, "current": 1.0, "other_current": 0.1},
    "logic-load": {"threshold": 2.9, "hysteresis": 0.1, "current": 0.2, "reset_current": 0.02},
    "reverse-feeding-load": {"ceiling": 6.0, "fed_back": 0.5},
}
"""What the catalogue leaves to the design, or has no part of."""


def typical_values(kind: str, name: str = "") -> Mapping[str, float]:
    """Typical values of a part of the catalogue, or of the kind's first one."""
    entries = [e for e in load().values() if e.kind == kind and name in ("", e.name)]
    known = {n: v.spread.typical for e in entries[:1] for n, v in e.values.items()}
    return {**known, **STATED.get(kind, {})}


def drawn_values(kind: str, count: int, draw: np.random.Generator) -> dict[str, np.ndarray]:
    """Values of that part within its spread, and within a tenth where the design states them."""
    entry = next((e for e in load().values() if e.kind == kind), None)
    found = {}
    for name, typical in typical_values(kind).items():
        low, high = 0.9 * typical, 1.1 * typical
        if entry is not None and name in entry.values and name not in STATED.get(kind, {}):
            low, high = entry.values[name].spread.low, entry.values[name].spread.high
        found[name] = draw.uniform(low, high, count)
    return found


def choices(device: Device) -> list[dict[str, str]]:
    """Every choice of every option, others at their first."""
    first = {name: words[0] for name, words in device.options.items()}
    return [{**first, name: word} for name, words in device.options.items() for word in words] or [
        first
    ]


def optional_pins(device: Device) -> list[tuple[str, ...]]:
    """With all optional pins, and with none of them."""
    names = tuple(name for name, pin in device.pins.items() if pin.optional)
    return [(), names] if names else [()]


def state(device: Device, scale: float, count: int, seed: int) -> dict[str, np.ndarray]:
    """Random potentials and unknowns within plus and minus `scale`."""
    draw = np.random.default_rng(seed)
    names = (*device.pins, *device.unknowns, *(device.switched_unknowns or {}))
    return {name: draw.uniform(-scale, scale, count) for name in names}


def lone_parts(
    kind: str, scale: float, count: int = 300, moving: bool = False
) -> Iterator[LonePart]:
    """The kind with every option and with or without optional pins, in random states."""
    device = kinds()[kind]
    for options in choices(device):
        for without in optional_pins(device):
            links = {
                name: LonePart(
                    kinds()[link.kinds[0]],
                    typical_values(link.kinds[0]),
                    state(kinds()[link.kinds[0]], scale, count, seed=2),
                )
                for name, link in device.links.items()
            }
            at = state(device, scale, count, seed=1)
            values = typical_values(kind)
            yield LonePart(device, values, at, options, without, links, moving=moving)
            if links:
                yield LonePart(device, values, at, options, without, moving=moving)
