"""A proof on paper: A4 as PDF, from the same results and in the same words as the page."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from railwright.pages import wording
from railwright.pages.binding import BINDING_CAPTION, bindings
from railwright.pages.binding_map import binding_map
from railwright.pages.curve_figures import curve_figures
from railwright.pages.drawing import FILE
from railwright.pages.fault_table import HEADS, LEAD, fault_cells
from railwright.pages.figures import (
    MAP_CAPTION,
    MOST_FIGURES,
    margin_map,
    sample_histogram,
    samples_caption,
)
from railwright.pages.paper import breakable, compiled, parted
from railwright.pages.whole_file import write_whole
from railwright.prove.proof import SEVERITIES, WORST_FIRST, Finding, Proof, Verdict

POINTS = 72.0
"""In an inch."""


def write_printed(proof: Proof, path: Path) -> None:
    """Write the report as PDF, whole or not at all. OSError where it cannot be written."""
    write_whole(path, printed(proof))


def printed(proof: Proof) -> bytes:
    """The PDF; the same proof gives the same bytes."""
    template = files("railwright.pages").joinpath("report.typ").read_bytes()
    return compiled(template, {"proof": json.dumps(breakable(_content(proof)))})


def _content(proof: Proof) -> dict[str, Any]:
    """What the template lays out: texts as they are read, and figures as SVG."""
    findings = proof.ledger
    return {
        "title": wording.printable(proof.design),
        "verdict": _verdict(proof.verdict),
        "counts": wording.counts(findings),
        "took": wording.took(proof),
        "unproven": [
            {"title": _title(f), "because": wording.printable(f.because)}
            for f in wording.of_verdict(proof, "not proven")
        ],
        "not_asked": [wording.printable(each) for each in proof.not_asked],
        "cautions": [wording.printable(each) for each in proof.cautions],
        "ledger": [_row(finding, number) for number, finding in enumerate(findings, 1)],
        "binding": list(_binding(findings)),
        "findings": [
            _finding(finding, number)
            for number, finding in enumerate(findings, 1)
            if _is_told(finding, number)
        ],
        "map_caption": MAP_CAPTION,
        "faults": {
            "lead": LEAD,
            "heads": HEADS,
            "rows": [
                [parted(_unbroken(text), 12) for text in r] for r in fault_cells(proof.faults)
            ],
            "meanings": list(SEVERITIES.items()),
        },
        "assumptions": [
            {"text": wording.printable(text), "findings": numbers}
            for text, numbers in wording.assumptions(findings).items()
        ],
        "words": [[_verdict(each), wording.MEANINGS[each]] for each in WORST_FIRST],
    }


def _is_told(finding: Finding, number: int) -> bool:
    """Whether more is printed of a finding than its row in the ledger."""
    return number <= MOST_FIGURES or finding.verdict != "holds" or bool(finding.curves)


def _verdict(verdict: Verdict) -> dict[str, str]:
    return {"kind": verdict, "glyph": wording.GLYPHS[verdict]}


def _title(finding: Finding) -> str:
    return wording.printable(f"{finding.subject}: {finding.question}")


def _row(finding: Finding, number: int) -> dict[str, Any]:
    value, limit = wording.value_and_limit(finding)
    return {
        "number": number,
        "told": _is_told(finding, number),
        "verdict": _verdict(finding.verdict),
        "reserve": wording.percent(finding.reserve),
        "bar": None if finding.reserve is None else max(-1.0, min(1.0, finding.reserve)),
        "subject": wording.printable(finding.subject),
        "question": wording.printable(finding.question),
        "value": value,
        "limit": limit,
        "place": _unbroken(wording.place(finding.where)),
    }


def _unbroken(text: str) -> str:
    """A text that does not break between a number and its unit."""
    return re.sub(r"(?<=\d) (?=\S)", "\N{NO-BREAK SPACE}", text)


def _finding(finding: Finding, number: int) -> dict[str, Any]:
    shares = finding.causes if wording.has_spread(finding) else ()
    return {
        **_row(finding, number),
        "because": wording.printable(finding.because),
        "facts": [[label, text] for label, text in _facts(finding) if text],
        "causes": [
            {"name": wording.printable(f"{each.part} {each.value}"), "share": each.share}
            for each in shares
            if not each.instead
        ],
        "figures": _in_columns(list(_figures(finding, number))),
    }


def _facts(finding: Finding) -> Iterator[tuple[str, str]]:
    if finding.value is not None:
        judged = ", ".join(filter(None, wording.value_and_limit(finding)))
        reserve = wording.percent(finding.reserve)
        yield "Value", f"{judged}; margin {wording.margin(finding)}, reserve {reserve}"
        yield "Worst at", wording.place(finding.where)
    if finding.passing:
        yield "Yield", wording.passing(finding.passing)
    yield "Likely mistake", wording.mistakes(finding)
    yield "Remedy", wording.remedies(finding)
    if not wording.has_spread(finding):
        yield "Causes", wording.causes(finding)
    yield "Assumed", wording.printable(", ".join(finding.assumed))
    yield "Looked at", wording.looked(finding.looked)
    yield "Source", wording.printable(finding.source)


def _figures(finding: Finding, number: int) -> Iterator[dict[str, Any]]:
    for title, svg in curve_figures(finding, f"curves-{number}", FILE):
        yield _figure(svg, wording.printable(title))
    if number > MOST_FIGURES and finding.verdict == "holds":
        return
    if svg := margin_map(finding, f"map-{number}", FILE):
        yield _figure(svg, "Margin over the operating range.")
    if svg := sample_histogram(finding, f"samples-{number}", FILE):
        yield _figure(svg, samples_caption(finding))


def _figure(svg: str, caption: str) -> dict[str, Any]:
    """A figure with its caption, and its size in inches: all are drawn on one scale."""
    found = re.search(r'width="([\d.]+)pt" height="([\d.]+)pt"', svg)
    assert found is not None
    width, height = (float(points) / POINTS for points in found.groups())
    return {"svg": svg, "caption": caption, "width": width, "height": height}


def _in_columns(figures: Sequence[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Figures in two columns of about the same height, each in the one that ends first."""
    columns: list[list[dict[str, Any]]] = [[], []]
    for figure in figures:
        min(columns, key=lambda column: sum(f["height"] for f in column)).append(figure)
    return [column for column in columns if column]


def _binding(findings: Sequence[Finding]) -> Iterator[dict[str, Any]]:
    for rail, found in bindings(findings).items():
        yield {
            "rail": wording.printable(rail),
            "svg": binding_map(found, "binding", FILE),
            "caption": BINDING_CAPTION.format(count=found.compared),
            "findings": [
                {"number": number, "title": _title(each), "told": _is_told(each, number)}
                for each in found.findings
                for number in [findings.index(each) + 1]
            ],
        }
