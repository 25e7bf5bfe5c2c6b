"""What moves an output: derivatives by all values of the parts, by adjoint solves.

The method is that of Director and Rohrer ("The generalized adjoint network and network
sensitivities", IEEE Transactions on Circuit Theory, 1969), on the equations themselves.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import add

import numpy as np
from numpy.typing import NDArray

from railwright.engine.complex_pair import ComplexPair
from railwright.engine.expression import Expression, partials
from railwright.engine.linear import Linear, solved_each
from railwright.engine.linear_system import Leaf, LinearSystem, Row, row_by_unknowns
from railwright.engine.ports import (
    Given,
    Injected,
    Input,
    NoSuchPort,
    Observed,
    Output,
    columns,
    row,
    transfers,
)
from railwright.engine.response import frequencies_of

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Sensitivities:
    """Derivatives of one output by values over lanes; unsolved lanes read not-a-number."""

    output: Output
    by: Mapping[Given, Array]
    """(lane), unit of the output over that of the value."""
    solved: Mask


@dataclass(frozen=True)
class ResponseSensitivities:
    """Derivatives of a response by values, over lanes and frequencies."""

    input: Input
    output: Output
    frequency: Array
    by: Mapping[Given, Complex]
    """(lane, frequency)."""
    solved: Mask


def values_of(linear: Linear) -> tuple[Given, ...]:
    """Everything that parts are given and that their equations read."""
    parts = linear.topology.element
    return tuple(Given(ref, name) for ref, name in linear.system.system.parameters if ref in parts)


def sensitivities(
    linear: Linear, output: Output, values: Sequence[Given] | None = None
) -> Sensitivities:
    """Derivatives of an output at rest by values (all of them unless some are named).

    Linearised with `as_solved` they follow the operating point as it is solved: parts warm up,
    inputs that are solved for follow. Linearised with `quiescent`, temperatures are held.
    """
    wanted = values_of(linear) if values is None else tuple(values)
    found, solved = transfers(linear, wanted, output, np.zeros(1))
    by = {value: found[:, place, 0].real for place, value in enumerate(wanted)}
    return Sensitivities(output, by, solved)


def response_sensitivities(
    linear: Linear,
    given: Input,
    output: Output,
    frequencies: Array | Sequence[float],
    values: Sequence[Given] | None = None,
) -> ResponseSensitivities:
    """Derivatives of a response by values, the shift of the operating point included.

    With y = -A^-T c and x = -A^-1 b the response c^T x + d moves by
    h = y^T (b + A x) + c^T x + d, y and x held: directly, and through the operating point, to
    which one more transposed solve leads back.
    """
    wanted = values_of(linear) if values is None else tuple(values)
    at = frequencies_of(frequencies)
    leaves = [_leaf(linear, value) for value in wanted]
    held = _Held.of(linear, given, output, at)
    slopes = [partials(part) for part in _moving(linear.system, given, output)]
    direct = held.slopes(slopes, leaves)
    shifted = held.slopes(slopes, [("x", column) for column in range(linear.system.size)])
    through, solved = _through_rest(linear, shifted, wanted)
    total = direct + through
    good = solved & np.isfinite(total).all(axis=(1, 2))
    total[~good] = np.nan
    by = {value: total[:, :, place] for place, value in enumerate(wanted)}
    return ResponseSensitivities(given, output, at, by, good)


def _leaf(linear: Linear, value: Given) -> Leaf:
    leaf = linear.system.parameter((value.ref, value.name))
    if leaf is None:
        columns(linear, [value])  # says what is wrong
        raise NoSuchPort(f"no equation reads {value.name} of {value.ref}")
    return leaf


def _through_rest(
    linear: Linear, shifted: Complex, wanted: Sequence[Given]
) -> tuple[Complex, Mask]:
    """What slopes by the unknowns at rest (lane, frequency, column) mean for the values."""
    lanes, many, size = shifted.shape
    rights = columns(linear, wanted)[0]
    repeated = np.repeat(np.arange(lanes), many)
    each = linear.take(repeated)
    parts, solved = [], np.ones(lanes, bool)
    for part in (shifted.real, shifted.imag):
        found, good = each.transfer(part.reshape(-1, size), rights[repeated], np.zeros((1, 1)))
        parts.append(found[..., 0].reshape(lanes, many, len(wanted)))
        solved &= good.reshape(lanes, many).all(axis=1)
    return parts[0] + 1j * parts[1], solved


@dataclass(frozen=True)
class _Held:
    """Solutions x and y of a response, as parameters of the expression that moves it."""

    linear: Linear
    shape: tuple[int, int]
    unknowns: Array
    parameters: Array
    """The system's own, then real and imaginary parts of y and of x, then ω; (row, lane·f)."""

    @classmethod
    def of(cls, linear: Linear, given: Input, output: Output, frequencies: Array) -> _Held:
        conductive, storing = linear.matrices
        s = 2j * np.pi * frequencies
        a = conductive[:, None] + s[:, None, None] * storing[:, None]
        direct, stored = columns(linear, [given])
        b = direct[:, 0, None] + s[:, None] * stored[:, 0, None]
        c = np.broadcast_to(row(linear, output)[:, None], b.shape)
        good = np.isfinite(a).all(axis=(1, 2, 3))
        x, y = (np.full(b.shape, np.nan, complex) for _ in range(2))
        x[good] = -solved_each(a[good], b[good, ..., None])[..., 0]
        y[good] = -solved_each(a[good].swapaxes(2, 3), c[good, ..., None])[..., 0]
        many = frequencies.size
        rows = [linear.rest.x, linear.parameters]
        unknowns, parameters = (np.repeat(each, many, axis=1) for each in rows)
        flat = [each.reshape(-1, linear.system.size).T for each in (y, x)]
        omega = np.tile(s.imag, linear.count)[None]
        more = [part for each in flat for part in (each.real, each.imag)]
        return cls(
            linear, (linear.count, many), unknowns, np.concatenate([parameters, *more, omega])
        )

    def slopes(self, parts: Sequence[Mapping[Leaf, Expression]], leaves: Sequence[Leaf]) -> Complex:
        """Slopes (lane, frequency, leaf) of real and imaginary part of an expression."""
        found = np.zeros((2, len(leaves), self.unknowns.shape[1]))
        graph = self.linear.system.system.graph
        for place, slopes in enumerate(parts):
            known = [(at, slopes[leaf]) for at, leaf in enumerate(leaves) if leaf in slopes]
            if known:
                values = graph.evaluate([e for _, e in known], self.unknowns, self.parameters)
                found[place, [at for at, _ in known]] = values
        whole = found[0] + 1j * found[1]
        return np.asarray(whole.T.reshape(*self.shape, len(leaves)), complex)


def _moving(system: LinearSystem, given: Input, output: Output) -> tuple[Expression, Expression]:
    """Real and imaginary part of h, with the parameters of `_Held`."""
    graph, size = system.system.graph, system.size
    first = len(system.system.parameters)
    zero = graph.constant(0.0)

    def held(block: int, place: int) -> ComplexPair:
        at = first + 2 * block * size + place
        return ComplexPair(graph.parameter(at), graph.parameter(at + size))

    omega = graph.parameter(first + 4 * size)
    terms = [ComplexPair(zero, zero)]

    def along(places: Mapping[tuple[int, int], Expression], factor: Expression | None) -> None:
        for (i, j), slope in places.items():
            pair = ComplexPair(slope, zero) if factor is None else ComplexPair(zero, factor * slope)
            terms.append(held(0, i) * pair * held(1, j))

    along(system.slopes, None)
    along(system.storing, omega)
    direct, stored = _input(system, given)
    terms += [held(0, i) * ComplexPair(slope, zero) for i, slope in direct.items()]
    terms += [held(0, i) * ComplexPair(zero, omega * slope) for i, slope in stored.items()]
    if isinstance(output, Observed):
        observed = system.system.observed[output.ref, output.name]
        seen = row_by_unknowns(observed)
        terms += [ComplexPair(slope, zero) * held(1, j) for j, slope in seen.items()]
        leaf = None if isinstance(given, Injected) else system.parameter((given.ref, given.name))
        own = partials(observed).get(leaf) if leaf else None
        terms += [] if own is None else [ComplexPair(own, zero)]
    whole = reduce(add, terms)
    return whole.real, whole.imaginary


def _input(system: LinearSystem, given: Input) -> tuple[Row, Row]:
    if isinstance(given, Injected):
        return {}, {}
    leaf = system.parameter((given.ref, given.name))
    return ({}, {}) if leaf is None else system.by(leaf)
