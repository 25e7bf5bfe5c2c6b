"""The drill template of the panel, at its true size, in three formats."""

from __future__ import annotations

from collections.abc import Mapping

from railwright.make.document import Document, Job
from railwright.make.panel.dxf import dxf
from railwright.make.panel.lines import title
from railwright.make.panel.pdf import pdf
from railwright.make.panel.placed import panel_of
from railwright.make.panel.svg import svg
from railwright.pages.sheet import Grid, Picture, Section, Sheet


class DrillTemplate(Document):
    """Holes with centre marks, the room of every item, and a bar of 100 mm."""

    name = "Drill template"
    place = 60

    def sheet(self, job: Job) -> Sheet:
        panel = panel_of(job.design)
        share = min(1.0, max(0.5, panel.width / 0.18))
        drawing = svg(panel).decode()
        picture = Picture(drawing, "Not to scale here. Print panel.pdf at 100 % to drill.", share)
        rows = [(i.item, i.label, i.does, _mm(i.right), _mm(i.up)) for i in panel.items]
        heads = ("item", "ref", "for", "from the left", "from below")
        where = Grid(heads, rows, (2, 0, 2, 0, 0))
        return Sheet(job.design.title, self.name, [Section("", [picture, where])], title(panel))

    def files(self, job: Job) -> Mapping[str, bytes]:
        panel = panel_of(job.design)
        written = {"svg": svg, "pdf": pdf, "dxf": dxf}
        return {f"panel.{ending}": write(panel) for ending, write in written.items()}


def _mm(length: float) -> str:
    return f"{length * 1e3:.1f} mm"
