"""What stands on a sketch: pins and catalogue parts of its tables, nets that the input feeds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from railwright.architectures.architecture import Rectified, Sketch, Task, Unserved
from railwright.catalogue.entry import Entry
from railwright.circuit.writer import NewTable

LEADS = "fuse", "wire", "terminal", "ntc-thermistor"
"""Kinds of parts through which an input feeds what lies behind them, diodes beside them."""
AHEAD = "input", "mains", "taps"
"""Blocks of what feeds a reservoir."""


def pins_of(part: NewTable) -> Mapping[str, str]:
    """Pins of a part -> nets."""
    pins = part["pins"]
    assert isinstance(pins, Mapping)
    return pins


def entry_of(task: Task, part: NewTable) -> Entry:
    """What it is in the catalogue."""
    return task.catalogue[str(part["use"])]


def fed_nets(task: Task, sketch: Sketch) -> set[str]:
    """The upper net of the input, and those that it feeds through fuses, diodes and leads."""
    fed = {task.fed.plus}
    for _ in sketch.parts:
        for part in sketch.parts:
            pins = pins_of(part)
            if part["kind"] == "diode" and pins["anode"] in fed:
                fed |= {pins["cathode"]}
            elif part["kind"] in LEADS and fed & set(pins.values()):
                fed |= set(pins.values())
    return fed


def reservoirs(task: Task, sketch: Sketch) -> Iterator[NewTable]:
    """Capacitors on these nets."""
    fed = fed_nets(task, sketch)
    for part in sketch.parts:
        if part["kind"] == "capacitor" and fed & set(pins_of(part).values()):
            yield part


def fuse_of(task: Task, sketch: Sketch) -> NewTable | None:
    """The fuse at the input; None where there is none."""
    fuses = (part for part in sketch.parts if part["kind"] == "fuse")
    return next((part for part in fuses if task.fed.plus in pins_of(part).values()), None)


def behind_fuse(task: Task, sketch: Sketch) -> str:
    """The net behind that, or that of the input where there is none."""
    fuse = fuse_of(task, sketch)
    ends = set() if fuse is None else set(pins_of(fuse).values()) - {task.fed.plus}
    return next(iter(ends), task.fed.plus)


def reservoir_of(sketch: Sketch, *, below: bool) -> Rectified:
    """The reservoir behind a transformer that feeds a rail; Unserved where there is none.

    below: whether the rail lies below another one.
    """
    if not sketch.rectified:
        raise Unserved("behind its transformer is no reservoir on which a guard could live")
    return sketch.rectified[-1 if below else 0]


def rectified(sketch: Sketch) -> set[str]:
    """Nets at both ends of rectifiers."""
    return {
        pins_of(part)[pin]
        for part in sketch.parts
        if part["kind"] == "bridge-rectifier"
        for pin in ("plus", "minus")
    }


def behind_reservoir(sketch: Sketch, raw: str) -> list[tuple[str, str]]:
    """Refs and pins on the net of a reservoir that belong to what it feeds."""
    return [
        (str(part["ref"]), pin)
        for part in sketch.parts
        if part["block"] not in AHEAD
        for pin, net in pins_of(part).items()
        if net == raw
    ]
