"""What small-signal analyses look from and at: inputs and outputs, as slopes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.engine.expression import partials
from railwright.engine.linear import Linear
from railwright.engine.linear_system import row_by_unknowns
from railwright.engine.system import Name
from railwright.engine.topology import Topology

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Mask = NDArray[np.bool_]


class NoSuchPort(KeyError):
    """An input or output that the circuit does not have."""

    def __str__(self) -> str:
        return str(self.args[0])


@dataclass(frozen=True)
class Given:
    """A part's input or value (a source's voltage, a load's current, a resistance)."""

    ref: str
    name: str


@dataclass(frozen=True)
class Injected:
    """A current [A] that comes from one net and is driven into another."""

    into: str
    out_of: str


@dataclass(frozen=True)
class Potential:
    """The voltage of a net against another [V]."""

    plus: str
    minus: str


@dataclass(frozen=True)
class Observed:
    """An observable of a part, in its own unit."""

    ref: str
    name: str


Input = Given | Injected
Output = Potential | Observed


def unit_of(linear: Linear, output: Output) -> str:
    """Unit of an output; kelvin for what is shown in °C."""
    if isinstance(output, Potential):
        return "V"
    unit = linear.topology.element[output.ref].device.observes[output.name]
    return "K" if unit == "°C" else unit


def columns(linear: Linear, inputs: Sequence[Input]) -> tuple[Array, Array]:
    """Slopes (lane, input, row) of residuals and of what is stored, by each input."""
    pairs = [_column(linear, each) for each in inputs]
    shape = (linear.count, 0, linear.system.size)
    if not pairs:
        return np.zeros(shape), np.zeros(shape)
    direct, stored = zip(*pairs, strict=True)
    return np.stack(direct, axis=1), np.stack(stored, axis=1)


def _column(linear: Linear, given: Input) -> tuple[Array, Array]:
    if isinstance(given, Injected):
        # A balance sums what flows into the parts; what is driven in counts against it.
        return _net(linear, given.out_of) - _net(linear, given.into), linear.vector({})
    leaf = linear.system.parameter((given.ref, given.name))
    if leaf is None:
        raise NoSuchPort(unread(linear.system.system.parameters, given))
    direct, stored = linear.system.by(leaf)
    return linear.vector(direct), linear.vector(stored)


def row(linear: Linear, output: Output) -> Array:
    """Slopes (lane, column) of an output by the unknowns."""
    if isinstance(output, Potential):
        return _net(linear, output.plus) - _net(linear, output.minus)
    observed = linear.system.system.observed.get((output.ref, output.name))
    if observed is None:
        raise NoSuchPort(unobserved(linear.system.system.observed, output))
    return linear.vector(row_by_unknowns(observed))


def feedthrough(linear: Linear, output: Output, inputs: Sequence[Input]) -> Array:
    """Slopes (lane, input) of an output by inputs, at given unknowns."""
    found = np.zeros((linear.count, len(inputs)))
    if isinstance(output, Observed):
        parts = partials(linear.system.system.observed[output.ref, output.name])
        for place, given in enumerate(inputs):
            leaf = None
            if isinstance(given, Given):
                leaf = linear.system.parameter((given.ref, given.name))
            if leaf in parts:
                found[:, place] = linear.evaluated([parts[leaf]])[0]
    return found


def transfers(
    linear: Linear, inputs: Sequence[Input], output: Output, frequencies: Array
) -> tuple[Complex, Mask]:
    """Responses (lane, input, frequency) of one output to many inputs, by one solve each.

    frequencies [Hz] (frequency). Also the lanes that were solved.
    """
    direct, stored = columns(linear, inputs)
    found, solved = linear.transfer(row(linear, output), direct, frequencies[None])
    if stored.any():
        more, both = linear.transfer(row(linear, output), stored, frequencies[None])
        found = found + 2j * np.pi * frequencies * more
        solved = solved & both
    return found + feedthrough(linear, output, inputs)[..., None], solved


def _net(linear: Linear, net: str) -> Array:
    found = np.zeros((linear.count, linear.system.size))
    if net == linear.topology.ground:
        return found
    place = linear.topology.index.get((net, ""))
    if place is None:
        raise NoSuchPort(not_a_net(linear.topology, net))
    found[:, place] = 1.0
    return found


def not_a_net(topology: Topology, net: str) -> str:
    """What is wrong with the name of a net."""
    if net in topology.thermal_nets:
        return f"net {net} is a temperature, which is held here; ask for an electrical net"
    nets = [u.owner for u in topology.unknowns if not u.name]
    return f"there is no net {net}; wanted is one of {', '.join([topology.ground, *nets])}"


def unread(parameters: Iterable[Name], given: Given) -> str:
    """What is wrong with a value or input that is not among the parameters."""
    names = sorted(name for ref, name in parameters if ref == given.ref)
    if not names:
        return f"no equation reads anything of {given.ref}; is there such a part?"
    return f"no equation reads {given.name} of {given.ref}; wanted is one of {', '.join(names)}"


def unobserved(known: Iterable[Name], output: Observed) -> str:
    """What is wrong with an output that is not among those known."""
    names = sorted(name for ref, name in known if ref == output.ref)
    if not names:
        return f"{output.ref} reports nothing; is there such a part?"
    return f"{output.ref} does not report {output.name}; wanted is one of {', '.join(names)}"
