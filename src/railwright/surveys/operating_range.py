"""The operating range: all combinations of setting, load, input and ambient, ends included.

Where something changes with time, what capacitance a load has is one more axis.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.need import Need, Output
from railwright.quantity import show
from railwright.surveys.depth import DEFAULT, Depth

Array = NDArray[np.float64]
LEAST_OF_CYCLES = 8
"""Where each point is a cycle of the mains, which is dear: the end points alone will do."""
LEAST_SETTING = 0.01
"""Of the highest setting is the lowest that is looked at, where a need goes down to 0 V."""
SLACK = 1e-9
"""Of the end of an axis: by so much a choice may be beyond it, for what rounding does."""
FINEST = 9
"""No axis gets more places than this: the checks' margins are smooth between them."""


@dataclass(frozen=True)
class Points:
    """Operating points side by side; arrays (point,), per rail where rails have their own.

    Settings in volts, loads in amperes, input in volts, ambient in kelvin, capacitances of loads
    in farads: of rails that may have some, and where it matters.
    """

    settings: Mapping[str, Array]
    loads: Mapping[str, Array]
    input: Array
    ambient: Array
    capacitances: Mapping[str, Array] = field(default_factory=dict)
    circuit: Array | None = None
    """Which of several circuits each point is of, where they are not all of one."""
    position: Array | None = None
    """In which positions each point is, where something switches with a setting: the sum of a
    power of two for each rail whose upper one is on."""

    @property
    def count(self) -> int:
        """Number of points."""
        return self.input.size

    def take(self, which: NDArray[np.intp] | slice) -> Points:
        """Chosen points, in the order asked for, repeated where asked for."""
        return Points(
            {k: v[which] for k, v in self.settings.items()},
            {k: v[which] for k, v in self.loads.items()},
            self.input[which],
            self.ambient[which],
            {k: v[which] for k, v in self.capacitances.items()},
            None if self.circuit is None else self.circuit[which],
            None if self.position is None else self.position[which],
        )

    @property
    def coordinates(self) -> Array:
        """Settings, loads, input, ambient, capacitances, circuit and position (axis, point)."""
        axes = [*self.settings.values(), *self.loads.values(), self.input, self.ambient]
        axes += self.capacitances.values()
        axes += [each for each in (self.circuit, self.position) if each is not None]
        return np.array(axes)

    def places(self) -> Array:
        """Where each point lies between the ends of every axis, from 0 to 1 (axis, point)."""
        axes = self.coordinates
        low, span = axes.min(axis=1, keepdims=True), np.ptp(axes, axis=1, keepdims=True)
        share: Array = (axes - low) / np.where(span > 0, span, 1.0)
        return share

    def with_capacitances(self, axes: Mapping[str, Array]) -> Points:
        """All the same points with every combination of capacitances across the loads."""
        found = self
        for rail, places in axes.items():
            again = found.take(np.repeat(np.arange(found.count), places.size))
            own = {**again.capacitances, rail: np.tile(places, found.count)}
            found = replace(again, capacitances=own)
        return found


@dataclass(frozen=True)
class Choice:
    """An operating point by choice: settings [V] and loads [A] by rail, input [V], ambient [K].

    What is not named is that of the middle of the range.
    """

    settings: Mapping[str, float] = field(default_factory=dict)
    loads: Mapping[str, float] = field(default_factory=dict)
    input: float | None = None
    ambient: float | None = None


class BeyondRange(ValueError):
    """A choice that the need does not span: what was chosen, and between which ends it may lie."""


@dataclass(frozen=True)
class OperatingRange:
    """The axes of a need, and the grid of all their combinations."""

    settings: Mapping[str, Array]
    loads: Mapping[str, Array]
    input: Array
    ambient: Array
    nominal_input: float

    @classmethod
    def of(cls, need: Need, depth: Depth = DEFAULT, full: str = "") -> OperatingRange:
        """Axes with all end points, as fine as the depth wants.

        full: `setting` or `load` stays at its greatest, where a situation moves it itself.
        """
        spans = {
            **{("load", o.name): (o.current.min, o.current.max) for o in need.output},
            **{("setting", o.name): settings_of(o) for o in need.output},
            ("input", ""): (need.input.voltage.min, need.input.voltage.max),
            ("ambient", ""): (need.surroundings.ambient.min, need.surroundings.ambient.max),
        }
        spans = {
            k: (high, high) if k[0] == full else (low, high) for k, (low, high) in spans.items()
        }
        dear = need.input.kind == "ac"
        least = min(depth.points, LEAST_OF_CYCLES) if dear else depth.points
        places = _places(spans, least, 2 if dear else depth.places)
        if not dear:
            places = _divided(places, depth.divided)
        axes = {key: np.linspace(*span, places[key]) for key, span in spans.items()}
        nominal, source = need.input.voltage.nominal, axes["input", ""]
        if not dear:
            source = np.unique(np.append(source, nominal))
        return cls(
            {name: axis for (kind, name), axis in axes.items() if kind == "setting"},
            {name: axis for (kind, name), axis in axes.items() if kind == "load"},
            source,
            axes["ambient", ""],
            nominal,
        )

    @property
    def shape(self) -> tuple[int, ...]:
        """Lengths of the axes: settings, loads, input, ambient."""
        return (
            *(a.size for a in self.settings.values()),
            *(a.size for a in self.loads.values()),
            self.input.size,
            self.ambient.size,
        )

    def grid(self) -> Points:
        """All combinations, the last axis running fastest."""
        axes = [*self.settings.values(), *self.loads.values(), self.input, self.ambient]
        columns = [m.ravel() for m in np.meshgrid(*axes, indexing="ij")]
        rails = len(self.settings)
        return Points(
            dict(zip(self.settings, columns[:rails], strict=True)),
            dict(zip(self.loads, columns[rails : 2 * rails], strict=True)),
            columns[-2],
            columns[-1],
        )

    def extremes(self) -> Points:
        """The ends of input and ambient, with every place of settings and loads."""
        ends = [np.unique(axis[[0, -1]]) for axis in (self.input, self.ambient)]
        return replace(self, input=ends[0], ambient=ends[1]).grid()

    def middle(self) -> Points:
        """One point: settings and loads half way, nominal input, 25 °C where it is in range."""
        room = float(np.clip(298.15, self.ambient[0], self.ambient[-1]))
        return Points(
            {k: np.array([a.mean()]) for k, a in self.settings.items()},
            {k: np.array([a.mean()]) for k, a in self.loads.items()},
            np.array([self.nominal_input]),
            np.array([room]),
        )

    def chosen(self, choice: Choice) -> Points:
        """The one point of a choice of rails that there are; BeyondRange where it is outside."""
        middle = self.middle()

        def by_rail(what: str, wanted: Mapping[str, float], unit: str) -> dict[str, Array]:
            axes = self.settings if unit == "V" else self.loads
            return {
                rail: np.array([_within(value, axes[rail], f"the {what} of {rail}", unit)])
                for rail, value in wanted.items()
            }

        fed, air = choice.input, choice.ambient
        return Points(
            {**middle.settings, **by_rail("setting", choice.settings, "V")},
            {**middle.loads, **by_rail("load", choice.loads, "A")},
            middle.input if fed is None else np.array([_within(fed, self.input, "the input", "V")]),
            middle.ambient
            if air is None
            else np.array([_within(air, self.ambient, "the air", "°C")]),
        )


def _within(value: float, axis: Array, what: str, unit: str) -> float:
    low, high = float(axis[0]), float(axis[-1])
    slack = SLACK * abs(high)
    if not low - slack <= value <= high + slack:
        ends = show(low, unit) if low == high else f"{show(low, unit)} to {show(high, unit)}"
        raise BeyondRange(f"{what} is chosen as {show(value, unit)}: the need has {ends}.")
    return float(np.clip(value, low, high))


def settings_of(rail: Output) -> tuple[float, float]:
    """Ends of what is set [V]; above 0 V, where a load would draw nothing."""
    return max(rail.voltage.min, LEAST_SETTING * rail.voltage.max), rail.voltage.max


def goes_to_nothing(rail: Output) -> bool:
    """Whether a rail is wanted lower than the lowest setting that is looked at."""
    return rail.voltage.min < settings_of(rail)[0]


_OUTER = ("input", "ambient")


def _places(
    spans: Mapping[tuple[str, str], tuple[float, float]], least: int, fewest: int
) -> dict[tuple[str, str], int]:
    rails = sum(kind == "load" for kind, _ in spans)
    start = fewest if rails == 1 else 2
    places = {key: start if low < high else 1 for key, (low, high) in spans.items()}
    # Settings and loads bend the margins most; input and ambient get more places only if needed.
    inner = [key for key, count in places.items() if count > 1 and key[0] not in _OUTER]
    outer = [key for key, count in places.items() if count > 1 and key[0] in _OUTER]
    for order in (inner, outer):
        for key in itertools.cycle(order):
            if np.prod(list(places.values())) >= least or min(places[k] for k in order) >= FINEST:
                break
            places[key] += 1
    return places


def _divided(places: dict[tuple[str, str], int], least: int) -> dict[tuple[str, str], int]:
    """Places enough by dividing intervals of settings and loads: those that were there stay."""
    parts = {key: 1 for key, count in places.items() if count > 1 and key[0] not in _OUTER}
    for key in itertools.cycle(parts):
        found = {k: (n - 1) * parts.get(k, 1) + 1 for k, n in places.items()}
        if np.prod(list(found.values())) >= least:
            return found
        parts[key] += 1
    return places  # nothing varies that could be divided
