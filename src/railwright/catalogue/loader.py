"""Reads the catalogue: every TOML file of this folder, and further files that a user names.

A file has one table per part:

    ["317 type 1.5 A"]
    kind = "adjustable-regulator"
    trade = "317"
    package = "TO-220"
    pins = { adjust = "1", output = "2", input = "3", case = "tab" }
    reference = { min = 1.2, typical = 1.25, max = 1.3, unit = "V", from = "datasheet ..." }

Every other key is a value, a rating or a window of the kind; see `spread` for what a row may hold.
`like` names a part whose keys hold unless this one states its own; a key set to false drops it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

from railwright.catalogue.assumed import ASSUMED
from railwright.catalogue.entry import Entry, KnownValue, KnownWindow
from railwright.catalogue.price import CLASSES
from railwright.catalogue.spread import KEYS, RowErrors, known_value, known_window
from railwright.devices import kinds
from railwright.devices.device import Device
from railwright.files.complaints import Complaints
from railwright.files.locate import KeyPath
from railwright.files.mistakes import FileError, nearest
from railwright.files.source import parsed, source_text
from railwright.quantity import UNITS
from railwright.standards.outlines import terminals

T = TypeVar("T")

FOLDER = Path(__file__).parent
TEXTS = ("trade", "package")
FIXED = ("kind", "like", "pins", "options", "warning", "price", *TEXTS)


BEGINS = 'A part begins with ["its name"] and kind = "...".'


def part_files() -> list[Path]:
    """The catalogue's own files of parts."""
    return sorted(file for file in FOLDER.glob("*.toml") if file != ASSUMED)


def load(*extra: Path) -> Mapping[str, Entry]:
    """Every part of the catalogue by name, those of further files included.

    FileError lists all mistakes: file, line, key, what was found and what is wanted.
    """
    first, entries = _built_in()
    if not extra:
        return entries
    reader = _Reader(first)
    for file in extra:
        reader.add(file)
    return MappingProxyType({**entries, **reader.entries(reader.tables.keys() - entries.keys())})


@cache
def _built_in() -> tuple[_Reader, Mapping[str, Entry]]:
    """The catalogue's own parts, with the reader that knows their tables; read once."""
    reader = _Reader()
    for file in part_files():
        reader.add(file)
    return reader, MappingProxyType(reader.entries(reader.tables))


@dataclass(frozen=True)
class _File:
    """A file of parts, with what is wrong in it."""

    path: Path
    complaints: Complaints


class _Reader:
    """Gathers the tables of all files, then makes entries and notes what is wrong."""

    def __init__(self, first: _Reader | None = None) -> None:
        """first: a reader whose tables stand before those of the files to come."""
        self.tables: dict[str, Mapping[str, Any]] = dict(first.tables) if first else {}
        self.homes: dict[str, _File] = dict(first.homes) if first else {}
        self.files: list[_File] = []
        self.unreadable: list[FileError] = []

    def entries(self, names: Iterable[str]) -> dict[str, Entry]:
        """Entries of tables, in the order of the files; FileError with all that is wrong."""
        wanted = set(names)
        found = {name: self.entry(name) for name in self.tables if name in wanted}
        if errors := self.errors():
            first, *others = errors
            raise FileError(first.name, first.mistakes, first.source, others)
        return {name: entry for name, entry in found.items() if entry is not None}

    def errors(self) -> list[FileError]:
        """What is wrong with each file that cannot be used."""
        found = (file.complaints.error for file in self.files)
        return [*self.unreadable, *filter(None, found)]

    def add(self, path: Path) -> None:
        """Take in the tables of a file."""
        try:
            text = source_text(path)
            content = parsed(text, str(path), BEGINS)
        except FileError as error:
            self.unreadable.append(error)
            return
        file = _File(path, Complaints(str(path), text, content))
        self.files.append(file)
        for name, table in content.items():
            if not isinstance(table, dict):
                file.complaints.value((name,), f"found {table!r}, wanted is a table, [{name!r}]")
            elif name in self.tables:
                first = self.homes[name].path.name
                text = f"a part of this name is in {first} already; rename it"
                file.complaints.value((name,), text)
            else:
                self.tables[name], self.homes[name] = table, file

    def wrong(self, part: str, path: KeyPath, what: str) -> None:
        """Note a mistake; what a part takes from another one is noted there."""
        stated = self.tables[part]
        if "like" in stated and path and path[0] not in stated:
            return
        self.homes[part].complaints.value((part, *path), what)

    def unknown(
        self, part: str, path: KeyPath, what: str, found: object, among: Iterable[str]
    ) -> None:
        """Note a name that does not exist, with the nearest one that does."""
        text = f"found {found!r}, there is no such {what}. {nearest(str(found), among)}"
        self.wrong(part, path, text)

    def entry(self, part: str) -> Entry | None:
        """The entry of a part, or None with the mistakes noted."""
        table = self._whole(part)
        if table is None:
            return None
        device = self._device(part, table.get("kind"))
        if device is None:
            return None
        texts = {key: self._text(part, key, table.get(key)) for key in TEXTS}
        return Entry(
            name=part,
            kind=device.kind,
            trade=texts["trade"],
            package=texts["package"],
            pins=self._pins(part, device, texts["package"], table.get("pins", {})),
            options=self._options(part, device, table.get("options", {})),
            values=self._values(part, device, table),
            windows=self._windows(part, device, table),
            warning=self._text(part, "warning", table.get("warning", "")),
            price=self._price(part, table.get("price", "")),
        )

    def _device(self, part: str, found: object) -> Device | None:
        if found is None:
            self.wrong(part, ("kind",), 'kind is missing, wanted is a text, kind = "..."')
        elif not isinstance(found, str) or found not in kinds():
            self.unknown(part, ("kind",), "kind", found, kinds())
        return kinds().get(str(found))

    def _whole(self, part: str) -> dict[str, Any] | None:
        """A part's table, completed from the one that it is like."""
        table, seen = dict(self.tables[part]), {part}
        while "like" in table:
            model = table.pop("like")
            if not isinstance(model, str) or model not in self.tables:
                self.unknown(part, ("like",), "part", model, self.tables.keys() - {part})
                return None
            if model in seen:
                self.wrong(part, ("like",), f"found {model!r}, which is like this part in turn")
                return None
            seen.add(model)
            if "kind" in table and table["kind"] != self.tables[model].get("kind", table["kind"]):
                self.wrong(part, ("kind",), f"{model!r}, which it is like, is of another kind")
                return None
            table = {**self.tables[model], **table}
        return {key: found for key, found in table.items() if found is not False}

    def _text(self, part: str, key: str, found: object) -> str:
        if not isinstance(found, str):
            wanted = f'wanted is a text, {key} = "..."'
            missing = f"{key} is missing, {wanted}"
            self.wrong(part, (key,), missing if found is None else f"found {found!r}, {wanted}")
        return str(found)

    def _price(self, part: str, found: object) -> str:
        if found and found not in CLASSES:
            self.unknown(part, ("price",), "class of price", found, CLASSES)
        return str(found)

    def _pins(self, part: str, device: Device, package: str, found: object) -> Mapping[str, str]:
        if not isinstance(found, dict):
            self.wrong(part, ("pins",), f"found {found!r}, wanted is a table of pin = terminal")
            return {}
        for pin, terminal in found.items():
            if pin not in device.pins:
                self.unknown(part, ("pins", pin), f"pin of a {device.kind}", pin, device.pins)
            elif not isinstance(terminal, str):
                self.wrong(part, ("pins", pin), f"found {terminal!r}, wanted is a terminal's text")
        missing = [p for p, pin in device.pins.items() if not pin.optional and p not in found]
        if found and missing:
            self.wrong(part, ("pins",), f"wanted are also {', '.join(missing)}")
        self._terminals(part, device, package, found)
        return MappingProxyType({pin: str(terminal) for pin, terminal in found.items()})

    def _terminals(
        self, part: str, device: Device, package: str, pins: Mapping[str, object]
    ) -> None:
        """Complain of terminals that the package lacks, and of two pins on one of them."""
        there, taken = terminals(package), dict[object, str]()
        for pin, terminal in pins.items():
            if there and terminal not in there:
                what = f"terminal of a {package}"
                self.unknown(part, ("pins", pin), what, terminal, there)
            if pin not in device.pins or device.pins[pin].role == "thermal":
                continue
            if terminal in taken:
                text = f"found {terminal!r}, where {taken[terminal]} is already"
                self.wrong(part, ("pins", pin), text)
            taken[terminal] = pin

    def _options(self, part: str, device: Device, found: object) -> Mapping[str, str]:
        if not isinstance(found, dict):
            self.wrong(part, ("options",), f"found {found!r}, wanted is a table of option = choice")
            return {}
        for option, choice in found.items():
            if option not in device.options:
                what = f"option of a {device.kind}"
                self.unknown(part, ("options", option), what, option, device.options)
            elif choice not in device.options[option]:
                self.unknown(part, ("options", option), "choice", choice, device.options[option])
        for option, words in device.options.items():
            if option not in found and len(words) > 1:
                text = f"a {device.kind} needs its {option}, one of: {', '.join(words)}"
                self.wrong(part, ("options",), text)
        return MappingProxyType({option: str(choice) for option, choice in found.items()})

    def _values(
        self, part: str, device: Device, table: Mapping[str, Any]
    ) -> Mapping[str, KnownValue]:
        others = {*FIXED, *device.windows}
        rows = {name: row for name, row in table.items() if name not in others}
        for name, value in device.values.items():
            if name not in rows and value.default is None and not value.dynamic:
                row = f'{{ typical = ..., unit = "{UNITS[value.unit].plain}", from = "..." }}'
                text = f"a {device.kind} needs {name} ({value.meaning}), {name} = {row}"
                self.wrong(part, (name,), text)
        read = {name: self._value(part, device, name, row) for name, row in rows.items()}
        return MappingProxyType({name: v for name, v in read.items() if v is not None})

    def _windows(
        self, part: str, device: Device, table: Mapping[str, Any]
    ) -> Mapping[str, KnownWindow]:
        read = {
            name: self._row(part, name, table[name], partial(known_window, window))
            for name, window in device.windows.items()
            if name in table
        }
        return MappingProxyType({name: w for name, w in read.items() if w is not None})

    def _value(self, part: str, device: Device, name: str, row: object) -> KnownValue | None:
        known = [*device.values, *device.ratings]
        if name not in known:
            what = f"value, rating or window of a {device.kind}"
            self.unknown(part, (name,), what, name, [*known, *device.windows, *FIXED])
            return None
        return self._row(part, name, row, partial(known_value, device, name))

    def _row(
        self, part: str, name: str, row: object, read: Callable[[Mapping[str, Any]], T]
    ) -> T | None:
        """What is read of a row, or None with the mistakes noted."""
        if not isinstance(row, dict):
            self.wrong(part, (name,), f"found {row!r}, wanted is a table with {', '.join(KEYS)}")
            return None
        for key in row.keys() - set(KEYS):
            self.unknown(part, (name, key), "key of a row", key, KEYS)
        try:
            return read(row)
        except RowErrors as error:
            for mistake in error.mistakes:
                self.wrong(part, (name, *filter(None, [mistake.key])), str(mistake))
        return None
