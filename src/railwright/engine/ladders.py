"""Easier circuits on the way to the true one: less gain, heat, drive, load; more leak; hot air."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.devices.device import Device
from railwright.engine.assembly import AMBIENT, GAIN, LEAK
from railwright.engine.model import LEAK_TO_GROUND, ROOM, Lanes, Model, Name, given_name

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Rung:
    """One easier circuit on the way to the true one."""

    gain: float = 1.0
    sources: float = 1.0
    loads: float = 1.0
    leak: float = LEAK_TO_GROUND
    heat: float = 1.0
    air: float = 1.0
    """Of the ambient temperature."""
    damping: float = 1.0


TRUE = Rung()
LIGHT = Rung(loads=0.01)
DAMPED = [Rung(damping=0.4), TRUE]
GAIN_LADDER = [Rung(gain=g) for g in (1e-3, 1e-2, 1e-1, 1.0)]
HEAT_LADDER = [
    *(Rung(gain=g, heat=1e-4) for g in (1e-3, 1e-2, 1e-1, 1.0)),
    *(Rung(heat=h) for h in np.geomspace(2e-4, 0.06, 11)),
    *(Rung(heat=h) for h in (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)),
]
AIR_LADDER = [
    *(Rung(gain=g, air=10.0) for g in (1e-3, 1e-2, 1e-1, 1.0)),
    *(Rung(air=a) for a in (7.0, 5.0, 3.5, 2.5, 2.0, 1.6, 1.3, 1.15, 1.0)),
]
"""What runs away has no state near a cold one: from hot air everything comes down by itself."""
SOURCE_LADDER = [Rung(sources=s) for s in (0.1, 0.25, 0.5, 0.75, 0.9, 1.0)]
LEAK_LADDER = [Rung(leak=s) for s in (1e-1, 1e-2, 1e-3, 1e-4, 1e-6, 1e-9, LEAK_TO_GROUND)]


def on_rung(model: Model, lanes: Lanes, rung: Rung) -> Lanes:
    """Lanes of the easier circuit of a rung."""
    changed = dict(lanes)
    changed[GAIN] = np.multiply(lanes.get(GAIN, 1.0), rung.gain)
    changed[LEAK] = rung.leak
    if rung.sources != 1.0:
        changed |= scaled(model, lanes, driving, rung.sources)
    if rung.loads != 1.0:
        changed |= scaled(model, lanes, loading, rung.loads)
    if rung.air != 1.0:
        changed[AMBIENT] = np.multiply(lanes.get(AMBIENT, ROOM), rung.air)
    if rung.heat != 1.0:
        changed |= scaled(model, lanes, thermal, rung.heat)
    return changed


def driving(device: Device) -> Iterable[str]:
    """Inputs that feed the circuit."""
    return device.drives


def loading(device: Device) -> Iterable[str]:
    """Inputs that load the circuit."""
    return device.loads


def thermal(device: Device) -> Iterable[str]:
    """Thermal resistances; all rises in temperature are proportional to them."""
    return (name for name, value in device.values.items() if value.unit == device.thermal_unit)


def scaled(
    model: Model, lanes: Lanes, names: Callable[[Device], Iterable[str]], factor: Array | float
) -> dict[Name, Array | float]:
    """Every part's quantities of those names, as far as they are known, times a factor.

    An input that can be solved for counts as what is given for it, where it is not.
    """
    found = {}
    for element in model.topology.elements:
        for name in names(element.device):
            key = (element.ref, name)
            known = lanes.get(key, model.nominal.get(key, element.device.inputs.get(name)))
            if known is not None:
                found[key] = np.multiply(known, factor)
            given = given_name(*key)
            if given in lanes:
                found[given] = np.multiply(lanes[given], factor)
    return found
