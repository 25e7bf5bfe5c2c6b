"""The schematic in the report and beside it, with the voltages of its nets."""

from __future__ import annotations

from collections.abc import Mapping

from railwright.make.document import Document, Job
from railwright.make.drawing import drawing
from railwright.pages.sheet import Picture, Section, Sheet


class Schematic(Document):
    """The circuit, drawn."""

    name = "Schematic"
    place = 20

    def made(self, job: Job) -> tuple[Mapping[str, bytes], Sheet]:
        svg = drawing(job.design, {row.net: row.usual for row in job.proof.nets}).svg()
        return {"schematic.svg": svg.encode()}, _sheet(job, svg)

    def sheet(self, job: Job) -> Sheet:
        return self.made(job)[1]

    def files(self, job: Job) -> Mapping[str, bytes]:
        return self.made(job)[0]


def _sheet(job: Job, svg: str) -> Sheet:
    picture = Picture(svg, "Voltages in the middle of the operating range, from 0 V.")
    return Sheet(job.design.title, Schematic.name, [Section("", [picture])])
