"""Where each key and value of a TOML text stands.

tomllib says what a text means, not where it stands. This scanner says where, for a text that
tomllib has accepted: it finds ends and names, and judges nothing.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass

KeyPath = tuple[str | int, ...]
"""Keys and, for the elements of arrays, indexes from 0: ("part", 4, "pins", "one")."""

BYTE_ORDER_MARK = "\ufeff"


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of a text, from `start` up to but without `end`, counted in characters."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Place:
    """Where a key and its value stand.

    The element of an array has no key and a table with a header of its own has no value in one
    piece: there both are the element, or the header.
    """

    key: Span
    value: Span
    is_header: bool = False


def locate(text: str) -> Mapping[KeyPath, Place]:
    """The place of everything in a valid TOML text, in the order of the text.

    >>> places = locate("[need]\\nparts.series = 'E24'")
    >>> places["need", "parts", "series"].value
    Span(start=22, end=27)
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.places


def line_and_column(text: str, offset: int) -> tuple[int, int]:
    """Line and column of a character, both from 1.

    >>> line_and_column("a = 1\\nb = 2", 10)
    (2, 5)
    """
    return text.count("\n", 0, offset) + 1, offset - text.rfind("\n", 0, offset)


_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\r\n]*[^,\]}#\r\n \t]")
_STRINGS = {
    # Up to two quotes before the closing three belong to the string.
    '"""': re.compile(r'"""(?:[^\\]|\\.)*?"""(?:"{0,2})', re.DOTALL),
    "'''": re.compile(r"'''.*?'''(?:'{0,2})", re.DOTALL),
    '"': re.compile(r'"(?:[^"\\]|\\.)*"'),
    "'": re.compile(r"'[^']*'"),
}


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = len(BYTE_ORDER_MARK) if text.startswith(BYTE_ORDER_MARK) else 0
        self.places: dict[KeyPath, Place] = {}
        self.counts: dict[KeyPath, int] = {}
        """Tables so far of each array of tables."""

    def document(self) -> None:
        table: KeyPath = ()
        self.take(_BLANK)
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.take(_BLANK)

    def take(self, pattern: re.Pattern[str]) -> Span:
        """Move over what a pattern matches here."""
        match = pattern.match(self.text, self.at)
        if match is None:
            raise ValueError(f"the text is not TOML at character {self.at}")
        self.at = match.end()
        return Span(*match.span())

    def header(self) -> KeyPath:
        start, brackets = self.at, 2 if self.text.startswith("[[", self.at) else 1
        self.at += brackets
        keys = self.keys()
        self.at += brackets
        path = (*self.dotted((), keys[:-1]), keys[-1][0])
        here = Span(start, self.at)
        if brackets == 2:
            self.places.setdefault(path, Place(here, here, is_header=True))
            self.counts[path] = self.counts.get(path, 0) + 1
            path = self.latest(path)
        self.places[path] = Place(here, here, is_header=True)
        return path

    def latest(self, path: KeyPath) -> KeyPath:
        """The table that a path means: of an array of tables the one last begun."""
        return (*path, self.counts[path] - 1) if path in self.counts else path

    def dotted(self, path: KeyPath, keys: list[tuple[str, Span]]) -> KeyPath:
        """The table that leading keys of a dotted key mean; tables may begin with it."""
        for name, span in keys:
            path = (*path, name)
            self.places.setdefault(path, Place(span, span))
            path = self.latest(path)
        return path

    def pair(self, table: KeyPath) -> None:
        keys = self.keys()
        self.at += 1  # the equals sign
        self.take(_SPACE)
        name, span = keys[-1]
        path = (*self.dotted(table, keys[:-1]), name)
        self.places[path] = Place(span, span)  # now, so that a table stands before what it holds
        self.places[path] = Place(span, self.value(path))

    def keys(self) -> list[tuple[str, Span]]:
        """The names of a dotted key, up to what follows it."""
        found = []
        while True:
            self.take(_SPACE)
            found.append(self.key())
            self.take(_SPACE)
            if not self.text.startswith(".", self.at):
                return found
            self.at += 1

    def key(self) -> tuple[str, Span]:
        quote = self.text[self.at]
        if quote not in _STRINGS:
            span = self.take(_BARE_KEY)
            return self.text[span.start : span.end], span
        span = self.take(_STRINGS[quote])
        return tomllib.loads(f"name = {self.text[span.start : span.end]}")["name"], span

    def value(self, path: KeyPath) -> Span:
        if self.text[self.at] == "[":
            return self.array(path)
        if self.text[self.at] == "{":
            return self.inline_table(path)
        starts = (quote for quote in _STRINGS if self.text.startswith(quote, self.at))
        return self.take(_STRINGS.get(next(starts, ""), _SCALAR))

    def array(self, path: KeyPath) -> Span:
        start, index = self.at, 0
        while self.more("]"):
            element = (*path, index)
            here = Span(self.at, self.at)
            self.places[element] = Place(here, here)
            here = self.value(element)
            self.places[element] = Place(here, here)
            index += 1
        return Span(start, self.at)

    def inline_table(self, path: KeyPath) -> Span:
        start = self.at
        while self.more("}"):
            self.pair(path)
        return Span(start, self.at)

    def more(self, end: str) -> bool:
        """Move over the opening bracket or the comma to the next element; False at the end."""
        self.take(_BLANK)
        if self.text[self.at] != end:
            self.at += 1
            self.take(_BLANK)
        if self.text[self.at] != end:
            return True
        self.at += 1
        return False
