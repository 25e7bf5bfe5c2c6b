"""Small circuits for the tests of single kinds, solved on the reference path."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from devices.samples import typical_values
from numpy.typing import NDArray

from railwright.devices import kinds
from railwright.devices.device import Device
from railwright.engine import reference
from railwright.engine.model import Model
from railwright.engine.reduction import at_rest
from railwright.engine.system import trace
from railwright.engine.topology import Topology

Array = NDArray[np.float64]
LADDERS = ((1.0,), (1e-3, 1e-2, 1e-1, 1.0))
"""A direct attempt; what it leaves unsolved: amplifiers walked up to their full gain. What is left
then begins from the nearest lane that is solved: a switch with little else in its way is far from
cold."""


@dataclass(frozen=True)
class Part:
    """A part of a test circuit: typical values of `name` in the catalogue, others on top."""

    ref: str
    kind: str
    pins: Mapping[str, str]
    values: Mapping[str, float] = field(default_factory=dict)
    given_options: Mapping[str, str] = field(default_factory=dict)
    name: str = ""

    @property
    def device(self) -> Device:
        return kinds()[self.kind]

    @property
    def options(self) -> dict[str, str]:
        first = {name: words[0] for name, words in self.device.options.items()}
        return {**first, **self.given_options}

    @property
    def known(self) -> dict[str, float]:
        defaults = {n: v.default for n, v in self.device.values.items() if v.default is not None}
        return {**defaults, **typical_values(self.kind, self.name), **self.values}


def resistor(ref: str, one: str, two: str, resistance: float = 1e3) -> Part:
    return Part(ref, "resistor", {"one": one, "two": two}, {"resistance": resistance})


def source(ref: str, plus: str, limit: float = 10.0, resistance: float = 1e-3) -> Part:
    values = {"resistance": resistance, "current_limit": limit}
    return Part(ref, "source", {"plus": plus, "minus": "GND"}, values)


@dataclass(frozen=True)
class Solution:
    """What was found: potentials by net and observables by ref and name, per lane."""

    potentials: Mapping[str, Array]
    observed: Mapping[tuple[str, str], Array]
    model: Model
    lanes: Mapping[tuple[str, str], Array]
    unknowns: Array
    """All unknowns (row, lane)."""

    def __getitem__(self, what: str) -> Array:
        """A net's potential, or `ref.observable`."""
        ref, point, name = what.partition(".")
        return self.observed[ref, name] if point else self.potentials[what]


def solved(parts: list[Part], **lanes: Any) -> Solution:
    """The circuit's operating points; `V_voltage=...` sets an input or value of part V.

    Fails where a lane is not solved.
    """
    chosen = {tuple(key.split("_", 1)): np.atleast_1d(x) for key, x in lanes.items()}
    count = max([x.size for x in chosen.values()], default=1)
    lane_values = {name: np.broadcast_to(x, (count,)).astype(float) for name, x in chosen.items()}
    topology = Topology.of(parts, "GND")
    nominal = {(p.ref, name): value for p in parts for name, value in p.known.items()}
    model = Model(topology, nominal)
    wanted = at_rest(trace(topology)).parameters
    x, good = model.cold_start(count), np.zeros(count, bool)
    for ladder in LADDERS:
        lost = np.flatnonzero(~good)
        x[:, lost] = model.cold_start(lost.size)
        for gain in ladder:
            values = {k: v[lost] for k, v in lane_values.items()}
            parameters = model.parameters(wanted, {**values, ("", "gain"): gain})
            x[:, lost], good[lost] = reference.newton(topology, x[:, lost], parameters, 300)
    while good.any() and not good.all():
        known, lost = np.flatnonzero(good), np.flatnonzero(~good)
        nearest = known[np.argmin(np.abs(known[:, None] - lost), axis=0)]
        values = model.parameters(wanted, {k: v[lost] for k, v in lane_values.items()})
        x[:, lost], good[lost] = reference.newton(topology, x[:, nearest], values, 300)
        if not good[lost].any():
            break
    assert good.all(), f"lanes {np.flatnonzero(~good)} were not solved"
    assembly = reference.assemble(topology, x, model.parameters(wanted, lane_values))
    observed = {name: np.broadcast_to(v, (count,)) for name, v in assembly.observed.items()}
    potentials = {u.owner: x[i] for i, u in enumerate(topology.unknowns) if not u.name}
    return Solution(potentials, observed, model, lane_values, x)
