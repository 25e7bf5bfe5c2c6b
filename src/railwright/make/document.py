"""A document of a supply: what it is made from, and the files that it becomes.

A document is a class in a file of this folder and is made by existing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

from railwright.catalogue.entry import Entry
from railwright.circuit.design import Design
from railwright.make.drawing.symbol import Standard
from railwright.pages.sheet import Sheet
from railwright.prove.proof import Proof


class Unmakeable(ValueError):
    """Something of a design that a document cannot show: what was found, what to do."""


@dataclass(frozen=True)
class Job:
    """A design with its proof, from which every document takes its numbers."""

    design: Design
    proof: Proof
    catalogue: Mapping[str, Entry]
    symbols: Standard = "IEC"
    """Standard of the schematic's symbols: IEC 60617, or ANSI/IEEE 315."""


class Document:
    """One document of a supply."""

    name: ClassVar[str] = ""
    """What it is called; empty for what only others build on."""
    place: ClassVar[int] = 0
    """In the report, from the front."""

    def made(self, job: Job) -> tuple[Mapping[str, bytes], Sheet | None]:
        """Its files and its part of the report; what both share may be worked out once."""
        return self.files(job), self.sheet(job)

    def files(self, job: Job) -> Mapping[str, bytes]:
        """What stands beside the report: file name -> content, the same bytes for the same job.

        Unmakeable where it cannot be.
        """
        return {}

    def sheet(self, job: Job) -> Sheet | None:
        """Its part of the report; None where it has none. Unmakeable where it cannot be."""
        return None
