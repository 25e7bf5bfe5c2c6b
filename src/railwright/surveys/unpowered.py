"""What an ohmmeter reads on a supply that nothing feeds, from the spread of its parts.

A meter puts some volts behind a resistance on what it measures, and tells the quotient of voltage
and current once capacitors are charged: junctions conduct as far as that lets them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Circuit, Part, PartValue
from railwright.circuit.design import Design
from railwright.devices import kinds
from railwright.devices.device import Role
from railwright.engine.model import ROOM, Model, Name
from railwright.engine.operating_point import operating_point
from railwright.engine.solutions import OperatingPoints
from railwright.engine.topology import Topology
from railwright.quantity import Spread
from railwright.surveys.fixture import terminals, transforms
from railwright.surveys.spread import PartSpread
from railwright.surveys.stages import AWAY, common
from railwright.surveys.windows import Array, Read, Window, windows

OPEN, BEHIND = 2.5, 2.5e3
"""V with nothing connected, and Ω behind them: about 1 mA into a short (usual multimeters, common
practice, no source)."""
MOST = 10e6
"""Ω; more is over the range of the meter."""
FED: frozenset[Role] = frozenset({"power-output", "power-input", "supply"})
"""Roles of pins on whose nets a short circuit would do most harm."""


@dataclass(frozen=True)
class Resistance:
    """Between two nets, the red lead on the first."""

    red: str
    black: str
    window: Window
    """[Ω]; infinite beyond what a meter shows."""


def resistances(design: Design, *, across: bool = False) -> tuple[Resistance, ...]:
    """From every rail to the common net; none of those whose state has no solution.

    across: whether from the input to every output as well.
    """
    return tuple(Unpowered(design, across).measured())


class Unpowered:
    """A supply that nothing feeds, with an ohmmeter on each pair of nets."""

    def __init__(self, design: Design, across: bool) -> None:
        self.black = common(design)
        parts = [part for part in design.circuit.parts if not transforms(part)]
        self.circuit = Circuit(tuple(parts))
        fed = [(net, self.black) for net in self._rails(design) if net != self.black]
        self.pairs = [*fed, *(self._across(design) if across else ())]
        meters = [_ohmmeter(*pair) for pair in self.pairs]
        powered = (*self.circuit.parts, *meters)
        nominal = {
            (part.ref, name): value.spread.typical
            for part in powered
            for name, value in part.values.items()
        }
        self.model = Model(Topology.of(powered, self.black), nominal)
        self.spread = PartSpread.of(self.circuit)

    def _rails(self, design: Design) -> Iterator[str]:
        """Nets that feed something, in the order of the design."""
        outside = [terminals(output) for output in design.need.output]
        if design.need.input.kind != "ac":
            outside.append(terminals(design.need.input))
        ends = {net for pair in outside for net in (pair.plus, pair.minus)}
        for net, joined in self.circuit.nets.items():
            roles = {self.circuit.part(ref).device.pins[pin].role for ref, pin in joined}
            if net in ends or roles & FED:
                yield net

    def _across(self, design: Design) -> Iterator[tuple[str, str]]:
        """From the input to every output: what lies between may be bridged."""
        if design.need.input.kind == "ac":
            return
        source = terminals(design.need.input)
        hot = source.plus if source.minus == self.black else source.minus
        ends = [terminals(output) for output in design.need.output]
        for net in dict.fromkeys(e.minus if e.plus == self.black else e.plus for e in ends):
            if net not in (self.black, hot) and {net, hot} <= self.circuit.nets.keys():
                yield hot, net

    def measured(self) -> Iterator[Resistance]:
        """What is read over the spread."""
        readings: dict[str, Read] = {_name(*pair): ohms(*pair) for pair in self.pairs}
        found = windows(self.spread, self._solve, readings, apart=True)
        for (red, black), window in zip(self.pairs, found.of.values(), strict=True):
            if all(np.isfinite((window.low, window.typical))):
                yield Resistance(red, black, _shown(window))

    def _solve(self, actual: Array, taken: NDArray[np.intp]) -> OperatingPoints:
        count = actual.shape[1]
        lanes = self.spread.lanes(actual, np.full(count, ROOM)) | self.connected(taken)
        return operating_point(self.model, lanes, count)

    def connected(self, taken: NDArray[np.intp]) -> dict[Name, Array]:
        """Lanes with the ohmmeter on the pair of a number (lane)."""
        lanes: dict[Name, Array] = {}
        for index, pair in enumerate(self.pairs):
            lanes[_name(*pair), "voltage"] = np.where(taken == index, OPEN, 0.0)
            lanes[_name(*pair), "resistance"] = np.where(taken == index, BEHIND, AWAY)
        return lanes


def _ohmmeter(red: str, black: str) -> Part:
    value = PartValue(Spread.exact(AWAY), "Ω", "the meter", False)
    pins = {"plus": red, "minus": black}
    return Part(_name(red, black), "source", kinds()["source"], pins, {"resistance": value}, {}, {})


def _name(red: str, black: str) -> str:
    return f"ohmmeter on {red} from {black}"


def ohms(red: str, black: str) -> Read:
    """What the ohmmeter between two nets tells [Ω]; no more than it shows."""

    def read(at: OperatingPoints) -> Array:
        with np.errstate(divide="ignore", invalid="ignore"):
            name = _name(red, black)
            volts, amperes = at.of(name, "voltage"), at.of(name, "current")
            return np.asarray(np.where(amperes > OPEN / MOST, volts / amperes, MOST))

    return read


def _shown(window: Window) -> Window:
    """A window as a meter shows it: beyond its range there is no number."""
    ends = [v if v < MOST else np.inf for v in (window.low, window.typical, window.high)]
    return Window(*ends)
