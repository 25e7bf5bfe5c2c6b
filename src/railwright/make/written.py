"""All documents of a supply, made from one proof."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial

from railwright.circuit.design import Design, catalogue_of
from railwright.make import every
from railwright.make.document import Document, Job, Unmakeable
from railwright.make.drawing.symbol import Standard
from railwright.pages.sheet import Sheet
from railwright.pages.sheet_html import html
from railwright.pages.sheet_pdf import pdf
from railwright.prove.proof import Proof

SIDE_BY_SIDE = 2
"""Documents that are made at the same time."""


@dataclass(frozen=True)
class Made:
    """Files by name, and documents that could not be made, with the reason."""

    files: Mapping[str, bytes]
    unmade: Mapping[str, str]


def documents(
    design: Design,
    proof: Proof,
    several: Sequence[Document] | None = None,
    symbols: Standard = "IEC",
) -> Made:
    """The files of documents, and the report that binds them; of all where None."""
    job = Job(design, proof, catalogue_of(design), symbols)
    wanted = sorted(every() if several is None else several, key=lambda each: each.place)
    # The engine leaves the interpreter free while it solves the stages of bringing up.
    with ThreadPoolExecutor(SIDE_BY_SIDE, thread_name_prefix="documents") as pool:
        found = dict(zip(wanted, pool.map(partial(_made, job), wanted), strict=True))
    files: dict[str, bytes] = {}
    sheets: list[Sheet] = []
    unmade: dict[str, str] = {}
    for document, made in found.items():
        if isinstance(made, Unmakeable):
            unmade[document.name] = str(made)
            continue
        own, sheet = made
        files |= own
        sheets += [sheet] if sheet else []
    if sheets:
        files |= {"report.html": html(sheets).encode(), "report.pdf": pdf(sheets)}
    return Made(files, unmade)


def _made(job: Job, document: Document) -> tuple[Mapping[str, bytes], Sheet | None] | Unmakeable:
    try:
        return document.made(job)
    except Unmakeable as reason:
        return reason
