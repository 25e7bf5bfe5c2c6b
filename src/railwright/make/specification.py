"""The specification sheet of a supply that is to be built, with room for what is measured."""

from __future__ import annotations

from typing import ClassVar

from railwright.make.document import Document, Job
from railwright.pages.sheet import Sheet
from railwright.pages.specification import NAME, specification


class Specification(Document):
    """What is promised, what is predicted, and room for what is measured."""

    name = NAME
    place: ClassVar[int] = 10

    def sheet(self, job: Job) -> Sheet:
        return specification(job.design, job.proof)
