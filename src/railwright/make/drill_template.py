"""The drill template of the panel, at its true size, in three formats."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from railwright.make.document import Document, Job
from railwright.make.panel.dxf import dxf
from railwright.make.panel.lines import title
from railwright.make.panel.pdf import pdf
from railwright.make.panel.placed import panel_of
from railwright.make.panel.svg import svg
from railwright.pages.sheet import Block, Grid, Picture, Section, Sheet, Words

PAPER = 0.178
"""m between the margins of a page."""
_SINK = (
    'One that is has an item "heat sink, WIDTH × HEIGHT mm" in [[panel]], with part and at: its '
    "screws are drilled with the rest, and nothing else comes into its room."
)


class DrillTemplate(Document):
    """Holes with centre marks, the room of every item, and a bar of 100 mm."""

    name = "Drill template"
    place = 60

    def sheet(self, job: Job) -> Sheet:
        panel = panel_of(job.design)
        drawing = svg(panel).decode()
        share = width_of(drawing) / PAPER
        scale = "At its true size on A4" if share <= 1.0 else "Smaller than it is"
        caption = f"{scale}; panel.pdf, printed at 100 %, is to drill by: measure its bar first."
        picture = Picture(drawing, caption, min(1.0, share))
        rows = [(i.item, i.label, i.does, _mm(i.right), _mm(i.up)) for i in panel.items]
        heads = ("item", "ref", "for", "from the left", "from below")
        where = Grid(heads, rows, (2, 0, 2, 0, 0))
        aside = _sinks(job, [i.label for i in panel.items])
        sections = [Section("", [picture, where, *aside])]
        return Sheet(job.design.title, self.name, sections, title(panel))

    def files(self, job: Job) -> Mapping[str, bytes]:
        panel = panel_of(job.design)
        written = {"svg": svg, "pdf": pdf, "dxf": dxf}
        return {f"panel.{ending}": write(panel) for ending, write in written.items()}


def width_of(drawing: str) -> float:
    """Width of a drawing in millimetres [m]."""
    found = re.search(r'width="([\d.]+)mm"', drawing)
    assert found is not None
    return float(found[1]) * 1e-3


def _sinks(job: Job, there: Sequence[str]) -> Sequence[Block]:
    """Where the heat sinks are, if not on this panel."""
    sinks = [part for part in job.design.circuit.parts if part.kind == "heat-sink"]
    away = [f"{sink.ref} ({sink.package or sink.use})" for sink in sinks if sink.ref not in there]
    return [Words(f"Not on this panel: {', '.join(away)}. {_SINK}")] if away else []


def _mm(length: float) -> str:
    return f"{length * 1e3:.1f} mm"
