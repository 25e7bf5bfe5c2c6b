"""What is wrong with a file: all of it at once, with a caret under each place."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches


@dataclass(frozen=True, slots=True, order=True)
class Mistake:
    """One mistake: where it is, counted from 1, and what to do about it."""

    line: int
    """0 where the file as a whole is meant."""
    column: int
    key: str
    """Dotted path of the key, as `part[4].resistance`."""
    text: str
    length: int = 1
    """Characters that the caret underlines."""


class FileError(Exception):
    """A file that cannot be used, with all its mistakes in the order of the file.

    `others` are files read along with it that cannot be used either.
    """

    def __init__(
        self,
        name: str,
        mistakes: Iterable[Mistake],
        source: str = "",
        others: Iterable[FileError] = (),
    ) -> None:
        self.name = name
        self.mistakes = tuple(sorted(mistakes))
        self.source = source
        self.others = tuple(others)
        super().__init__(name, self.mistakes, source, self.others)

    def __str__(self) -> str:
        count = len(self.mistakes)
        lines = self.source.split("\n")
        width = max([4, *(len(str(mistake.line)) for mistake in self.mistakes)])
        shown = [_shown(mistake, lines, width) for mistake in self.mistakes]
        head = f"{self.name}, {count} mistake{'s' * (count != 1)}"
        return "\n".join([head, *shown, *map(str, self.others)])


def _shown(mistake: Mistake, lines: list[str], width: int) -> str:
    if not mistake.line:
        return f"{'':{width}} | {mistake.text}"
    line = lines[mistake.line - 1].rstrip("\r")
    before = line[: mistake.column - 1]
    margin = re.sub(r"[^\t]", " ", before)  # tabs stay, so that the caret stands below its place
    carets = "^" * max(1, min(mistake.length, len(line) - len(before)))
    return f"{mistake.line:{width}} | {line}\n{'':{width}} | {margin}{carets} {mistake.text}"


def nearest(found: str, known: Iterable[str]) -> str:
    """Sentence that names the known word next to a found one, or all words if none is near.

    >>> nearest("voltge", ["current", "voltage"])
    'Nearest: "voltage".'
    >>> nearest("x", ["current", "voltage"])
    'Wanted is one of: current, voltage.'
    """
    words = list(known)
    if not words:
        return "There are none yet."
    close = _SOME if len(words) <= _FEW else 0.0
    near = get_close_matches(found, words, n=1, cutoff=close)
    return f'Nearest: "{near[0]}".' if near else f"Wanted is one of: {', '.join(words)}."


_SOME = 0.5  # half of the letters agree
_FEW = 12  # as many words can be listed; of more, the nearest is named however far it is
