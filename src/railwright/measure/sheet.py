"""The specification sheet of a built supply: what was measured beside what is promised."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from railwright.bench.reading import At
from railwright.circuit.design import Design
from railwright.measure.compared import Compared
from railwright.pages.drawing import PAGE, Form
from railwright.pages.figures import MAP_CAPTION, Mark, margin_map
from railwright.pages.plane import plane_of
from railwright.pages.sheet import Grid, Picture, Points, Section, Sheet, Words
from railwright.pages.specification import name_of, promised, specification
from railwright.prove.proof import Finding, Proof
from railwright.quantity import celsius, show

HEADS = ("", "at", "measured", "predicted", "typically", "", "meter, when")
WIDTHS = (1.2, 1.6, 0, 0, 0, 0, 1.2)
DIGITS = 4
DAY = len("2026-01-01")
"""Of a time, what is told."""
CAPTION = (
    "Squares: margins that were measured, full where they are as predicted; the map is predicted. "
)


def sheet(design: Design, proof: Proof, found: Sequence[Compared], form: Form = PAGE) -> Sheet:
    """The specification with what was measured, by which meter, when, and what stays predicted.

    form: of its figures, for a page or a file that is set on paper.
    """
    worst = {key: _told(each) for key, each in _worst(found).items()}
    more = [*_rows(found), *_maps(proof, found, form), _predicted(design, proof, worst)]
    return specification(design, proof, worst, more)


def _worst(found: Sequence[Compared]) -> Mapping[tuple[str, str], Compared]:
    """Of each question and rail what was measured nearest to the limit, or beyond it."""
    worst: dict[tuple[str, str], Compared] = {}
    for each in found:
        key = each.observed.id, each.observed.rail
        margin = each.margin
        if margin is None:
            continue
        known = worst.get(key)
        if known is None or known.margin is None or margin < known.margin:
            worst[key] = each
    return worst


def _told(each: Compared) -> str:
    seen = each.observed
    where = place(seen.at)
    return f"{read(each)}{f' at {where}' if where else ''}; {by(each)}"


def read(each: Compared) -> str:
    """What was measured, with the meter's accuracy."""
    seen = each.observed
    return f"{show(seen.value, seen.unit, DIGITS)} ± {show(seen.error, seen.unit, 2)}"


def by(each: Compared) -> str:
    """Which meter, and when."""
    told = [each.observed.meter, each.observed.taken[:DAY]]
    return ", ".join(text for text in told if text)


def place(at: At) -> str:
    """Where something was read, in words.

    >>> place(At(setting=5.0, load=0.5, ambient=298.15))
    '5 V, 500 mA, 25 °C'
    """
    told = [] if at.setting is None else [show(at.setting, "V")]
    told += [] if at.load is None else [show(at.load, "A")]
    told += [] if at.input is None else [f"input {show(at.input, 'V')}"]
    told += [] if at.ambient is None else [f"{celsius(at.ambient):.0f} °C"]
    return ", ".join(told)


def _rows(found: Sequence[Compared]) -> Iterator[Section]:
    for rail, several in groupby(sorted(found, key=_rail), _rail):
        rows = [row(each) for each in several]
        yield Section(f"Measured: {rail}", [Grid(HEADS, rows, WIDTHS)])


def _rail(each: Compared) -> str:
    return each.observed.rail


def row(each: Compared) -> tuple[str, ...]:
    """A comparison as a row of a table: name, place, read, predicted, typically, verdict, by."""
    seen, told = each.observed, each.expected
    head = (name_of(seen.id), place(seen.at), read(each))
    if told is None:
        return (*head, each.why, "", each.verdict, by(each))
    span = f"{show(told.low, seen.unit, DIGITS)} to {show(told.high, seen.unit, DIGITS)}"
    kept = {True: "", False: ", breaks the promise", None: ""}[each.is_kept]
    typical = show(told.nominal, seen.unit, DIGITS)
    return (*head, span, typical, f"{each.verdict}{kept}", by(each))


def _maps(proof: Proof, found: Sequence[Compared], form: Form) -> Iterator[Section]:
    pictures = []
    findings = {(f.id, f.subject): f for f in proof.findings}
    for number, (key, several) in enumerate(groupby(found, _question)):
        marks = [mark for each in several if (mark := _mark(each)) is not None]
        finding = findings.get(key)
        plane = None if finding is None else plane_of(finding)
        if finding is None or plane is None:
            continue
        shown = [mark for mark in marks if plane.axes.keys() <= mark.where.keys()]
        svg = margin_map(finding, f"measured-{number}", form, shown)
        if shown and svg:
            caption = f"{name_of(finding.id)}, {finding.subject}. {CAPTION}{MAP_CAPTION}"
            pictures.append(Picture(svg, caption, 0.7))
    if pictures:
        yield Section("Measured over predicted", pictures)


def _question(each: Compared) -> tuple[str, str]:
    return each.observed.id, each.observed.rail


def _mark(each: Compared) -> Mark | None:
    """What was measured as a mark on a map; None where it has no margin."""
    if each.margin is None:
        return None
    at, rail = each.observed.at, each.observed.rail
    axes = {
        f"output {rail}": at.setting,
        f"load {rail}": at.load,
        "input": at.input,
        "ambient": at.ambient,
    }
    where = {name: value for name, value in axes.items() if value is not None}
    return Mark(where, each.margin, each.verdict != "outside")


def _predicted(design: Design, proof: Proof, worst: Mapping[tuple[str, str], str]) -> Section:
    left = [
        _stays(finding)
        for output in design.need.output
        for finding in promised(proof, output.name)
        if (finding.id, finding.subject) not in worst
    ]
    if not left:
        return Section("Predicted alone", [Words("Nothing: every promise was measured.")])
    return Section("Predicted alone", [Words("Nothing was measured of:"), Points(left)])


def _stays(finding: Finding) -> str:
    return f"{name_of(finding.id)} of {finding.subject}: {finding.verdict}"
