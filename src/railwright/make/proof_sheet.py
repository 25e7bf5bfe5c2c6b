"""The proof in the report: its ledger, and what binds in each region of the operating range."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from railwright.make.document import Document, Job
from railwright.pages import wording
from railwright.pages.binding import BINDING_CAPTION, bindings
from railwright.pages.binding_map import binding_map
from railwright.pages.drawing import FILE
from railwright.pages.printed import printed
from railwright.pages.report import report
from railwright.pages.sheet import Grid, Picture, Points, Section, Sheet
from railwright.prove.proof import Finding

HEADS = ("verdict", "reserve", "question", "value, limit", "worst at")


class ProofSheet(Document):
    """What was proved; the whole of it stands beside the report."""

    name = "Proof"
    place = 90

    def files(self, job: Job) -> dict[str, bytes]:
        return {"proof.html": report(job.proof).encode(), "proof.pdf": printed(job.proof)}

    def sheet(self, job: Job) -> Sheet:
        ledger = job.proof.ledger
        rows = Grid(HEADS, [_row(finding) for finding in ledger], (0, 0, 2, 1.2, 1.3))
        lead = f"{wording.counts(ledger)}; {wording.took(job.proof)}. proof.pdf has every finding."
        sections = [*_maps(ledger), Section("Ledger", [rows])]
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
