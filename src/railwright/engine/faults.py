"""Single faults of soldering as lanes: each joint open, each bridge there, one at a time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import bridge_name, joint_name
from railwright.engine.model import Lanes, Name
from railwright.engine.topology import Topology

Array = NDArray[np.float64]
Fault = tuple[Name, float]
"""A system parameter and its value where the fault is there."""

OPEN = 1e9
"""Resistance of an open joint [Ω]; no board insulates much better (common practice, no source)."""
BRIDGED = 10.0
"""Conductance of a bridge of solder [S]: 0.1 Ω, on the safe side (common practice, no source)."""
FIRST_RESISTANCE, FIRST_CONDUCTANCE = 1e-3, 1e-6
"""Where faults begin that grow [Ω, S]: no more than a good joint and the leakage of a board."""
MOST_SAMPLED = 24
"""Faults that an order of elimination is chosen on."""


def single_faults(topology: Topology) -> tuple[Fault, ...]:
    """Every joint open and every bridge there: joints first, in the topology's order."""
    joints = [(joint_name(*joint), OPEN) for joint in topology.joints]
    bridges = [(bridge_name(*bridge), BRIDGED) for bridge in topology.bridges]
    return (*joints, *bridges)


def one_at_a_time(faults: Sequence[Fault], sound: int = 1) -> dict[Name, Array]:
    """Lanes: first `sound` ones without any fault, then each fault by itself.

    >>> lanes = one_at_a_time([(("", "joint R1.one"), 1e9), (("", "bridge A - B"), 10.0)])
    >>> [row.tolist() for row in lanes.values()]
    [[0.0, 1000000000.0, 0.0], [0.0, 0.0, 10.0]]
    """
    values = np.zeros((len(faults), sound + len(faults)))
    for place, (_, value) in enumerate(faults):
        values[place, sound + place] = value
    return {name: row for (name, _), row in zip(faults, values, strict=True)}


def sound(topology: Topology) -> dict[Name, float]:
    """The parameters of a circuit without any fault."""
    return dict.fromkeys((name for name, _ in single_faults(topology)), 0.0)


def faulty(topology: Topology, lanes: Lanes, count: int) -> NDArray[np.bool_]:
    """Which of `count` lanes have a fault."""
    found = np.zeros(count, bool)
    for name in sound(topology):
        found |= np.asarray(lanes.get(name, 0.0)) != 0.0
    return found


def begun(topology: Topology, lanes: Lanes, share: float) -> dict[Name, Array]:
    """The faults of lanes on their way, from next to none (share 0) to what they are (share 1).

    Resistance and conductance grow by equal factors: what a fault brings about comes within a
    few decades, and nobody knows beforehand within which.
    """
    firsts = dict.fromkeys((joint_name(*j) for j in topology.joints), FIRST_RESISTANCE)
    firsts |= dict.fromkeys((bridge_name(*b) for b in topology.bridges), FIRST_CONDUCTANCE)
    found = {}
    for name, first in firsts.items():
        whole = np.asarray(lanes.get(name, 0.0), float)
        found[name] = np.minimum(whole, first * (np.maximum(whole, first) / first) ** share)
    return found


def faulty_samples(topology: Topology) -> int:
    """How many samples of an order of elimination have a fault; none without joints or bridges."""
    return min(len(single_faults(topology)), MOST_SAMPLED)


def sampled(topology: Topology, lanes: Lanes, count: int) -> dict[Name, Array]:
    """Lanes as `count` samples, the last of which have one fault each: all, or as many drawn.

    An order of elimination must hold where a fault takes away what carried a node's current.
    """
    given = {name: np.resize(np.asarray(v, float), count) for name, v in lanes.items()}
    faults, most = single_faults(topology), faulty_samples(topology)
    drawn = np.random.default_rng(1).permutation(len(faults))[:most]
    first = count - most
    alone = one_at_a_time([faults[i] for i in drawn], first)
    for name, _ in faults:
        row = given.get(name, np.zeros(count))
        row[first:] = alone[name][first:] if name in alone else 0.0
        given[name] = row
    return given
