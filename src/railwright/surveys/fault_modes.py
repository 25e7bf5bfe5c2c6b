"""How the parts of a circuit can fail, one at a time: what each mode changes in a lane.

What opens is a joint, what is shorted has a bridge between two nets, and what drifts or sticks is
a value or an input of the part. So all modes are lanes on one topology.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Part
from railwright.devices.device import Fault, Value
from railwright.devices.ohmic import OHMIC_PINS
from railwright.engine.assembly import bridge_name, joint_name
from railwright.engine.faults import BRIDGED, OPEN
from railwright.engine.model import Name
from railwright.engine.topology import Bridge, Joint, Topology
from railwright.engine.two_state import firmly

Array = NDArray[np.float64]
SHORTED = 1e-3
"""Ω; of a shorted part that is nothing but a resistance."""
LEAKING = 1e-3
"""S; of a part that leaks: too little to blow a fuse, too much to be overlooked (common practice,
no source)."""
LOST = 1e-6
"""What is left of the capacitance of a capacitor that is open."""
HALF, TWICE = 0.5, 2.0
"""Factors by which resistances, capacitances and inductances drift (from memory: the usual range
of failure analyses after ISO 26262-5 and IEC 61709)."""
DRIFTED = 0.2
"""Share by which thresholds and references drift (common practice, no source)."""
OFFSET = 10e-3
"""V by which an offset drifts, several times the limit of common types (common practice, no
source)."""
STUCK = 10.0
"""V; an offset that drives any amplifier to the end of its swing."""
PASSIVE_UNITS = ("Ω", "F", "H", "K/W")
OVERLOADED_BY = {"freewheel": "open", "coil": "short", "second": "short"}
"""Link of a switching regulator -> the mode of the linked part that its switch does not survive: a
coil's current without a way, a switch without a coil, one that empties a coupling capacitor. Means
over a cycle do not show any of them."""

FLYING = "flying"
"""Link of a charge pump to the capacitor that carries its current: at rest its output depends on
that capacitance."""


@dataclass(frozen=True)
class Change:
    """What becomes of one value or input: `factor` times what it was, plus `offset`."""

    name: Name
    factor: float
    offset: float

    def of(self, before: Array | float) -> Array | float:
        """The value after it."""
        return self.factor * np.asarray(before) + self.offset


@dataclass(frozen=True)
class FaultMode:
    """One way in which one part fails."""

    ref: str
    fault: Fault
    variants: tuple[tuple[Change, ...], ...]
    """Each a way in which it may come: a drift goes up or down. None where no direct current and
    no voltage at rest depends on it."""
    destroys: str = ""
    """Another part that does not survive it, and is what is looked at: shorted."""

    @property
    def words(self) -> str:
        """The mode in words, with its pins."""
        places = "-".join(self.fault.between)
        return f"{self.fault.name.replace('-', ' ')}{' ' + places if places else ''}"

    @property
    def because(self) -> str:
        """Where another part is what is looked at: why."""
        if not self.destroys:
            return ""
        return f"{self.destroys} does not survive it: looked at as {self.destroys} shorted"


@dataclass(frozen=True)
class FaultModes:
    """Every mode of every part, and what the topology must have for them."""

    modes: tuple[FaultMode, ...]
    joints: tuple[Joint, ...]
    bridges: tuple[Bridge, ...]

    @classmethod
    def of(cls, parts: Sequence[Part], topology: Topology) -> FaultModes:
        """The modes that the kinds of these parts declare."""
        known = {part.ref: part for part in parts}
        found = _Found(topology)
        modes = []
        for part in parts:
            for fault in part.device.faults:
                carrier = _overloaded(part, fault, topology)
                if carrier and carrier in known:
                    short = next(f for f in known[carrier].device.faults if f.name == "short")
                    variants = tuple(found.variants(known[carrier], short))
                    modes.append(FaultMode(part.ref, fault, variants, carrier))
                else:
                    modes.append(FaultMode(part.ref, fault, tuple(found.variants(part, fault))))
        return cls(tuple(modes), tuple(found.joints), tuple(found.bridges.values()))

    def topology(self, sound: Topology) -> Topology:
        """A circuit in which each of them can be there."""
        return replace(sound, joints=self.joints, bridges=self.bridges)


class _Found:
    """Modes as changes, and the joints and bridges that they have asked for."""

    def __init__(self, topology: Topology) -> None:
        self.topology = topology
        self.joints: dict[Joint, None] = {}
        self.bridges: dict[Name, Bridge] = {}

    def variants(self, part: Part, fault: Fault) -> Iterator[tuple[Change, ...]]:
        """What a mode changes, in each way in which it may come."""
        if fault.name == "open":
            yield from self._open(part, fault)
        elif fault.name in ("short", "leaky"):
            yield from self._join(part, fault)
        elif fault.name == "drift":
            if part.kind != "capacitor" or self._carries(part):
                yield from _drifts(part, fault)
        else:
            yield from _stuck(part, fault)

    def _open(self, part: Part, fault: Fault) -> Iterator[tuple[Change, ...]]:
        if _ohmic(part):
            yield (_becomes(part, "resistance", OPEN),)
        elif part.kind == "capacitor":
            if self._carries(part):
                yield (Change((part.ref, "capacitance"), LOST, 0.0),)
        else:
            pin = fault.between[0] if fault.between else _electrical(part)[0]
            if pin in part.pins:
                self.joints[part.ref, pin] = None
                yield (Change(joint_name(part.ref, pin), 0.0, OPEN),)

    def _carries(self, part: Part) -> bool:
        """Whether a capacitor is what carries the mean current of a charge pump."""
        return any(element.links.get(FLYING) == part.ref for element in self.topology.elements)

    def _join(self, part: Part, fault: Fault) -> Iterator[tuple[Change, ...]]:
        if fault.name == "short" and _ohmic(part):
            yield (_becomes(part, "resistance", SHORTED),)
            return
        one, other = fault.between or _electrical(part)
        nets = part.pins.get(one), part.pins.get(other)
        if nets[0] is None or nets[1] is None or nets[0] == nets[1]:
            return
        name = bridge_name(nets[0], nets[1])
        self.bridges[name] = (nets[0], nets[1])
        yield (Change(name, 0.0, BRIDGED if fault.name == "short" else LEAKING),)


def _electrical(part: Part) -> list[str]:
    return [name for name, pin in part.device.pins.items() if pin.role != "thermal"]


def _ohmic(part: Part) -> bool:
    """Whether a part is nothing but a resistance: its value can be next to infinite or to nil."""
    return part.device.pins is OHMIC_PINS and "resistance" in part.values


def _becomes(part: Part, name: str, value: float) -> Change:
    return Change((part.ref, name), 0.0, value)


def _drifts(part: Part, fault: Fault) -> Iterator[tuple[Change, ...]]:
    moved = [name for name in fault.moves if name in part.values]
    if not moved or part.device.values[moved[0]].dynamic:
        return
    for up in (True, False):
        yield tuple(
            Change((part.ref, name), *_drift(part.device.values[name], up)) for name in moved
        )


def _drift(value: Value, up: bool) -> tuple[float, float]:
    if value.signed:
        return 1.0, OFFSET if up else -OFFSET
    if value.unit in PASSIVE_UNITS:
        return (TWICE if up else HALF), 0.0
    return (1.0 + DRIFTED if up else 1.0 - DRIFTED), 0.0


def _stuck(part: Part, fault: Fault) -> Iterator[tuple[Change, ...]]:
    high = fault.name in ("stuck-high", "latched")
    if part.device.two_state:
        state = firmly(float(high))
        yield (_becomes(part, "free", 0.0), _becomes(part, "forced", float(state)))
    elif "offset" in part.values:
        yield (_becomes(part, "offset", STUCK if high else -STUCK),)


def _overloaded(part: Part, fault: Fault, topology: Topology) -> str:
    """The switching regulator that does not survive a mode of a part it needs; empty if none."""
    for element in topology.elements:
        for link, mode in OVERLOADED_BY.items():
            if element.links.get(link) == part.ref and fault.name == mode:
                return element.ref
    return ""


def changed(
    before: Callable[[Name], Array | float], variants: Sequence[tuple[Change, ...]], count: int
) -> dict[Name, Array]:
    """The names that variants change, over lanes: each variant at `count` places side by side.

    before: what the sound places have, a number or an array (count).
    """
    found: dict[Name, Array] = {}
    for number, variant in enumerate(variants):
        here = slice(number * count, (number + 1) * count)
        for change in variant:
            was = np.broadcast_to(np.asarray(before(change.name), float), (count,))
            if change.name not in found:
                found[change.name] = np.tile(was, len(variants))
            found[change.name][here] = change.of(was)
    return found
