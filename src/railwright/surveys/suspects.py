"""What may be wrong with a built supply, one thing at a time, as lanes on one topology.

Parts fail in the modes of their kinds; a value was misread by a decade or by a neighbour in its
series, or exchanged with another part's; a pin is not joined, or bridged with the one beside it.
The weights say how often such things are found in boards that were built by hand (from memory:
common practice, no source); they are data (`suspects.toml`), and no more than where one begins.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from railwright.circuit.circuit import Circuit, Part, is_thermal
from railwright.engine.assembly import bridge_name, joint_name
from railwright.engine.faults import BRIDGED, OPEN
from railwright.engine.topology import Joint, Topology
from railwright.quantity import show
from railwright.surveys.fault_modes import Change, FaultModes
from railwright.surveys.faults import exchanged_values, value_slips
from railwright.surveys.spread import PartSpread

STEPS = 12
"""Neighbours in a series are a twelfth of a decade apart (E12)."""
NOTHING = "nothing wrong"
METER = "the meter is off by a factor"
MOST_PINS = 2
"""A part with more has joints of its own; of one with two an open joint is the part open."""


@dataclass(frozen=True)
class Suspect:
    """One thing that may be wrong."""

    refs: tuple[str, ...]
    """Parts that it is about; empty for what is about none."""
    words: str
    """What would be so: "R7 open"."""
    weight: float
    """How often it is found, before anything is read; in proportion."""
    changes: tuple[Change, ...]
    """What it changes of a sound supply; none where nothing is wrong."""


@dataclass(frozen=True)
class Suspects:
    """All of them, and the topology in which each can be there."""

    several: tuple[Suspect, ...]
    """Nothing wrong is the first; the second is the meter itself, which changes nothing."""
    topology: Topology


@cache
def weights() -> Mapping[str, float]:
    """How often each family of things is found: its name -> share."""
    with Path(__file__).with_name("suspects.toml").open("rb") as file:
        return {name: float(value) for name, value in tomllib.load(file)["weight"].items()}


def suspects_of(circuit: Circuit, sound: Topology, spread: PartSpread) -> Suspects:
    """Everything that is suspected of a circuit; each family's weight is shared evenly in it."""
    modes = FaultModes.of(circuit.parts, sound)
    joints = {*modes.joints, *_joints(circuit)}
    bridges = {frozenset((one, other)): (one, other) for one, other in modes.bridges}
    for one, other in _bridges(circuit):
        bridges.setdefault(frozenset((one, other)), (one, other))
    families: dict[str, list[Suspect]] = {
        "nothing": [Suspect((), NOTHING, 1.0, ())],
        "meter": [Suspect((), METER, 1.0, ())],
        "part": list(_failed(modes)),
        "joint": [_open(joint) for joint in sorted(_joints(circuit))],
        "bridge": [_bridged(circuit, *ends) for ends in sorted(_bridges(circuit))],
        "decade": list(_slipped(circuit, spread, decades=True)),
        "neighbour": list(_slipped(circuit, spread, decades=False)),
        "exchanged": list(_exchanged(circuit, spread)),
    }
    several = tuple(
        replace(suspect, weight=share * suspect.weight / sum(s.weight for s in families[family]))
        for family, share in weights().items()
        for suspect in families[family]
    )
    topology = replace(sound, joints=tuple(sorted(joints)), bridges=tuple(bridges.values()))
    return Suspects(several, topology)


def _failed(modes: FaultModes) -> Iterator[Suspect]:
    for mode in modes.modes:
        for variant in mode.variants:
            weight = mode.fault.share / len(mode.variants)
            yield Suspect((mode.ref,), f"{mode.ref} {mode.words}", weight, variant)


def _electrical(part: Part) -> dict[str, str]:
    return {pin: net for pin, net in part.pins.items() if not is_thermal(part.device, pin)}


def _joints(circuit: Circuit) -> list[Joint]:
    """Pins of parts that have more than two."""
    return [
        (part.ref, pin)
        for part in circuit.parts
        if len(_electrical(part)) > MOST_PINS
        for pin in _electrical(part)
    ]


def _open(joint: Joint) -> Suspect:
    ref, pin = joint
    change = Change(joint_name(ref, pin), 0.0, OPEN)
    return Suspect((ref,), f"{ref} {pin} not joined", 1.0, (change,))


def _bridges(circuit: Circuit) -> set[tuple[str, str]]:
    """Nets of terminals that stand side by side on a package."""
    found = set()
    for part in circuit.parts:
        numbered = {
            int(terminal): part.pins[pin]
            for pin, terminal in {**part.order, **part.terminals}.items()
            if terminal.isdigit() and pin in _electrical(part)
        }
        for number, net in numbered.items():
            other = numbered.get(number + 1)
            if other is not None and other != net:
                found.add((min(net, other), max(net, other)))
    return found


def _bridged(circuit: Circuit, one: str, other: str) -> Suspect:
    change = Change(bridge_name(one, other), 0.0, BRIDGED)
    both = {p.ref for p, _ in circuit.on_net(one)} & {p.ref for p, _ in circuit.on_net(other)}
    where = [ref for ref in sorted(both) if len(_electrical(circuit.part(ref))) > MOST_PINS]
    return Suspect(tuple(where), f"{one} bridged with {other}", 1.0, (change,))


def _slipped(circuit: Circuit, spread: PartSpread, decades: bool) -> Iterator[Suspect]:
    for slip in value_slips(circuit, spread, STEPS):
        if circuit.part(slip.ref).kind == "potentiometer" or slip.is_stored:
            continue  # nothing at rest depends on it, or it is not bought by its code
        steps = abs(round(STEPS * math.log10(slip.factor)))
        if steps == (STEPS if decades else 1):
            value = circuit.part(slip.ref).values[slip.value]
            there = show(value.spread.typical * slip.factor, value.unit, 2)
            change = Change((slip.ref, slip.value), slip.factor, 0.0)
            yield Suspect((slip.ref,), f"{slip.ref} is {there}", 1.0, (change,))


def _exchanged(circuit: Circuit, spread: PartSpread) -> Iterator[Suspect]:
    for one, other in exchanged_values(circuit, spread):
        if one.is_stored:
            continue
        changes = tuple(Change((s.ref, s.value), s.factor, 0.0) for s in (one, other))
        yield Suspect((one.ref, other.ref), f"{one.ref} and {other.ref} exchanged", 1.0, changes)
