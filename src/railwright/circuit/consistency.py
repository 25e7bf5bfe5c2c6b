"""What must agree between the tables of a design file: names that are used, limits in order."""

from __future__ import annotations

from railwright.circuit.circuit import is_thermal
from railwright.circuit.lookup import Lookup
from railwright.circuit.names import AIR
from railwright.circuit.need import Output, Overload
from railwright.circuit.schema import Control, Document, Stage
from railwright.devices import kinds
from railwright.files.complaints import Complaints
from railwright.files.locate import KeyPath
from railwright.files.mistakes import nearest
from railwright.quantity import show


def complain_of_contradictions(document: Document, complaints: Complaints) -> None:
    """Complain of every name that is not there and of every demand at odds with another."""
    names = Lookup(document, complaints)
    _input(document, names)
    for index, output in enumerate(document.need.output):
        _output(output, ("need", "output", index), names)
    for index, control in enumerate(document.control):
        _control(control, ("control", index), names)
    for index, stage in enumerate(document.stage):
        _stage(stage, ("stage", index), names)
    _fitted_once(document, complaints)
    _panel(document, names)
    _nets_of_one_kind(document, complaints)
    names.unique("ref", "part", [part.ref for part in document.part])
    names.unique("name", "need.output", [output.name for output in document.need.output])
    names.unique("name", "stage", [stage.name for stage in document.stage])


def _input(document: Document, names: Lookup) -> None:
    source, path = document.need.input, ("need", "input")
    names.terminals(source.nets, (*path, "nets"))
    if source.kind == "ac" and source.frequency is None:
        text = 'frequency is missing. Write frequency = { min = "47 Hz", max = "63 Hz" }.'
        names.complaints.value((*path, "frequency"), text)
    if source.kind in ("dc", "battery") and source.frequency is not None:
        text = f"a {source.kind} input has no frequency. Leave it out, or write ac."
        names.complaints.value((*path, "frequency"), text)


def _output(output: Output, path: KeyPath, names: Lookup) -> None:
    names.terminals(output.nets, (*path, "nets"))
    complain = names.complaints.value
    highest = output.voltage.max
    if output.never_above is not None and output.never_above < highest:
        found, wanted = show(output.never_above, "V"), show(highest, "V")
        text = f"never_above {found} lies below the voltage's max {wanted}. Correct one of them."
        complain((*path, "never_above"), text)
    if output.load_step is not None:
        for key, current in (("from", output.load_step.from_), ("to", output.load_step.to)):
            if current < output.current.min or current > output.current.max:
                bounds = f"{show(output.current.min, 'A')} to {show(output.current.max, 'A')}"
                text = f"{show(current, 'A')} lies outside the output's current, {bounds}."
                complain((*path, "load_step", key), text)
        if output.load_step.from_ == output.load_step.to:
            complain((*path, "load_step"), "from and to are the same. A step needs two currents.")
    if output.overload is not None:
        _overload(output.overload, output, (*path, "overload"), names.complaints)


def _overload(overload: Overload, output: Output, path: KeyPath, complaints: Complaints) -> None:
    given = {"carry": overload.carry, "act_by": overload.act_by}
    for key, current in given.items():
        if overload.style == "none" and current is not None:
            complaints.value((*path, key), f"style none has no {key}. Leave it out.")
        if overload.style not in ("none", "") and current is None:
            text = f'{key} is missing. Write {key} = "1.2 A", or style = "none".'
            complaints.value((*path, key), text)
    carry, act_by = overload.carry, overload.act_by
    if carry is not None and carry < output.current.max:
        most = show(output.current.max, "A")
        text = f"carry {show(carry, 'A')} lies below the output's max {most}. Raise it."
        complaints.value((*path, "carry"), text)
    if carry is not None and act_by is not None and act_by < carry:
        text = f"act_by {show(act_by, 'A')} lies below carry {show(carry, 'A')}. Raise it."
        complaints.value((*path, "act_by"), text)


def _control(control: Control, path: KeyPath, names: Lookup) -> None:
    part = names.part(control.part, (*path, "part"))
    output = names.rail(control.rail, (*path, "sets"))
    if part is not None and part.kind and control.value:
        inputs = kinds()[part.kind].inputs
        if control.value not in inputs:
            text = f'{part.ref}, a {part.kind}, has no input "{control.value}" to set.'
            names.complaints.value((*path, "value"), f"{text} {nearest(control.value, inputs)}")
    _calibration(control, output, path, names.complaints)


def _calibration(
    control: Control, output: Output | None, path: KeyPath, complaints: Complaints
) -> None:
    point, here = control.calibration, (*path, "calibration")
    if control.role == "set" and point is not None:
        complaints.value(here, "only a trim control has a calibration. Leave it out.")
    if control.role != "trim" or not control.sets:
        return
    wanted = "voltage" if control.quantity == "voltage" else "current"
    target = None if point is None else getattr(point, wanted)
    if target is None:
        example = "5 V" if wanted == "voltage" else "1 A"
        text = f'a trim control is set to a stated {wanted}. Write {wanted} = "{example}"'
        complaints.value(here, f"{text} in the table calibration.")
    elif output is not None:
        bounds = getattr(output, wanted)
        if target < bounds.min or target > bounds.max:
            complaints.value((*here, wanted), f"this lies outside the output's {wanted}.")


def _stage(stage: Stage, path: KeyPath, names: Lookup) -> None:
    for index, ref in enumerate(stage.parts):
        names.part(ref, (*path, "parts", index))
    names.net(stage.supply.net, (*path, "supply", "net"))
    for index, net in enumerate(stage.measure):
        names.net(net, (*path, "measure", index))


def _fitted_once(document: Document, complaints: Complaints) -> None:
    fitted: set[str] = set()
    for number, stage in enumerate(document.stage):
        for index, ref in enumerate(stage.parts):
            if ref and ref in fitted:
                path = ("stage", number, "parts", index)
                complaints.value(path, f"{ref} is fitted before already. Name it once.")
            fitted.add(ref)


def _panel(document: Document, names: Lookup) -> None:
    for index, item in enumerate(document.panel):
        path = ("panel", index)
        if item.net is not None:
            names.net(item.net, (*path, "net"))
        if item.part is not None:
            names.part(item.part, (*path, "part"))
        if document.enclosure is None:
            continue
        edges = (("width", document.enclosure.width), ("height", document.enclosure.height))
        for axis, (place, (edge, size)) in enumerate(zip(item.at, edges, strict=False)):
            if place > size:
                text = f"{show(place, 'm')} lies beyond the panel's {edge} {show(size, 'm')}."
                names.complaints.value((*path, "at", axis), text)


def _nets_of_one_kind(document: Document, complaints: Complaints) -> None:
    """Complain of pins whose net carries heat where they carry current, or the reverse."""
    first: dict[str, tuple[bool, str]] = {AIR: (True, "the air")}
    for index, part in enumerate(document.part):
        for pin, net in part.pins.items():
            if not net:
                continue
            thermal = is_thermal(kinds()[part.kind], pin)
            kind, whose = first.setdefault(net, (thermal, f"{part.ref}.{pin}"))
            if kind != thermal:
                here, there = ("thermal", "electrical") if thermal else ("electrical", "thermal")
                text = f'{pin} is {here}, but the net "{net}" is {there} at {whose}. Part them.'
                complaints.value(("part", index, "pins", pin), text)
