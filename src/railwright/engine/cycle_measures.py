"""Measures of a cycle, and how they follow what an output does in each of its steps."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from railwright.engine.ports import Output
from railwright.engine.recording import Recording
from railwright.engine.stepping import GAMMA

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
PLACES = (0.0, GAMMA, 1.0)
"""Start, end of the first stage and end of a step, as shares of it."""
Triple = tuple[Array, Array, Array]
"""Numbers (step, lane) that belong to these."""


@dataclass(frozen=True)
class Seen:
    """An output in the steps of a cycle, (step, lane), nil where none was taken."""

    steps: Recording
    middle: Array
    end: Array
    slope: Array
    """At the end of the step, per second."""
    period: Array

    @cached_property
    def first(self) -> Array:
        """The output at the start of each step."""
        return np.concatenate([self.end[:1], self.end[:-1]])

    @cached_property
    def quadrature(self) -> Triple:
        """Weights [s] of start, first stage and end in the integral over the period.

        Exact for parabolas; in steps of one stage those of their method, so that what flows in
        is what is stored.
        """
        steps = self.steps
        inner = 1.0 / (6.0 * GAMMA * (1.0 - GAMMA))
        last = 0.5 - GAMMA * inner
        length = np.where(steps.taken, steps.length, 0.0)
        double = np.where(steps.single, 0.0, length)
        return (1.0 - inner - last) * double, inner * double, length - (1.0 - last) * double


@dataclass(frozen=True)
class Weights:
    """A measure (lane), and its slopes by the output in each step and by lengths of time."""

    value: Array
    middle: Array
    """By the output at the end of the first stage, (step, lane)."""
    end: Array
    """By the output at the end of the step."""
    longer: Array
    """By the length of the step where it alone changes."""
    delay: Array
    """By how much later the event at its end comes."""
    whole: Array
    """By the length of the period (lane)."""

    @classmethod
    def of(cls, seen: Seen, value: Array, nodes: Triple, **more: Array) -> Weights:
        """From weights of start, first stage and end of each step; what is not told is nil."""
        first, middle, end = nodes
        nil = np.zeros_like(seen.end)
        end = end + np.concatenate([first[1:], nil[:1]])
        rest = {"longer": nil, "delay": nil, "whole": np.zeros_like(seen.period)}
        return cls(value, middle, end, **{**rest, **more})

    def scaled(self, by: Array, middle: Array, end: Array) -> Weights:
        """All slopes times a factor (lane), those by the output times one for each node more."""
        return Weights(
            self.value,
            by * middle * self.middle,
            by * end * self.end,
            by * self.longer,
            by * self.delay,
            by * self.whole,
        )

    def __sub__(self, other: Weights) -> Weights:
        return Weights(*(getattr(self, f.name) - getattr(other, f.name) for f in fields(self)))


class Measure(Protocol):
    """A number that a cycle has in each lane."""

    @property
    def output(self) -> Output | None:
        """What is measured, None where it is nothing of the circuit's."""

    def weights(self, seen: Seen) -> Weights:
        """The measure and its slopes."""


@dataclass(frozen=True)
class Mean:
    """Mean of an output over the period."""

    output: Output

    def weights(self, seen: Seen) -> Weights:
        return _mean(seen, seen.middle, seen.end)


@dataclass(frozen=True)
class Rms:
    """Root of the mean of an output's square."""

    output: Output

    def weights(self, seen: Seen) -> Weights:
        square = _mean(seen, seen.middle**2, seen.end**2)
        value = np.sqrt(square.value)
        with np.errstate(divide="ignore", invalid="ignore"):
            slopes = square.scaled(0.5 / value, 2.0 * seen.middle, 2.0 * seen.end)
        return replace(slopes, value=value)


@dataclass(frozen=True)
class Beginning:
    """An output at the start of the period, behind what jumps there."""

    output: Output

    def weights(self, seen: Seen) -> Weights:
        jumps = np.cumprod(seen.steps.jumps, axis=0).sum(axis=0)
        chosen = np.arange(len(seen.end))[:, None] == np.maximum(jumps - 1, 0)
        nil = np.zeros_like(seen.end)
        value = np.sum(seen.end * chosen, axis=0)
        return Weights.of(seen, value, (nil, nil, chosen.astype(float)))


@dataclass(frozen=True)
class Swing:
    """From the lowest to the highest value of an output; instants of jumps are not looked at."""

    output: Output

    def weights(self, seen: Seen) -> Weights:
        return _highest(seen, 1.0) - _highest(seen, -1.0)


@dataclass(frozen=True)
class Period:
    """The length of the period [s]."""

    @property
    def output(self) -> None:
        """Nothing of the circuit's."""

    def weights(self, seen: Seen) -> Weights:
        nil = np.zeros_like(seen.end)
        one = np.ones_like(seen.period)
        return Weights.of(seen, seen.period.copy(), (nil, nil, nil), whole=one)


def _mean(seen: Seen, middle: Array, end: Array) -> Weights:
    """Mean of a function of the output, and its slopes by that function."""
    first = np.concatenate([end[:1], end[:-1]])
    nodes = seen.quadrature
    parts = [w * v for w, v in zip(nodes, (first, middle, end), strict=True)]
    total = parts[0] + parts[1] + parts[2]
    value = total.sum(axis=0) / seen.period
    start, inner, last = (w / seen.period for w in nodes)
    length = np.where(seen.steps.taken, seen.steps.length, 1.0)
    return Weights.of(
        seen,
        value,
        (start, inner, last),
        longer=total / length / seen.period,
        delay=end / seen.period,
        whole=-value / seen.period,
    )


def _highest(seen: Seen, sign: float) -> Weights:
    """The highest value, of the negative where `sign` is -1."""
    steps = seen.steps
    first, middle, end = (sign * v for v in (seen.first, seen.middle, seen.end))
    smooth = steps.taken & ~steps.single
    # While what is stiff settles, an output need not be what it is before and after.
    nodes = np.stack(
        [np.where(smooth, middle, -np.inf), np.where(smooth | steps.settled, end, -np.inf)]
    )
    best = nodes.max(axis=(0, 1))
    chosen = nodes == best
    # The parabolas of the steps on either side of that node may go higher still.
    beside = chosen.any(axis=0)
    beside[1:] |= chosen[1, :-1]
    # Not where it rises up to an event.
    beside &= ~(chosen[1] & steps.causes & (sign * seen.slope > 0.0)).any(axis=0)
    place, vertex = _vertex(first, middle, end)
    vertex = np.where(beside & smooth, vertex, -np.inf)
    higher = vertex.max(axis=0) > best
    inside = (vertex == vertex.max(axis=0)) & higher
    at_middle, at_end = _first(chosen & ~higher)
    weights = [np.where(inside, weight, 0.0) for weight in _lagrange(place)]
    # Within a smooth stretch the instant of an extreme does not matter; a corner moves with its
    # event.
    return Weights.of(
        seen,
        sign * np.maximum(best, vertex.max(axis=0)),
        (weights[0], weights[1] + at_middle, weights[2] + at_end),
        delay=np.where(at_end & steps.causes, seen.slope, 0.0),
    )


def _first(chosen: Mask) -> Mask:
    """The first of the nodes (kind, step, lane) that are chosen in each lane."""
    flat = chosen.reshape(-1, chosen.shape[2])
    number = np.arange(len(flat))[:, None]
    found: Mask = flat & (number == flat.argmax(axis=0))
    return found.reshape(chosen.shape)


def _vertex(first: Array, middle: Array, end: Array) -> tuple[Array, Array]:
    """Where in its step a parabola is highest, and how high; -inf where at none of its inner."""
    bend = ((middle - first) / GAMMA - (end - first)) / (GAMMA - 1.0)
    rise = end - first - bend
    with np.errstate(divide="ignore", invalid="ignore"):
        place = -0.5 * rise / bend
    inside = (bend < 0.0) & (place > 0.0) & (place < 1.0)
    place = np.where(inside, place, 0.5)
    return place, np.where(inside, first + place * (rise + place * bend), -np.inf)


def _lagrange(place: Array) -> list[Array]:
    """Weights of a step's nodes in the parabola through them, at a place."""
    weights = []
    for own in range(3):
        one, other = (PLACES[i] for i in range(3) if i != own)
        below = (PLACES[own] - one) * (PLACES[own] - other)
        weights.append((place - one) * (place - other) / below)
    return weights
