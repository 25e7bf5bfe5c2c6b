"""A circuit ready for analysis: its topology, nominal values, and how lanes become parameters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import AMBIENT, GAIN, LEAK, SYSTEM, temperature_name
from railwright.engine.topology import Element, Topology

Array = NDArray[np.float64]
Name = tuple[str, str]
Lanes = Mapping[Name, Array | float]
"""Values and inputs that differ from the nominal ones: (ref, name) -> number or array (lane)."""

LEAK_TO_GROUND = 1e-12  # S; far below any leakage of a board, keeps loose nets defined
ROOM = 298.15  # K
TEMPERATURE = temperature_name("")[1]


class MissingValue(KeyError):
    """A part's equations ask for a value that nobody gave."""

    def __str__(self) -> str:
        return str(self.args[0])


@dataclass(frozen=True)
class Model:
    """A topology with a nominal number for every value and input of its parts."""

    topology: Topology
    nominal: Mapping[Name, float] = field(default_factory=dict)

    def parameters(self, wanted: Sequence[Name], lanes: Lanes) -> dict[Name, Array | float]:
        """The parameters that the equations read, per lane, in SI units.

        wanted: names as the equations ask for them. lanes: what differs from nominal, with
        system parameters under the owner "" (see `assembly`). Raises MissingValue.
        """
        resting = self._system(lanes)
        found: dict[Name, Array | float] = {}
        by_part: dict[str, list[str]] = {}
        for owner, name in wanted:
            if owner == SYSTEM:
                found[owner, name] = resting(name)
            else:
                by_part.setdefault(owner, []).append(name)
        for ref, names in by_part.items():
            element = self.topology.element[ref]
            known = self._known(element, lanes)
            known |= _constants(element, known)
            for name in names:
                if name not in known:
                    raise _missing(element, name)
                found[ref, name] = known[name]
        return found

    def _known(self, element: Element, lanes: Lanes) -> dict[str, Any]:
        device = element.device
        known: dict[str, Any] = {
            name: value.default
            for name, value in device.values.items()
            if value.default is not None
        }
        known |= {**device.inputs, **device.holds}
        for name in (*device.values, *device.inputs, *device.holds):
            key = (element.ref, name)
            if key in lanes:
                known[name] = lanes[key]
            elif key in self.nominal:
                known[name] = self.nominal[key]
        return known

    def _system(self, lanes: Lanes) -> Any:
        defaults = {AMBIENT[1]: ROOM, GAIN[1]: 1.0, LEAK[1]: LEAK_TO_GROUND}
        for solved in self.topology.solvable:
            given = self.nominal.get((solved.ref, solved.input))
            if given is None:
                given = self.topology.element[solved.ref].device.inputs[solved.input]
            defaults[f"given {solved.ref}.{solved.input}"] = given
            defaults[f"slope {solved.ref}.{solved.input}"] = 1.0

        air = lanes.get(AMBIENT, ROOM)

        def value(name: str) -> Array | float:
            if name.startswith(TEMPERATURE):
                return lanes.get((SYSTEM, name), air)
            return lanes.get((SYSTEM, name), defaults.get(name, 0.0))

        return value

    def cold_start(self, lanes: int, ambient: Array | float = ROOM) -> Array:
        """Unknowns (row, lane) from which an unaided search begins."""
        start = np.empty((len(self.topology.unknowns), lanes))
        for row, unknown in enumerate(self.topology.unknowns):
            start[row] = ambient if unknown.unit == "K" else unknown.start
        return start


def chosen(lanes: Lanes, which: Any) -> dict[Name, Array | float]:
    """The lanes `which` of arrays; single numbers stay."""
    return {k: v[which] if isinstance(v, np.ndarray) and v.ndim else v for k, v in lanes.items()}


def _constants(element: Element, known: Mapping[str, Any]) -> Mapping[str, Any]:
    try:
        return element.device.constants(SimpleNamespace(**known))
    except AttributeError as error:
        name = str(error.name)
        if name not in element.device.values:
            raise
        raise _missing(element, name) from error


def _missing(element: Element, name: str) -> MissingValue:
    return MissingValue(f"part {element.ref} ({element.device.kind}) has no {name}")


def solve_name(ref: str, name: str) -> Name:
    """System parameter that is 1 where an input is solved for, 0 where it is given."""
    return SYSTEM, f"solve {ref}.{name}"


def given_name(ref: str, name: str) -> Name:
    """System parameter that holds an input's value where it is not solved for."""
    return SYSTEM, f"given {ref}.{name}"


def target_name(ref: str, name: str) -> Name:
    """System parameter that holds the voltage which the solved input must bring about."""
    return SYSTEM, f"target {ref}.{name}"


def slope_name(ref: str, name: str) -> Name:
    """System parameter [V]: how a solved input goes on beyond its end stops (sign matters)."""
    return SYSTEM, f"slope {ref}.{name}"


def weight_name(ref: str, name: str, observable: Name) -> Name:
    """System parameter: the weight of an observable in the sum that a crossing brings to nil."""
    return SYSTEM, f"weight {ref}.{name} {observable[0]}.{observable[1]}"
