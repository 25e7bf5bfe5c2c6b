"""The proof in the report: what binds where, the tightest findings in pictures, the ledger."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from railwright.make.document import Document, Job
from railwright.pages import wording
from railwright.pages.binding import BINDING_CAPTION, bindings
from railwright.pages.binding_map import binding_map
from railwright.pages.curve_figures import curve_figures
from railwright.pages.drawing import FILE
from railwright.pages.figures import margin_map
from railwright.pages.sheet import Figures, Grid, Picture, Points, Section, Sheet
from railwright.prove.proof import Finding

MOST_SHOWN = 6
"""Findings that are shown in pictures."""
HEADS = ("verdict", "reserve", "question", "value, limit", "worst at")


class ProofSheet(Document):
    """What was proved; `prove --report` writes every finding in full."""

    name = "Proof"
    place = 90

    def sheet(self, job: Job) -> Sheet:
        ledger = job.proof.ledger
        rows = Grid(HEADS, [_row(finding) for finding in ledger], (0, 0, 2, 1.2, 1.3))
        lead = f"{wording.counts(ledger)}; {wording.extent(job.proof)}."
        found = list(_pictures(ledger))
        tight = [Section("The tightest, in pictures", [Figures(found)])] if found else []
        sections = [*_maps(ledger), *tight, Section("Ledger", [rows])]
        return Sheet(job.design.title, self.name, sections, lead)


def _row(finding: Finding) -> Sequence[str]:
    return (
        wording.verdict(finding.verdict),
        wording.percent(finding.reserve),
        f"{finding.subject}: {finding.question}",
        ", ".join(filter(None, wording.value_and_limit(finding))),
        wording.place(finding.where),
    )


def _maps(ledger: Sequence[Finding]) -> Iterator[Section]:
    for number, (rail, found) in enumerate(bindings(list(ledger)).items(), 1):
        caption = BINDING_CAPTION.format(count=found.compared)
        picture = Picture(binding_map(found, f"binding-{number}", FILE), caption, 0.7)
        told = Points([f"{f.subject}: {f.question}" for f in found.findings], numbered=True)
        yield Section(f"What binds where: {rail}", [picture, told])


def _pictures(ledger: Sequence[Finding]) -> Iterator[tuple[str, Sequence[Picture]]]:
    """Courses and maps of the first findings that have some."""
    shown = 0
    for number, finding in enumerate(ledger, 1):
        svgs = [
            *(svg for _, svg in curve_figures(finding, f"curves-{number}", FILE)),
            margin_map(finding, f"map-{number}", FILE),
        ]
        told = [svg for svg in svgs if svg]
        if not told:
            continue
        text = f"{finding.subject}: {finding.question} {finding.because}"
        yield text, [Picture(svg, "") for svg in told]
        shown += 1
        if shown == MOST_SHOWN:
            return
