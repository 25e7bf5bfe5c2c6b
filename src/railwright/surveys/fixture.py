"""A design on the bench: its circuit with the source and the loads of its need connected."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from railwright.circuit.circuit import Circuit, Part, PartValue
from railwright.circuit.design import Design
from railwright.circuit.need import Input, Output, Terminals
from railwright.devices import kinds
from railwright.engine.model import Model
from railwright.engine.topology import Aim, Crossing, Topology
from railwright.quantity import Spread

SOURCE = "need.input"
"""Ref of the source that the need describes."""


def load_ref(rail: str) -> str:
    """Ref of the load that the need connects to a rail."""
    return f"need.output.{rail}"


@dataclass(frozen=True)
class Fixture:
    """A design between its source and its loads, ready for lanes."""

    design: Design
    circuit: Circuit
    """The design's circuit as it is looked at: provisional mends may have been made to it."""

    @classmethod
    def of(cls, design: Design, circuit: Circuit | None = None) -> Fixture:
        """The fixture of a design, or of a variant of its circuit."""
        return cls(design, design.circuit if circuit is None else circuit)

    def with_circuit(self, circuit: Circuit) -> Fixture:
        """The same need around another circuit."""
        return replace(self, circuit=circuit)

    @property
    def rails(self) -> Mapping[str, Output]:
        """Rail name -> what the need says about it."""
        return {o.name: o for o in self.design.need.output}

    @cached_property
    def powered(self) -> Circuit:
        """The circuit with source and loads."""
        circuit = self.circuit.with_part(self._source())
        for output in self.design.need.output:
            circuit = circuit.with_part(_load(output))
        return circuit

    def _source(self) -> Part:
        need = self.design.need.input
        values = {"resistance": _known("Ω", max(need.resistance, 1e-6))}
        if need.cable_inductance is not None:
            values["inductance"] = _known("H", need.cable_inductance)
        if need.limit is not None:
            values["current_limit"] = _known("A", need.limit.current)
        return _part(SOURCE, "source", _pins(terminals(need)), values)

    @cached_property
    def model(self) -> Model:
        """The engine's model: controls can be solved for, and every rail's load."""
        comparators = tuple(
            (part.ref, "difference")
            for part in self.circuit.parts
            if "difference" in part.device.observes
        )
        aims = [
            Aim(c.part, c.value, *self._terminals(c.rail))
            for c in self.design.controls
            if c.quantity == "voltage" and any(p.ref == c.part for p in self.circuit.parts)
        ]
        crossings = [Crossing(load_ref(rail), "current", comparators) for rail in self.rails]
        topology = Topology.of(
            self.powered.parts, terminals(self.design.need.input).minus, aims, crossings
        )
        nominal = {
            (part.ref, name): value.spread.typical
            for part in self.powered.parts
            for name, value in part.values.items()
        }
        return Model(topology, nominal)

    def _terminals(self, rail: str) -> tuple[str, str]:
        nets = terminals(self.rails[rail])
        return nets.plus, nets.minus


def terminals(place: Input | Output) -> Terminals:
    """Nets of an input or output. ValueError for a need without a circuit."""
    if place.nets is None:
        raise ValueError("the need names no nets: there is no circuit to look at yet")
    return place.nets


def _pins(nets: Terminals) -> dict[str, str]:
    return {"plus": nets.plus, "minus": nets.minus}


def _known(unit: str, value: float) -> PartValue:
    return PartValue(Spread.exact(value), unit, "the need", False)


def _load(output: Output) -> Part:
    style = "constant-current"
    if output.load and all(load.kind == "resistive" for load in output.load):
        style = "resistive"
    pins = _pins(terminals(output))
    return _part(load_ref(output.name), "load", pins, {}, {"style": style})


def _part(
    ref: str,
    kind: str,
    pins: Mapping[str, str],
    values: Mapping[str, PartValue],
    options: Mapping[str, str] | None = None,
) -> Part:
    return Part(ref, kind, kinds()[kind], pins, values, {}, options or {})
