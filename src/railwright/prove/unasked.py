"""What a proof did not look at although the need speaks of it, and the cautions it calls for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from railwright.checks.output import DEFAULT_ACCURACY, LEAST_SHARE
from railwright.circuit.circuit import Part
from railwright.circuit.design import Design
from railwright.circuit.need import LetThrough, Output, Overload
from railwright.quantity import show
from railwright.surveys.cycles import clocks
from railwright.surveys.operating_range import goes_to_nothing, settings_of

EXTRA_LOW = 60.0
"""V DC; above it a touch can hurt: dry conditions, IEC 61140 (from memory)."""
STORED_ENERGY = 0.5
"""J; a capacitor that holds more gives a spark that hurts eyes and meters (common practice)."""


def not_asked(design: Design) -> list[str]:
    """Demands of the need, and controls, that no check covers yet, in the file's order."""
    found = []
    alternates = design.need.input.kind == "ac"
    ripples = bool(clocks(design.circuit)) or alternates
    for output in design.need.output:
        found += [f"{output.name}: {text}" for text in _of_output(output, ripples)]
    if alternates and design.need.input.limit is not None:
        found.append("input: what the source does when it is overloaded")
    boxed = any(part.kind == "enclosure" for part in design.circuit.parts)
    if design.need.surroundings.touch_limit is not None and design.enclosure and not boxed:
        found.append("touch temperature of the box: no part of the kind enclosure tells its warmth")
    found += [
        f"{control.rail}: less current than {control.part} lets through at its end"
        for control in design.controls
        if control.quantity == "current"
    ]
    found.append("parts that do not belong on a switching net")
    limited = any(_limit(output) for output in design.need.output)
    if limited and any(ENDS & _roles(part) for part in design.circuit.parts):
        told = "peaks of current in transistors in a short circuit: their warmth alone is told"
        found.append(told)
    if any(_roles(part) >= COMPARED for part in design.circuit.parts):
        told = "what inputs of amplifiers and comparators see beyond their supplies for a moment"
        found.append(f"{told}, in a short circuit or when the input goes away")
    return found


ENDS = {"collector", "drain"}
"""Roles of pins that transistors have."""
COMPARED = {"plus", "minus"}
"""Roles of the inputs that amplifiers and comparators have."""


def _roles(part: Part) -> set[str]:
    return {pin.role for pin in part.device.pins.values()}


def _limit(output: Output) -> Overload | None:
    """What an output does when it is overloaded; None where the need says nothing, or none."""
    found = output.overload
    return None if found is None or found.style == "none" else found


LOOKED_AT = ("resistive", "constant-current")
"""Kinds of load that the checks put on a rail."""


def _of_output(output: Output, ripples: bool) -> list[str]:
    demands = {
        "ripple, of whatever feeds it: nothing in it switches": None if ripples else output.ripple,
        "spikes in 20 MHz: left to measurement, since they depend on the layout": output.spikes,
    }
    found = [text for text, value in demands.items() if value is not None]
    if goes_to_nothing(output):
        found += _near_nothing(output)
    others = [load.kind for load in output.load if load.kind not in LOOKED_AT]
    if others:
        found.append(f"loads of the kind {', '.join(others)}: looked at as constant current")
    limit = _limit(output)
    if limit is not None and limit.let_through == LetThrough():
        found.append("what a short circuit lets through: the need allows any peak and heat")
    if output.brought is None:
        found.append("a load that is charged when it is connected: none says what it brings along")
    if all(load.inductance is None for load in output.load):
        found.append("a coil that goes on taking its current: no load says its inductance")
    if output.reference != "common with input":
        found.append(f"whether the rail is {output.reference}")
    return found


def _near_nothing(output: Output) -> Iterator[str]:
    """What the questions leave out of a rail that goes down to 0 V."""
    lowest, highest = settings_of(output)
    yield f"settings below {show(lowest, 'V')}, but for what its control reaches at its stop"
    tenth = LEAST_SHARE * highest
    off = (output.accuracy or DEFAULT_ACCURACY) * tenth
    yield f"whether it is less than {show(off, 'V')} off where it is set below {show(tenth, 'V')}"


def cautions(design: Design) -> list[str]:
    """What can hurt somebody who builds or uses this supply, or the parts in it."""
    return [*general(design), *cautions_of(design.circuit.parts, design.need.input.voltage.max)]


def general(design: Design) -> list[str]:
    """What can hurt somebody who builds or uses this supply, whatever is in it."""
    need = design.need
    found = []
    if need.input.kind == "ac" or need.input.voltage.max > EXTRA_LOW:
        found.append(
            "The input can kill. Local codes and licensed practice come first: have mains work "
            "done or checked by somebody who is allowed to."
        )
    if max(output.voltage.max for output in need.output) > EXTRA_LOW:
        found.append("An output is above extra-low voltage: guard the terminals against touch.")
    if need.input.kind == "battery":
        found.append(
            "A battery feeds a short circuit for as long as it lasts: fuse it at its pole."
        )
    found.append(
        "Feed a new board from a source with a current limit, and clip a scope's earth only to "
        "a point that is at earth."
    )
    return found


def cautions_of(parts: Sequence[Part], voltage: float) -> list[str]:
    """What can hurt somebody who handles parts that see up to a voltage [V], or the parts."""
    found = []
    if any(part.kind == "heat-sink" for part in parts):
        found.append("Heat sinks get hot in use: let them cool before you touch them.")
    held = [
        part.ref
        for part in parts
        if part.kind == "capacitor" and _stored(part, voltage) > STORED_ENERGY
    ]
    if held:
        found.append(f"Charge stays in {', '.join(held)} after switching off: discharge first.")
    return [*found, *_warnings(parts)]


def _stored(part: Part, voltage: float) -> float:
    """Energy in a capacitor [J], which has no more across it than the input or its rating."""
    across = min(voltage, part.ratings.get("rated_voltage", np.inf))
    return float(0.5 * part.values["capacitance"].spread.high * across**2)


def _warnings(parts: Iterable[Part]) -> Iterator[str]:
    """What the catalogue warns of, once for all parts that it is told of."""
    warned = dict[str, list[str]]()
    for part in parts:
        if part.warning:
            warned.setdefault(part.warning, []).append(part.ref)
    for warning, refs in warned.items():
        yield f"{', '.join(refs)}: {warning}."
