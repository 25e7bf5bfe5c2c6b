"""All documents together: what cannot be made is told, the rest is the same each time."""

from __future__ import annotations

from collections.abc import Mapping

from make.jobs import KNOB, job_of

from railwright.make import every
from railwright.make.document import Document, Job, Unmakeable
from railwright.make.written import documents


class Refusing(Document):
    """Cannot be made."""

    def files(self, job: Job) -> Mapping[str, bytes]:
        raise Unmakeable("there is no panel")


class Plain(Document):
    """Can."""

    def files(self, job: Job) -> Mapping[str, bytes]:
        return {"plain.txt": job.design.title.encode()}


def test_what_cannot_be_made_is_told_and_does_not_keep_the_rest_away() -> None:
    job = job_of(KNOB)
    made = documents(job.design, job.proof, [Refusing(), Plain()])
    assert made.files == {"plain.txt": job.design.title.encode()}
    assert made.unmade == {"": "there is no panel"}


def test_the_same_job_gives_the_same_bytes_under_names_of_their_own() -> None:
    job = job_of(KNOB)
    first, again = ([each.files(job) for each in every()] for _ in range(2))
    assert first == again
    names = [name for files in first for name in files]
    assert len(set(names)) == len(names)
