"""Cores, their materials and enamelled wire: the tables of `cores.toml` beside this file.

>>> core = cores()["ETD39"]
>>> round(core.area_product * 1e8, 3), core.thermal_resistance
(2.175, 15.0)
"""

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from railwright.standards.magnetics import Core, Material

_FILE = Path(__file__).with_name("cores.toml")

# quantity.py stands on this folder, so it cannot be asked.
_UNITS = {
    "mm": 1e-3,
    "mm²": 1e-6,
    "K/W": 1.0,
    "T": 1.0,
    "kHz": 1e3,
    "kW/m³": 1e3,
}
_CORE = {"area", "path", "window", "turn", "from"}
_CORE_OPTIONAL = {"width", "thermal_resistance"}
_MATERIAL = {
    "saturation": "T",
    "loss": "kW/m³",
    "reference_frequency": "kHz",
    "reference_flux": "T",
    "least_frequency": "kHz",
    "greatest_frequency": "kHz",
}
_NUMBERS = ("permeability", "frequency_exponent", "flux_exponent")


class CoreError(ValueError):
    """A file of cores that cannot be used: the file, and for each mistake its table and key."""


@cache
def cores() -> Mapping[str, Core]:
    """The cores by name, from the least volume up."""
    found = sorted(_tables()[0].values(), key=lambda core: core.volume)
    return MappingProxyType({core.name: core for core in found})


@cache
def materials() -> Mapping[str, Material]:
    """The materials by name."""
    return MappingProxyType(_tables()[1])


@cache
def overall_diameters() -> Mapping[int, float]:
    """Diameter over the enamel [m] by American wire gauge, thick wire first."""
    return MappingProxyType(_tables()[2])


def load(path: Path) -> tuple[dict[str, Core], dict[str, Material], dict[int, float]]:
    """Cores, materials and wire of a file. CoreError tells all its mistakes at once."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise CoreError(f"{path}: not a readable file of cores: {error}") from error
    reader = _Reader()
    read = reader.everything(table)
    if reader.mistakes:
        count, lines = len(reader.mistakes), "\n  ".join(reader.mistakes)
        raise CoreError(f"{path}, {count} mistake{'s' * (count > 1)}\n  {lines}")
    return read


@cache
def _tables() -> tuple[dict[str, Core], dict[str, Material], dict[int, float]]:
    return load(_FILE)


class _Reader:
    """Reads the tables and gathers what is wrong with them."""

    def __init__(self) -> None:
        self.mistakes: list[str] = []

    def everything(
        self, table: dict[str, object]
    ) -> tuple[dict[str, Core], dict[str, Material], dict[int, float]]:
        for key in table.keys() - {"core", "material", "wire"}:
            self.wrong(key, table[key], "one of core, material, wire")
        wire = self.table(table.get("wire", {}), "wire")
        if wire:
            self.text(wire, "wire")
        return (
            {name: self.core(name, row) for name, row in self.rows(table, "core")},
            {name: self.material(name, row) for name, row in self.rows(table, "material")},
            self.gauges(self.table(wire.get("overall", {}), "wire.overall")),
        )

    def gauges(self, table: dict[str, object]) -> dict[int, float]:
        found = {}
        for gauge in table:
            if gauge.isdecimal():
                found[int(gauge)] = self.measure(table, gauge, "mm", "wire.overall")
            else:
                self.wrong("wire.overall", gauge, "a gauge, as 24")
        return dict(sorted(found.items()))

    def rows(self, table: dict[str, object], family: str) -> list[tuple[str, dict[str, object]]]:
        named = self.table(table.get(family, {}), family)
        return [(name, self.table(row, f"{family} {name}")) for name, row in named.items()]

    def core(self, name: str, row: dict[str, object]) -> Core:
        where = f"core {name}"
        self.keys(row, where, _CORE, _CORE_OPTIONAL)
        return Core(
            name=name,
            area=self.measure(row, "area", "mm²", where),
            path=self.measure(row, "path", "mm", where),
            window=self.measure(row, "window", "mm²", where),
            turn=self.measure(row, "turn", "mm", where),
            width=self.measure(row, "width", "mm", where) if "width" in row else None,
            thermal_resistance=self.measure(row, "thermal_resistance", "K/W", where)
            if "thermal_resistance" in row
            else None,
            source=self.text(row, where),
        )

    def material(self, name: str, row: dict[str, object]) -> Material:
        where = f"material {name}"
        self.keys(row, where, {*_MATERIAL, *_NUMBERS, "from"}, set())
        values = {key: self.measure(row, key, unit, where) for key, unit in _MATERIAL.items()}
        span = values.pop("least_frequency"), values.pop("greatest_frequency")
        numbers = {key: self.number(row, key, where) for key in _NUMBERS}
        return Material(
            name=name, **values, **numbers, frequencies=span, source=self.text(row, where)
        )

    def wrong(self, where: str, found: object, wanted: str) -> None:
        self.mistakes.append(f"{where}: found {found!r}, wanted is {wanted}")

    def table(self, found: object, where: str) -> dict[str, object]:
        if isinstance(found, dict):
            return found
        self.wrong(where, found, "a table")
        return {}

    def keys(
        self, row: dict[str, object], where: str, needed: set[str], optional: set[str]
    ) -> None:
        if row.keys() - optional != needed:
            self.wrong(where, ", ".join(sorted(row)), f"the keys {', '.join(sorted(needed))}")

    def text(self, row: dict[str, object], where: str) -> str:
        found = row.get("from")
        if not isinstance(found, str) or not found.strip():
            self.wrong(f"{where}, from", found, "where the values come from")
        return str(found)

    def number(self, row: dict[str, object], key: str, where: str) -> float:
        found = row.get(key)
        if isinstance(found, int | float) and not isinstance(found, bool) and found > 0:
            return float(found)
        self.wrong(f"{where}, {key}", found, "a number above 0")
        return 1.0

    def measure(self, row: dict[str, object], key: str, unit: str, where: str) -> float:
        found = row.get(key)
        pattern = rf"([0-9]+(?:\.[0-9]+)?) {re.escape(unit)}"
        match = re.fullmatch(pattern, found) if isinstance(found, str) else None
        if match is None or float(match[1]) == 0:
            self.wrong(f"{where}, {key}", found, f'a text with its unit, as "1.5 {unit}"')
            return 1.0
        return float(match[1]) * _UNITS[unit]
