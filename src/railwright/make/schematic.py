"""The schematic in the report and beside it, with the voltages of its nets."""

from __future__ import annotations

import re
from collections.abc import Mapping

from railwright.make.document import Document, Job
from railwright.make.drawing import drawing
from railwright.pages.sheet import Picture, Section, Sheet
from railwright.pages.wording import LEAST_READ, measurable, place
from railwright.prove.proof import NetRow
from railwright.quantity import show

ALTERNATES = 0.1
"""Share of its mean from which on what alternates on a net is told beside it."""
WIDE = 1.2
"""Width over height from which on a drawing is larger along the longer side of a page."""


class Schematic(Document):
    """The circuit, drawn."""

    name = "Schematic"
    place = 20

    def made(self, job: Job) -> tuple[Mapping[str, bytes], Sheet]:
        volts = {row.net: _volts(row) for row in _known(job)}
        drawn = drawing(job.design, volts, job.symbols, _at(job))
        svg = drawn.svg()
        return {"schematic.svg": svg.encode(), "schematic.pdf": drawn.pdf()}, _sheet(job, svg)

    def sheet(self, job: Job) -> Sheet:
        return self.made(job)[1]

    def files(self, job: Job) -> Mapping[str, bytes]:
        return self.made(job)[0]


def _sheet(job: Job, svg: str) -> Sheet:
    picture = Picture(svg, _caption(job), turned=_is_wide(svg))
    return Sheet(job.design.title, Schematic.name, [Section("", [picture])])


def _known(job: Job) -> list[NetRow]:
    """Nets whose voltage is known at the chosen point."""
    return [row for row in job.proof.nets if row.chosen is not None]


def _volts(row: NetRow) -> str:
    """What a meter reads of a net, in its direct range, and in its other one where that counts."""
    assert row.chosen is not None
    told = measurable(row.chosen, "V")
    if row.alternates < ALTERNATES * abs(row.chosen) or row.alternates < LEAST_READ:
        return told
    return f"{told}, {show(row.alternates, 'V')} ~"


def _at(job: Job) -> str:
    """The operating point of the voltages, in words; empty where there are none."""
    return place(job.proof.nets_at) if job.proof.nets_at else ""


def _caption(job: Job) -> str:
    known = _known(job)
    if not known:
        return f"No voltages: at {_at(job)} nothing is solved." if _at(job) else ""
    told = f"Voltages from 0 V with typical parts, at {_at(job)}."
    if any("~" in _volts(row) for row in known):
        told += " Behind a comma stands what alternates, effective (~)."
    return told


def _is_wide(svg: str) -> bool:
    found = re.search(r'viewBox="\S+ \S+ (\S+) (\S+)"', svg)
    return found is not None and float(found[1]) > WIDE * float(found[2])
