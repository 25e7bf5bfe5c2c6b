"""All documents of a supply, made from one proof."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from railwright.circuit.design import Design, catalogue_of
from railwright.make import every
from railwright.make.document import Document, Job, Unmakeable
from railwright.prove.proof import Proof


@dataclass(frozen=True)
class Made:
    """Files by name, and documents that could not be made, with the reason."""

    files: Mapping[str, bytes]
    unmade: Mapping[str, str]


def documents(design: Design, proof: Proof, documents: Sequence[Document] | None = None) -> Made:
    """The files of documents; of all where None."""
    job = Job(design, proof, catalogue_of(design))
    files: dict[str, bytes] = {}
    unmade: dict[str, str] = {}
    for document in every() if documents is None else documents:
        try:
            files.update(document.files(job))
        except Unmakeable as reason:
            unmade[document.name] = str(reason)
    return Made(files, unmade)
