"""Assembly, bring-up and calibration: in which order, what to measure, what has to be read."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from railwright.bench.steps import connecting, feeds, fitting, knobs, state_of
from railwright.circuit.circuit import Circuit, Part
from railwright.circuit.design import Design
from railwright.circuit.schema import Control
from railwright.make.connections import End
from railwright.make.document import Document, Job
from railwright.pages.sheet import Block, Caution, Grid, Points, Section, Sheet, Words
from railwright.pages.wording import told_apart
from railwright.prove.unasked import EXTRA_LOW, cautions_of, general
from railwright.quantity import show
from railwright.surveys.stages import BringUp, Rest, Stage, bring_up
from railwright.surveys.unpowered import MOST, OPEN, Resistance, resistances
from railwright.surveys.windows import Window

LOW_FIRST = (
    "wire",
    "resistor",
    "diode",
    "zener",
    "capacitor",
    "inductor",
    "potentiometer",
)
"""Kinds by height: the flat ones go in first, while the board still lies flat (common practice, no
source); all others follow, and what is cooled comes last."""
RESOLUTION = 1e-3
"""V that a usual multimeter resolves on its ranges; readings below it are told as that."""
_LEAD = (
    "Windows hold for typical to extreme parts at 25 °C with a meter of 10 MΩ; the meter's own "
    "error comes on top. A stage was solved, and found stable and within its ratings, before it is "
    "asked for."
)
_BEFORE = (
    "Look at every joint with a glass: no bridge, no ball of solder, no joint left out.",
    "Hold the board against the connection list: every net, pin by pin.",
    f"Measure these with an ohmmeter (about {OPEN} V open), nothing connected, once it rests. "
    "Much less than the least points to a short circuit or a part the wrong way round; more says "
    "little, since nobody publishes what integrated circuits take below their least supply.",
)
ON_THE_WAY = ("heat-sink", "insulator", "enclosure")
"""Kinds through which heat is led on."""
_TABS = "Between tabs and what cools them, and from there to the metal of the box:"
_BARE = "there is one: the sink has the potential of the tab; keep it off the box"
_EACH = (
    "Set voltage and current limit of the bench source before it is connected; connect it last.",
    "Where the limit acts, something smells or warms up at once: off, and look.",
    "Switch off and let capacitors empty before parts are fitted.",
)


class BringingUp(Document):
    """From the bare board to the calibrated supply."""

    name = "Assembly, bring-up and calibration"
    place = 50

    def sheet(self, job: Job) -> Sheet:
        design = job.design
        found = bring_up(design)
        sections = [
            Section("", [Caution([*general(design), *_EACH])]),
            _unpowered(design),
            *(_stage(design, stage, n) for n, stage in enumerate(found.stages, 1)),
            *_refused(found),
            *_mains(design, found),
            *_calibration(design),
        ]
        return Sheet(design.title, self.name, sections, _LEAD)


def _unpowered(design: Design) -> Section:
    blocks: list[Block] = [Points(_BEFORE, numbered=True)]
    rows = [_ohms(each) for each in resistances(design, across=True)]
    blocks.append(Grid(("red lead", "black lead", "at least", "typical", "read"), rows, (1,) * 5))
    tabs = list(_tabs(design.circuit))
    if tabs:
        blocks.append(Words(_TABS))
        titles = ("tab or case of", "by way of", "to", "connection", "read")
        blocks.append(Grid(titles, tabs, (0.9, 1.7, 1.3, 2, 1)))
    marked = [(p.ref, p.use or p.kind, _ends(p)) for p in design.circuit.parts if p.order]
    if marked:
        heads = ("ref", "part", "which end goes where")
        blocks.append(Grid(heads, marked, (0, 1.5, 3)))
    return Section("Stage 0, without power", blocks)


def _tabs(circuit: Circuit) -> Iterator[Sequence[str]]:
    """What leads heat to a heat sink: whether it may lead current as well."""
    for part in circuit.parts:
        for pin in part.pins:
            if part.kind in ON_THE_WAY or pin != "case":
                continue
            for layers, sink in _ways_to_sinks(circuit, part.pins[pin]):
                told = ", ".join(f"{each.ref} {each.use}".strip() for each in layers)
                none = f"none, where {layers[0].ref} insulates" if layers else _BARE
                yield part.ref, told, f"{sink.ref}, and the case", none


def _ways_to_sinks(circuit: Circuit, net: str) -> Iterator[tuple[tuple[Part, ...], Part]]:
    """Layers and the sink behind them, from a thermal net."""
    pending: list[tuple[str, tuple[Part, ...]]] = [(net, ())]
    while pending:
        here, layers = pending.pop()
        for other, pin in circuit.on_net(here):
            if other.kind == "heat-sink" and pin == "face":
                yield layers, other
            elif other.kind == "insulator" and other not in layers:
                far = [n for p, n in other.pins.items() if p != pin]
                pending += [(n, (*layers, other)) for n in far]


def _ohms(found: Resistance) -> Sequence[str]:
    window = found.window
    return found.red, found.black, _resistance(window.low), _resistance(window.typical)


def _resistance(ohms: float) -> str:
    return show(ohms, "Ω", 2) if math.isfinite(ohms) else f"over {show(MOST, 'Ω')}"


def _ends(part: Part) -> str:
    ends = [End(net, part, pin) for pin, net in part.pins.items() if pin in part.order]
    return ", ".join(f"{end.pin} ({end.terminal}) to {end.net}" for end in ends)


def _stage(design: Design, stage: Stage, number: int) -> Section:
    told = cautions_of_stage(design, stage)
    fitted = sorted((design.circuit.part(ref) for ref in stage.refs), key=_height)
    steps = [
        *fitting(stage, [part.ref for part in fitted]),
        *connecting(stage),
        *knobs(design, stage),
        f"Black lead on {stage.common}. Measure:",
    ]
    blocks: list[Block] = [Caution(told)] if told else []
    blocks.append(Points(steps, numbered=True))
    if len(stage.rests) > 1:
        blocks.append(Words(_either(stage)))
    for rest in stage.rests:
        if len(stage.rests) > 1:
            blocks.append(Words(f"Where it rests with {state_of(rest)}:"))
        blocks.append(_readings(design, stage, rest))
    return Section(f"Stage {number}: {stage.name}", blocks)


def cautions_of_stage(design: Design, stage: Stage) -> list[str]:
    """What can hurt somebody in a stage, or the parts that are fitted in it."""
    volts = max((feed.volts for feed in stage.feeds), default=0.0)
    found = cautions_of([design.circuit.part(ref) for ref in stage.refs], volts)
    if volts > EXTRA_LOW:
        found.insert(0, f"Fed with {show(volts, 'V')}, more than extra-low voltage: touch nothing.")
    return found


def _height(part: Part) -> tuple[int, bool]:
    low = LOW_FIRST.index(part.kind) if part.kind in LOW_FIRST else len(LOW_FIRST)
    return low, "case" in part.pins


def _either(stage: Stage) -> str:
    count = len(stage.rests)
    return f"It may come up in either of {count} states; what is read has to be all of one of them."


def _readings(design: Design, stage: Stage, rest: Rest) -> Grid:
    rows = [
        (net, *_volts(window), _suspects(design, stage, rest, net), "")
        for net, window in rest.volts.items()
    ]
    for feed in feeds(stage):
        window = rest.amperes[feed.ref]
        at_most = f"at most {show(window.high, 'A', 2)}"
        rows.append((f"current from {feed.plus}", at_most, show(window.typical, "A", 2), "", ""))
    heads = ("red lead on", "window", "typical", "suspect, if outside", "read")
    return Grid(heads, rows, (0, 0, 0, 2, 1))


def _volts(window: Window) -> tuple[str, str]:
    low, high = _resolved(window.low, math.floor), _resolved(window.high, math.ceil)
    if low == high:
        return show(low, "V", 4), show(_resolved(window.typical, round), "V", 4)
    texts = told_apart([low, high], "V")
    return " to ".join(texts), show(_resolved(window.typical, round), "V", 4)


def _resolved(volts: float, towards: object) -> float:
    assert callable(towards)
    return float(towards(volts / RESOLUTION) * RESOLUTION)


def _suspects(design: Design, stage: Stage, rest: Rest, net: str) -> str:
    """New parts on a net, and parts whose values move its reading most."""
    new = [part.ref for part, _ in design.circuit.on_net(net) if part.ref in stage.refs]
    return ", ".join(dict.fromkeys([*new, *rest.movers.get(net, ())]))


def _refused(found: BringUp) -> Iterator[Section]:
    if found.refused:
        told = f"Not asked for, since it does not stand: {found.refused}."
        yield Section("No further", [Words(told)])


def _mains(design: Design, found: BringUp) -> Iterator[Section]:
    if design.need.input.kind != "ac" or found.refused:
        return
    steps = [
        "Connect the secondary, fit the fuse, close the box as far as the leads of a meter let it.",
        "First through a lamp in series, or a variable transformer, behind a residual-current "
        "device: the lamp lights up and goes out.",
        "Then without. The readings of the last stage have to come again, with ripple.",
    ]
    caution = Caution(["The input can kill. Local codes and licensed practice come first."])
    yield Section("With the mains", [caution, Points(steps, numbered=True)])


def _calibration(design: Design) -> Iterator[Section]:
    trims = [control for control in design.controls if control.role == "trim"]
    if trims:
        yield Section("Calibration", [Points([_trim(each) for each in trims], numbered=True)])


def _trim(control: Control) -> str:
    said = control.calibration
    assert said is not None  # a trim has one
    conditions = [
        f"load {show(said.load, 'A')}" if said.load is not None else "half load",
        f"input {show(said.input, 'V')}" if said.input is not None else "nominal input",
        f"air {show(said.ambient, '°C')}" if said.ambient is not None else "air 25 °C",
    ]
    volts, amperes = said.voltage, said.current
    wanted = show(volts, "V", 4) if volts is not None else show(amperes or 0.0, "A", 4)
    return (
        f"{control.part}: {control.rail} to {wanted} at {', '.join(conditions)}, a quarter of an "
        "hour after switching on."
    )
