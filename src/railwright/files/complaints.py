"""Mistakes gathered while a file is read, so that all are told at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from railwright.files.locate import KeyPath, Span, line_and_column, locate
from railwright.files.mistakes import FileError, Mistake


class Complaints:
    """Says what is wrong with a parsed text and finds the place of each complaint."""

    def __init__(self, name: str, text: str, document: Mapping[str, object]) -> None:
        self._name = name
        self._text = text
        self._document = document
        self._places = locate(text)
        self._mistakes: set[Mistake] = set()
        self._others: list[FileError] = []

    def value(self, path: KeyPath, text: str) -> None:
        """Complain about the value at a path, or about the nearest table above it."""
        there = path
        while there and there not in self._places:
            there = there[:-1]
        self._add(path, self._places[there].value if there else Span(0, 0), text)

    def key(self, path: KeyPath, text: str) -> None:
        """Complain about a key that should not be there."""
        self._add(path, self._places[path].key, text)

    def other(self, path: KeyPath, error: FileError) -> None:
        """Complain about the value at a path: it names a file that cannot be used."""
        self.value(path, f"{error.name} cannot be used, see below.")
        self._others.append(error)

    @property
    def error(self) -> FileError | None:
        """All mistakes so far, if there are any."""
        if not self._mistakes:
            return None
        return FileError(self._name, self._mistakes, self._text, self._others)

    def finish(self) -> None:
        """Raise FileError if there were any mistakes."""
        if error := self.error:
            raise error

    def _add(self, path: KeyPath, span: Span, text: str) -> None:
        line, column = line_and_column(self._text, span.start)
        where = self._called(path[:-1])
        said = f"{where}: {text}" if where else text
        length = max(1, span.end - span.start)
        self._mistakes.add(Mistake(line, column, dotted(path), said, length))

    def _called(self, table: KeyPath) -> str:
        """What a person calls a table: "part R5", "output main, overload", "input"."""
        words: list[str] = []
        for depth, step in enumerate(table):
            if isinstance(step, int):
                words[-1] += f" {self._name_of(table[: depth + 1]) or step + 1}"
            elif step != "need":
                words.append(step)
        return ", ".join(words)

    def _name_of(self, element: KeyPath) -> str:
        found: Any = self._document
        for step in element:
            found = found[step]
        names = (found.get(key) for key in ("ref", "name")) if isinstance(found, dict) else ()
        return next((name for name in names if isinstance(name, str)), "")


def dotted(path: KeyPath) -> str:
    """A path as text.

    >>> dotted(("part", 4, "pins", "one"))
    'part[4].pins.one'
    """
    text = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in path)
    return text.removeprefix(".")
