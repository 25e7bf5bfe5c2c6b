"""The specification sheet: what the finished supply takes and gives, predicted at its worst."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from railwright.circuit.design import Design
from railwright.circuit.need import Input, Output
from railwright.circuit.tables import Range
from railwright.pages.sheet import Block, Caution, Grid, Points, Section, Sheet, Words
from railwright.pages.wording import place, value_and_limit
from railwright.prove.proof import Finding, Proof
from railwright.quantity import show

NAME = "Specification"
FAMILIES = ("output", "ripple", "noise", "transient", "overload")
"""Of questions whose answers are what a user of the supply has of it."""
NOTHING = 1e-6
"""Share of its limit below which a value is told as nil."""
HEADS = ("", "promised", "predicted at worst", "worst at", "measured")
_LEAD = "Predicted with every part at its unfavourable limit, over the whole operating range."
_OPEN = "What the proof could not tell, or did not look at, is promised to nobody:"
Measured = Mapping[tuple[str, str], str]
"""Id and subject of a finding -> what was measured, in words."""


def specification(
    design: Design, proof: Proof, measured: Measured | None = None, more: Sequence[Section] = ()
) -> Sheet:
    """What is promised, what is predicted, and what is measured, or room for it.

    more: sections to go before what is open.
    """
    sections = [
        Section("", [Words(f"Verdict of the proof: {proof.verdict}."), Caution(proof.cautions)]),
        Section("Takes", [Grid((), list(_takes(design)), (1, 2))]),
        *(_rail(output, proof, measured or {}) for output in design.need.output),
        *more,
        Section("Open", _open(proof)),
    ]
    return Sheet(design.title, NAME, sections, _LEAD)


def promised(proof: Proof, rail: str) -> list[Finding]:
    """What is promised of a rail and has a number."""
    own = [f for f in proof.findings if f.subject == rail and _family(f) in FAMILIES]
    return [f for f in own if f.value is not None and f.unit]


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


def _rail(output: Output, proof: Proof, measured: Measured) -> Section:
    gives = Grid((), list(_gives(output)), (1, 2))
    rows = [_row(f, measured) for f in promised(proof, output.name)]
    told = Grid(HEADS, rows, (1.4, 0, 0, 2, 1.6 if measured else 1))
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


def _row(finding: Finding, measured: Measured) -> Sequence[str]:
    value, limit = value_and_limit(_told(finding))
    row = (name_of(finding.id), limit, value, place(finding.where))
    told = measured.get((finding.id, finding.subject))
    return row if told is None else (*row, told)


def name_of(id: str) -> str:
    """What a question is called in a table of a rail's values.

    >>> name_of("ripple.output"), name_of("output.load-regulation")
    ('ripple', 'load regulation')
    """
    family, _, asked = id.partition(".")
    return family if asked == "output" else asked.replace("-", " ")


def _told(finding: Finding) -> Finding:
    """A finding with nil for a value that is nothing beside its limit: what solving left of it."""
    value, limit = finding.value, finding.limit
    if value is None or not limit or abs(value) > NOTHING * abs(limit):
        return finding
    return replace(finding, value=0.0)


def _open(proof: Proof) -> Sequence[Block]:
    unproven = [
        f"{f.subject}: {f.question} {f.because}" for f in proof.ledger if f.verdict == "not proven"
    ]
    items = [*unproven, *proof.not_asked]
    return [Words(_OPEN), Points(items)] if items else [Words("Nothing.")]
