"""Reads the catalogue: every TOML file of this folder, and further files that a user names.

A file has one table per part:

    ["317 type 1.5 A"]
    kind = "adjustable-regulator"
    trade = "317"
    package = "TO-220"
    pins = { adjust = "1", output = "2", input = "3", case = "tab" }
    reference = { min = 1.2, typical = 1.25, max = 1.3, unit = "V", from = "datasheet ..." }

Every other key is a value or a rating of the kind; see `spread` for what a row may hold.
`like` names a part whose keys hold unless this one states its own; a key set to false drops it.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from railwright.catalogue.assumed import ASSUMED, assumed_spread
from railwright.catalogue.entry import Entry, KnownValue
from railwright.catalogue.spread import KEYS, RowError, known_value
from railwright.devices import kinds
from railwright.devices.device import Device

__all__ = ["CatalogueError", "assumed_spread", "load"]

FOLDER = Path(__file__).parent
TEXTS = ("trade", "package")
FIXED = ("kind", "like", "pins", "options", "warning", *TEXTS)


class CatalogueError(ValueError):
    """Catalogue files that cannot be used, with all their mistakes."""


def part_files() -> list[Path]:
    """The catalogue's own files of parts."""
    return sorted(file for file in FOLDER.glob("*.toml") if file != ASSUMED)


def load(*extra: Path) -> Mapping[str, Entry]:
    """Every part of the catalogue by name, those of further files included.

    CatalogueError lists all mistakes: file, part, key, what was found and what is wanted.
    """
    return _read((*part_files(), *extra)) if extra else _built_in()


@cache
def _built_in() -> Mapping[str, Entry]:
    return _read(part_files())


def _read(files: Iterable[Path]) -> Mapping[str, Entry]:
    reader = _Reader()
    for file in files:
        reader.add(file)
    entries = {name: reader.entry(name) for name in reader.tables}
    if reader.mistakes:
        count = len(reader.mistakes)
        lines = "\n  ".join(reader.mistakes)
        raise CatalogueError(f"catalogue, {count} mistake{'s' * (count > 1)}\n  {lines}")
    return MappingProxyType({name: e for name, e in entries.items() if e is not None})


class _Reader:
    """Gathers the tables of all files, then makes entries and notes what is wrong."""

    def __init__(self) -> None:
        self.tables: dict[str, Mapping[str, Any]] = {}
        self.files: dict[str, Path] = {}
        self.mistakes: list[str] = []

    def add(self, file: Path) -> None:
        """Take in the tables of a file."""
        try:
            content = tomllib.loads(file.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            why = error.strerror if isinstance(error, OSError) else error
            self.mistakes.append(f"{file.name}: not a readable catalogue file: {why}")
            return
        for name, table in content.items():
            if not isinstance(table, dict):
                self.mistakes.append(f"{file.name}, {name}: found {table!r}, wanted is a table")
            elif name in self.tables:
                first = self.files[name].name
                self.mistakes.append(
                    f"{file.name}, {name}: a part of this name is in {first} already; rename it"
                )
            else:
                self.tables[name], self.files[name] = table, file

    def wrong(self, part: str, key: str, what: str) -> None:
        """Note a mistake; what a part takes from another one is noted there."""
        stated = self.tables[part]
        if "like" in stated and key.split(".")[0] not in stated:
            return
        self.mistakes.append(f"{self.files[part].name}, {part}, {key}: {what}")

    def unknown(self, part: str, key: str, what: str, found: object, among: Iterable[str]) -> None:
        """Note a name that does not exist, with the nearest one that does."""
        names = list(among)
        near = difflib.get_close_matches(str(found), names, n=1, cutoff=0.0)
        nearest = f" Nearest: {near[0]!r}." if near else ""
        self.wrong(part, key, f"found {found!r}, there is no such {what}.{nearest}")

    def entry(self, part: str) -> Entry | None:
        """The entry of a part, or None with the mistakes noted."""
        table = self._whole(part)
        if table is None:
            return None
        device = kinds().get(str(table.get("kind")))
        if device is None:
            self.unknown(part, "kind", "kind", table.get("kind"), kinds())
            return None
        texts = {key: self._text(part, key, table.get(key)) for key in TEXTS}
        return Entry(
            name=part,
            kind=device.kind,
            trade=texts["trade"],
            package=texts["package"],
            pins=self._pins(part, device, table.get("pins", {})),
            options=self._options(part, device, table.get("options", {})),
            values=self._values(part, device, table),
            warning=self._text(part, "warning", table.get("warning", "")),
        )

    def _whole(self, part: str) -> dict[str, Any] | None:
        """A part's table, completed from the one that it is like."""
        table, seen = dict(self.tables[part]), {part}
        while "like" in table:
            model = table.pop("like")
            if model not in self.tables:
                self.unknown(part, "like", "part", model, self.tables.keys() - {part})
                return None
            if model in seen:
                self.wrong(part, "like", f"found {model!r}, which is like this part in turn")
                return None
            seen.add(model)
            table = {**self.tables[model], **table}
        return {key: found for key, found in table.items() if found is not False}

    def _text(self, part: str, key: str, found: object) -> str:
        if not isinstance(found, str):
            self.wrong(part, key, f"found {found!r}, wanted is a text")
        return str(found)

    def _pins(self, part: str, device: Device, found: object) -> Mapping[str, str]:
        if not isinstance(found, dict):
            self.wrong(part, "pins", f"found {found!r}, wanted is a table of pin = terminal")
            return {}
        for pin, terminal in found.items():
            if pin not in device.pins:
                self.unknown(part, "pins", f"pin of a {device.kind}", pin, device.pins)
            elif not isinstance(terminal, str):
                self.wrong(part, f"pins.{pin}", f"found {terminal!r}, wanted is a terminal's text")
        missing = [p for p, pin in device.pins.items() if not pin.optional and p not in found]
        if found and missing:
            self.wrong(part, "pins", f"wanted are also {', '.join(missing)}")
        return MappingProxyType({pin: str(terminal) for pin, terminal in found.items()})

    def _options(self, part: str, device: Device, found: object) -> Mapping[str, str]:
        if not isinstance(found, dict):
            self.wrong(part, "options", f"found {found!r}, wanted is a table of option = choice")
            return {}
        for option, choice in found.items():
            if option not in device.options:
                self.unknown(part, "options", f"option of a {device.kind}", option, device.options)
            elif choice not in device.options[option]:
                self.unknown(part, f"options.{option}", "choice", choice, device.options[option])
        return MappingProxyType({option: str(choice) for option, choice in found.items()})

    def _values(
        self, part: str, device: Device, table: Mapping[str, Any]
    ) -> Mapping[str, KnownValue]:
        known = {**device.values, **device.ratings}
        values = {}
        for name, row in table.items():
            if name in FIXED:
                continue
            if name not in known:
                what = f"value or rating of a {device.kind}"
                self.unknown(part, name, what, name, [*known, *FIXED])
            elif not isinstance(row, dict):
                self.wrong(part, name, f"found {row!r}, wanted is a table with {', '.join(KEYS)}")
            else:
                for key in row.keys() - set(KEYS):
                    self.unknown(part, f"{name}.{key}", "key of a row", key, KEYS)
                try:
                    values[name] = known_value(device, name, row)
                except RowError as error:
                    self.wrong(part, name, str(error))
        return MappingProxyType(values)
