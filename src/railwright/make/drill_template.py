"""The drill template of the panel, at its true size, in three formats."""

from __future__ import annotations

from collections.abc import Mapping

from railwright.make.document import Document, Job
from railwright.make.panel.dxf import dxf
from railwright.make.panel.pdf import pdf
from railwright.make.panel.placed import panel_of
from railwright.make.panel.svg import svg


class DrillTemplate(Document):
    """Holes with centre marks, the room of every item, and a bar of 100 mm."""

    name = "drill template"

    def files(self, job: Job) -> Mapping[str, bytes]:
        panel = panel_of(job.design)
        written = {"svg": svg, "pdf": pdf, "dxf": dxf}
        return {f"panel.{ending}": write(panel) for ending, write in written.items()}
