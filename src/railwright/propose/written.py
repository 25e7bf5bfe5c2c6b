"""Candidates as design files in a folder, each written whole or not at all."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from railwright.architectures import every
from railwright.pages.whole_file import write_whole
from railwright.propose.candidates import Proposal


def refuse_taken(folder: Path, stem: str) -> Path | None:
    """A file that a candidate would have to replace; None where there is none.

    A design that was written before may have been changed by hand since.
    """
    paths = (path_of(folder, stem, architecture.name) for architecture in every())
    return next((path for path in paths if path.exists()), None)


def write_candidates(proposal: Proposal, folder: Path, stem: str) -> Iterator[Path]:
    """Write a file per candidate, the best first; yields each path when it stands there.

    stem: of the file with the need, with which each name begins. OSError where one cannot be
    written; those before it stand.
    """
    folder.mkdir(exist_ok=True)
    for candidate in proposal.candidates:
        path = path_of(folder, stem, candidate.architecture)
        write_whole(path, candidate.text)
        yield path


def path_of(folder: Path, stem: str, architecture: str) -> Path:
    """Where the candidate of an architecture is written."""
    return folder / f"{stem}-{'-'.join(architecture.split())}.toml"
