"""A design on the bench: its circuit with the source and the loads of its need connected.

An operating point knows no alternating voltage. Of a supply that has such an input it sees a
stand-in: a direct source for each secondary of its transformers, or for the input where there is
none. Mains cycles (`surveys.mains`) begin from there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from railwright.circuit.circuit import Circuit, Part, PartValue, is_thermal
from railwright.circuit.design import Design
from railwright.circuit.need import Input, Output, Terminals
from railwright.devices import kinds
from railwright.devices.transformer import INSULATION, SECONDARIES
from railwright.engine.model import Model
from railwright.engine.topology import AIR, Aim, Crossing, Topology
from railwright.quantity import Spread

SOURCE = "need.input"
"""Ref of the source that the need describes."""
IN_LIMIT = 0.98
"""Of its limit; a source that gives more than this counts as in it."""
STANDS_FOR = 0.9 * math.sqrt(2.0)
"""Volts of a stand-in per volt effective: a reservoir under load has about nine tenths of the
peak in the mean (common practice, no source). Cycles correct it."""
CREST = math.sqrt(2.0) / STANDS_FOR
"""Times its stand-in's voltage a reservoir gets to without a load."""
DIRECT = f"{SOURCE} direct"
"""Ref of the stand-in of an input that feeds no transformer."""


def stand_in(ref: str, winding: str) -> str:
    """Ref of the direct source that stands for a winding of a transformer."""
    return f"{SOURCE} {ref} {winding}"


def load_ref(rail: str) -> str:
    """Ref of the load that the need connects to a rail."""
    return f"need.output.{rail}"


def feeding_ref(rail: str) -> str:
    """Ref of what feeds back into a rail, where a load may bring a voltage along."""
    return f"need.output.{rail} charged"


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

    @property
    def alternating(self) -> bool:
        """Whether the input alternates."""
        return self.design.need.input.kind == "ac"

    @property
    def ground(self) -> str:
        """The net that potentials count from: neither end of an alternating input is one."""
        if self.alternating:
            return terminals(self.design.need.output[0]).minus
        return terminals(self.design.need.input).minus

    @cached_property
    def powered(self) -> Circuit:
        """The circuit with source and loads."""
        return self._loaded(self.circuit.with_part(self._source()))

    @cached_property
    def at_rest(self) -> Circuit:
        """The same as an operating point sees it: see above for what alternates."""
        if not self.alternating:
            return self.powered
        circuit = replace(
            self.circuit, parts=tuple(p for p in self.circuit.parts if not transforms(p))
        )
        for part, _ in self._stand_ins:
            circuit = circuit.with_part(part)
        return self._loaded(circuit)

    @property
    def feeds(self) -> Mapping[str, float]:
        """Ref of each source of the model -> its volts per volt of the input."""
        if not self.alternating:
            return {SOURCE: 1.0}
        return {part.ref: share for part, share in self._stand_ins}

    @cached_property
    def _stand_ins(self) -> list[tuple[Part, float]]:
        """Direct sources in place of what alternates, with their volts per volt of the input."""
        several = [p for p in self.circuit.parts if transforms(p)]
        if several:
            return [each for part in several for each in _secondaries(self.circuit, part)]
        need = self.design.need.input
        values = {"resistance": _known("Ω", max(need.resistance, 1e-6))}
        return [(_part(DIRECT, "source", _pins(terminals(need)), values), STANDS_FOR)]

    def _loaded(self, circuit: Circuit) -> Circuit:
        circuit = _bare(circuit)
        for output in self.design.need.output:
            circuit = circuit.with_part(_load(output))
            if output.brought is not None:
                circuit = circuit.with_part(_feeding(output, output.brought))
        return circuit

    def _source(self) -> Part:
        need = self.design.need.input
        values = {"resistance": _known("Ω", max(need.resistance, 1e-6))}
        if need.cable_inductance is not None:
            values["inductance"] = _known("H", need.cable_inductance)
        nets = terminals(need)
        if self.alternating:
            pins = {"live": nets.plus, "neutral": nets.minus}
            return _part(SOURCE, "mains-source", pins, values)
        if need.limit is not None:
            values["current_limit"] = _known("A", need.limit.current)
        return _part(SOURCE, "source", _pins(nets), values)

    @cached_property
    def model(self) -> Model:
        """The engine's model at rest: controls can be solved for, and every rail's load."""
        circuit = self.at_rest
        if self.alternating:
            for part in filter(transforms, self.circuit.parts):
                for each in _primary(part):
                    circuit = circuit.with_part(each)
        return self._model(circuit)

    @cached_property
    def mains_model(self) -> Model:
        """The same with an input that alternates."""
        return self._model(self.powered)

    def _model(self, powered: Circuit) -> Model:
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
        topology = Topology.of(powered.parts, self.ground, aims, crossings)
        nominal = {
            (part.ref, name): value.spread.typical
            for part in powered.parts
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


def _bare(circuit: Circuit) -> Circuit:
    """The circuit with every case that nothing touches left to the air alone."""
    for part in circuit.parts:
        thermal = {pin for pin in part.pins if is_thermal(part.device, pin)}
        alone = {pin for pin in thermal if len(circuit.on_net(part.pins[pin])) == 1} - {
            pin for pin in thermal if part.pins[pin] == AIR
        }
        if alone and thermal != part.device.pins.keys():
            pins = {pin: net for pin, net in part.pins.items() if pin not in alone}
            circuit = circuit.replaced(replace(part, pins=pins))
    return circuit


def transforms(part: Part) -> bool:
    """Whether a part is a transformer, which the stand-in replaces."""
    return "turns_ratio" in part.device.values


def wired(part: Part) -> list[str]:
    """The secondaries of a transformer that are connected."""
    return [name for name in SECONDARIES if {f"{name}_start", f"{name}_end"} <= part.pins.keys()]


def is_turned(circuit: Circuit, part: Part, winding: str) -> bool:
    """Whether diodes let a winding feed the supply only while its end is above its start.

    So it is with one diode, and with several that all point the same way: half waves. Of windings
    that share a tap those count that feed while their start is above: they take turns.
    """
    own = _ends(part, winding)
    sharing = [each for each in wired(part) if each != winding and set(own) & {*_ends(part, each)}]
    if any(_lets(circuit, *_ends(part, each)) for each in (winding, *sharing)):
        return False
    return _lets(circuit, *reversed(own))


def _ends(part: Part, winding: str) -> tuple[str, str]:
    return part.pins[f"{winding}_start"], part.pins[f"{winding}_end"]


def _lets(circuit: Circuit, plus: str, minus: str) -> bool:
    """Whether a diode leads away from one end of a winding, or to its other end."""
    return any(
        other.kind == "diode" and other.pins.get(pin) == net
        for net, pin in ((plus, "anode"), (minus, "cathode"))
        for other, _ in circuit.on_net(net)
    )


def _secondaries(circuit: Circuit, part: Part) -> Iterator[tuple[Part, float]]:
    """A direct source for each secondary of a transformer, with its volts per volt of the input."""
    ratio, first, own = (
        part.values[name].spread.typical
        for name in ("turns_ratio", "primary_resistance", "secondary_resistance")
    )
    values = {"resistance": _known("Ω", own + first / ratio**2)}
    for winding in wired(part):
        plus, minus = _ends(part, winding)
        if is_turned(circuit, part, winding):
            plus, minus = minus, plus
        pins = {"plus": plus, "minus": minus}
        yield _part(stand_in(part.ref, winding), "source", pins, values), STANDS_FOR / ratio


def _primary(part: Part) -> Iterator[Part]:
    """What a primary is without an alternating source: its wire, and what isolates it.

    Without them whatever lies ahead of it, such as a fuse, would hang in the air.
    """
    start, end = part.pins["primary_start"], part.pins["primary_end"]
    wire = part.values["primary_resistance"].spread.typical
    ties = {"primary": (start, end, wire)}
    ties |= {
        f"{name} insulation": (end, part.pins[f"{name}_end"], 1.0 / INSULATION)
        for name in wired(part)
    }
    for name, (one, two, ohms) in ties.items():
        pins, values = {"one": one, "two": two}, {"resistance": _known("Ω", ohms)}
        yield _part(f"{SOURCE} {part.ref} {name}", "wire", pins, values)


def _known(unit: str, value: float) -> PartValue:
    return PartValue(Spread.exact(value), unit, "the need", False)


def _load(output: Output) -> Part:
    style = "constant-current"
    if output.load and all(load.kind == "resistive" for load in output.load):
        style = "resistive"
    pins = _pins(terminals(output))
    return _part(load_ref(output.name), "load", pins, {}, {"style": style})


def _feeding(output: Output, volts: float) -> Part:
    pins, values = _pins(terminals(output)), {"ceiling": _known("V", volts)}
    return _part(feeding_ref(output.name), "reverse-feeding-load", pins, values)


def _part(
    ref: str,
    kind: str,
    pins: Mapping[str, str],
    values: Mapping[str, PartValue],
    options: Mapping[str, str] | None = None,
) -> Part:
    return Part(ref, kind, kinds()[kind], pins, values, {}, options or {})
