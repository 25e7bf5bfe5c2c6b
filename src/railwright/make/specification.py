"""The specification sheet: what the finished supply takes and gives, predicted at its worst."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import ClassVar

from railwright.circuit.design import Design
from railwright.circuit.need import Input, Output
from railwright.circuit.tables import Range
from railwright.make.document import Document, Job
from railwright.pages.sheet import Block, Caution, Grid, Points, Section, Sheet, Words
from railwright.pages.wording import place, value_and_limit
from railwright.prove.proof import Finding, Proof
from railwright.quantity import show

FAMILIES = ("output", "ripple", "noise", "transient", "overload")
"""Of questions whose answers are what a user of the supply has of it."""
HEADS = ("", "promised", "predicted at worst", "worst at", "measured")
_LEAD = "Predicted with every part at its unfavourable limit, over the whole operating range."
_OPEN = "What the proof could not tell, or did not look at, is promised to nobody:"


class Specification(Document):
    """What is promised, what is predicted, and room for what is measured."""

    name = "Specification"
    place: ClassVar[int] = 10

    def sheet(self, job: Job) -> Sheet:
        design, proof = job.design, job.proof
        sections = [
            Section(
                "", [Words(f"Verdict of the proof: {proof.verdict}."), Caution(proof.cautions)]
            ),
            Section("Takes", [Grid((), list(_takes(design)), (1, 2))]),
            *(_rail(output, proof) for output in design.need.output),
            Section("Open", _open(proof)),
        ]
        return Sheet(design.title, self.name, sections, _LEAD)


def _takes(design: Design) -> Iterator[tuple[str, str]]:
    source, air = design.need.input, design.need.surroundings.ambient
    yield "input", f"{_kind(source)}, {_range(source.voltage, 'V')}"
    if source.frequency is not None:
        yield "frequency", _range(source.frequency, "Hz")
    yield "resistance of the source, up to", show(source.resistance, "Ω")
    if source.limit is not None:
        yield "limit of the source", f"{show(source.limit.current, 'A')}, {source.limit.style}"
    yield "air around it", _range(air, "°C")


def _kind(source: Input) -> str:
    return {"dc": "direct", "ac": "alternating, rms", "battery": "battery"}[source.kind]


def _range(found: Range, unit: str) -> str:
    if found.min == found.max:
        return show(found.min, unit)
    return f"{show(found.min, unit)} to {show(found.max, unit)}"


def _rail(output: Output, proof: Proof) -> Section:
    own = [f for f in proof.findings if f.subject == output.name and _family(f) in FAMILIES]
    numbers = [f for f in own if f.value is not None and f.unit]
    gives = Grid((), list(_gives(output)), (1, 2))
    told = Grid(HEADS, [_row(f) for f in numbers], (1.4, 0, 0, 2, 1))
    return Section(f"Gives: {output.name}", [gives, told])


def _family(finding: Finding) -> str:
    return finding.id.partition(".")[0]


def _gives(output: Output) -> Iterator[tuple[str, str]]:
    yield "voltage", _range(output.voltage, "V")
    yield "current", _range(output.current, "A")
    yield "reference", output.reference
    overload = output.overload
    if overload is not None and overload.style != "none":
        carried = show(overload.carry or 0.0, "A")
        yield "overload", f"{overload.style}: carries {carried}, acts by {_acts(output)}"
    if output.never_above is not None:
        yield "never above", show(output.never_above, "V")
    if output.panel.meter is not None:
        yield "meter", output.panel.meter
    if output.panel.switch:
        yield "switch", "takes it off its terminals"


def _acts(output: Output) -> str:
    assert output.overload is not None
    return show(output.overload.act_by or 0.0, "A")


def _row(finding: Finding) -> Sequence[str]:
    value, limit = value_and_limit(finding)
    family, _, asked = finding.id.partition(".")
    name = family if asked == "output" else asked.replace("-", " ")
    return name, limit, value, place(finding.where)


def _open(proof: Proof) -> Sequence[Block]:
    unproven = [
        f"{f.subject}: {f.question} {f.because}" for f in proof.ledger if f.verdict == "not proven"
    ]
    items = [*unproven, *proof.not_asked]
    return [Words(_OPEN), Points(items)] if items else [Words("Nothing.")]
