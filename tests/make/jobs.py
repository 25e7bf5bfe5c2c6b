"""Jobs for tests of documents, with findings that a test states and nothing proved."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from pages.fake_proof import fake_proof

from railwright.catalogue.loader import load
from railwright.circuit.design import read
from railwright.make.document import Job

FOLDER = Path(__file__).resolve().parents[2] / "examples"
CASES = FOLDER.parent / "tests" / "cases"
EXAMPLES = sorted(path for path in FOLDER.glob("*.toml") if "mistakes" not in path.stem)
"""The last is the radio bench's."""
EXAMPLES.sort(key=lambda path: path.stem == "radio-bench-rail")
KNOB = FOLDER / "model-shop-knob.toml"
"""A small one."""


def job_of(path: Path) -> Job:
    """The design of a file, with a proof that found nothing."""
    return Job(read(path), replace(fake_proof(), findings=()), load())


def judged(job: Job, subject: str, value: float, limit: float, unit: str) -> Job:
    """A job in whose proof one rating more was judged."""
    like = fake_proof().findings[0]
    finding = replace(
        like, id="stress.rating", subject=subject, value=value, limit=limit, unit=unit
    )
    proof = replace(job.proof, findings=(*job.proof.findings, finding))
    return replace(job, proof=proof)
