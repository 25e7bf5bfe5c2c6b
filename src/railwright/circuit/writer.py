"""Edits of a design file that leave every other byte as the person wrote it.

tomlkit writes what is new; the locator says where it goes. Putting one text into another keeps
comments, order, spacing and line ends by construction, where rewriting the whole document from
tomlkit's model loses the comment behind an edited value unless it is copied by hand.
"""

from __future__ import annotations

import os
import secrets
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit

from railwright.files.locate import BYTE_ORDER_MARK, KeyPath, Place, Span, locate
from railwright.files.mistakes import nearest

NewTable = Mapping[str, str | Mapping[str, str]]
"""Keys of a table with their texts; pins and the like are mappings."""


class EditError(ValueError):
    """An edit that a design file cannot take, with what stands in its way."""


def set_value(text: str, ref: str, key: str, new_text: str) -> str:
    """The design with a part's value, `use`, `block` or `why` set to a text.

    In a value with a spread the typical value is set and the tolerance stays. EditError where
    the part is not there, or the value is given by limits that would not fit the new one.
    """
    file = _File(text)
    path = (*file.part(ref), key)
    found = file.at(path)
    if isinstance(found, dict):
        if "typical" not in found or not found.keys().isdisjoint({"min", "max"}):
            raise EditError(
                f"{key} of {ref} is given by limits, which a new value would not fit. "
                "Write it with typical and tolerance, or change the limits by hand."
            )
        path = (*path, "typical")
    return file.put(path, _string(new_text))


def set_table(text: str, ref: str, key: str, table: Mapping[str, str]) -> str:
    """The design with a part's spread of a value, or what it tracks, set to a table in one line.

    EditError where the part is not there, or the value stands under a header of its own.
    """
    file = _File(text)
    path = (*file.part(ref), key)
    if path in file.places and file.places[path].is_header:
        raise EditError(f"{key} of {ref} stands under a header of its own. Write it in one line.")
    return file.put(path, _inline(table))


def set_heading(text: str, lines: Sequence[str]) -> str:
    """The design with comments above everything else."""
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    newline = _File(text).newline
    heading = "".join(f"# {line}{newline}" for line in lines)
    return f"{mark}{heading}{newline}{text.removeprefix(mark)}"


def set_pin(text: str, ref: str, pin: str, net: str) -> str:
    """The design with a part's pin on a net. EditError where the part is not there."""
    file = _File(text)
    path = (*file.part(ref), "pins")
    if file.at(path) is None:
        return file.put(path, _inline({pin: net}))
    return file.put((*path, pin), _string(net))


def set_terminals(text: str, path: KeyPath, plus: str, minus: str) -> str:
    """The design with the nets of an input or output, whose table is at a path, set."""
    return _File(text).put((*path, "nets"), _inline({"plus": plus, "minus": minus}))


def add_part(text: str, part: NewTable, heading: str = "") -> str:
    """The design with one part more, behind its last part. EditError where its ref is taken.

    heading: a comment that is put above it.
    """
    file = _File(text)
    if part["ref"] in file.refs:
        raise EditError(f"another part is called {part['ref']}. Give each its own ref.")
    return file.add("part", part, heading)


def add_control(text: str, control: NewTable) -> str:
    """The design with one control more, behind its last control."""
    return _File(text).add("control", control)


def remove_part(text: str, ref: str) -> str:
    """The design without a part. Comments above its table stay, those inside it go.

    EditError where the part is not there, or its tables stand apart.
    """
    file = _File(text)
    path = file.part(ref)
    if not file.places[path].is_header:
        raise EditError("the parts stand in one array. Write each under its own [[part]].")
    block = file.block(path)
    for other, place in file.places.items():
        if other[:2] not in (path, path[:1]) and block.start <= place.key.start < block.end:
            raise EditError(f"other tables stand between those of {ref}. Bring them together.")
    before = text[: block.start]
    kept = before.rstrip("\r\n")
    # The blank lines above go with the part, the line end of what stands before them stays.
    kept += before[len(kept) :][: len(file.newline)] if kept else ""
    return kept + text[file.line_end(block.end) :]


def save(path: str | Path, text: str) -> None:
    """Write a file whole or not at all; its mode stays, and a link goes on pointing to it.

    OSError where that cannot be done; then the old file is as it was.
    """
    path = Path(path).resolve()
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    try:
        with temporary.open("xb") as file:
            file.write(text.encode("utf-8"))
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            temporary.chmod(path.stat().st_mode & 0o7777)
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)


def _string(text: str) -> str:
    return tomlkit.string(text).as_string()


def _key(name: str) -> str:
    return tomlkit.key(name).as_string()


def _inline(table: Mapping[str, str]) -> str:
    return "{ " + ", ".join(f"{_key(k)} = {_string(v)}" for k, v in table.items()) + " }"


class _File:
    """A valid design text with its places."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tables: dict[str, Any] = tomllib.loads(text.removeprefix(BYTE_ORDER_MARK))
        self.places: Mapping[KeyPath, Place] = locate(text)
        self.newline = "\r\n" if "\r\n" in text else "\n"

    @property
    def refs(self) -> list[str]:
        """Refs in the order of the file."""
        return [part["ref"] for part in self.tables.get("part", [])]

    def part(self, ref: str) -> KeyPath:
        """Path of the part of a ref. EditError where there is none."""
        if ref not in self.refs:
            raise EditError(f"there is no part {ref}. {nearest(ref, self.refs)}")
        return ("part", self.refs.index(ref))

    def at(self, path: KeyPath) -> Any:
        """What the text says at a path; None where it says nothing."""
        found: Any = self.tables
        for step in path:
            if isinstance(found, dict) and step not in found:
                return None
            found = found[step]
        return found

    def put(self, path: KeyPath, written: str) -> str:
        """The text with a value at a path, in the place of the old one or as a new key."""
        if path in self.places:
            return self.spliced(self.places[path].value, written)
        table, entry = path[:-1], f"{_key(str(path[-1]))} = {written}"
        place = self.places[table]
        if place.is_header:
            return self.insert_lines(self.header_block(table), entry)
        if self.text.startswith("{", place.value.start):
            return self.insert_inline(place.value, entry)
        # A table that exists by dotted keys goes on by one more of them.
        prefix = self.text[place.key.start : place.key.end]
        return self.insert_lines(self.header_block(table[:-1]), f"{prefix}.{entry}")

    def spliced(self, span: Span, written: str) -> str:
        return self.text[: span.start] + written + self.text[span.end :]

    def insert_inline(self, braces: Span, entry: str) -> str:
        inside = self.text[braces.start + 1 : braces.end - 1].rstrip()
        written = f"{{{inside}, {entry} }}" if inside.strip() else f"{{ {entry} }}"
        return self.spliced(braces, written)

    def add(self, name: str, table: NewTable, heading: str = "") -> str:
        """The text with one table more in an array of tables, behind its last one."""
        lines = [f"# {heading}", "", f"[[{name}]]"] if heading else [f"[[{name}]]"]
        for key, value in table.items():
            written = _string(value) if isinstance(value, str) else _inline(value)
            lines.append(f"{_key(key)} = {written}")
        there = len(self.tables.get(name, []))
        last: KeyPath = (name, there - 1) if there else ()
        if there and not self.places[last].is_header:
            raise EditError(f"the {name}s stand in one array. Write each under its own [[{name}]].")
        block = self.newline.join(lines)
        return self.insert_lines(self.block(last).end, f"{self.newline}{block}")

    def insert_lines(self, offset: int, lines: str) -> str:
        """The text with lines behind the line of an offset."""
        end = self.line_end(offset)
        before, after = self.text[:end], self.text[end:]
        if before and not before.endswith("\n"):
            before += self.newline
        return f"{before}{lines}{self.newline}{after}"

    def line_end(self, offset: int) -> int:
        """Where the line after that of an offset begins."""
        return self.text.find("\n", offset) + 1 or len(self.text)

    def header_block(self, table: KeyPath) -> int:
        """End of the keys that stand under the header of a table, before the next header."""
        end = self.places[table].value.end
        for path, place in self.places.items():
            if path[: len(table)] != table or place.key.start < end:
                continue
            if place.is_header:
                break
            end = max(end, place.value.end)
        return end

    def block(self, path: KeyPath) -> Span:
        """From the header of a table to the end of the last thing in it."""
        inside = [place for other, place in self.places.items() if other[: len(path)] == path]
        return Span(
            min((place.key.start for place in inside), default=0),
            max((place.value.end for place in inside), default=len(self.text)),
        )
