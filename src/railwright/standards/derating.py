"""Derating policies: how much of its rating a part may see.

A policy is a TOML file; `nasa_mil_std_975m.toml` beside this file shows and explains the form.
No answer (None) means that the policy has no row for the question, which is not a permission.

>>> policy = POLICIES["NASA MIL-STD-975M"]
>>> policy.ratio("diode", "reverse voltage"), policy.junction("regulator")
(0.7, 373.15)
>>> float(policy.resistor_power(313.15)), float(policy.fuse_current(2.0, 298.15))
(0.6, 0.5)
>>> policy.ratio("capacitor aluminium electrolytic", "voltage") is None
True
"""

import math
import re
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path

from railwright.files.complaints import Complaints
from railwright.files.locate import KeyPath
from railwright.files.mistakes import nearest
from railwright.files.source import parsed, source_text
from railwright.standards.policy import Curve, FuseRows, Policy

__all__ = ["POLICIES", "Policy", "load_policy"]

_ZERO_CELSIUS = 273.15  # K; quantity.py stands on this folder, so it cannot be asked
_BEGINS = 'A policy begins with name = "..." and source = "...".'
_FUSE_KEYS = ("current", "greatest", "less_per_kelvin", "from")
_POINT = {"at": "60 °C", "rated": "0.5 A"}
"""What a point of a curve states beside its ratio, and what that looks like."""


def load_policy(path: str | Path) -> Policy:
    """The policy in a file.

    FileError lists all mistakes: file, line, key, what was found and what is wanted.
    """
    text = source_text(Path(path))
    document = parsed(text, str(path), _BEGINS)
    complaints = Complaints(str(path), text, document)
    policy = _Reader(complaints).policy(document)
    complaints.finish()
    return policy


class _Reader:
    """Reads the tables of a policy; what is no use is complained of and read as nan."""

    def __init__(self, complaints: Complaints) -> None:
        self.complaints = complaints

    def policy(self, document: Mapping[str, object]) -> Policy:
        rows: dict[tuple[str, str], float | Curve] = {}
        limits: dict[str, dict[str, float]] = {"junction": {}, "body": {}}
        fuses = None
        for family, entries in document.items():
            if family in ("name", "source"):
                continue
            if not isinstance(entries, dict):
                self.wrong((family,), entries, "a table of ratings")
            elif family == "fuse":
                fuses = self.fuses(entries)
            else:
                for key, found in entries.items():
                    path = (family, key)
                    if key in limits:
                        limits[key][family] = self.temperature(found, path)
                    elif isinstance(found, list):
                        rows[family, key] = Curve(*self.points(found, path, "at"))
                    else:
                        rows[family, key] = self.ratio(found, path)
        name, source = (self.text(document.get(key), (key,)) for key in ("name", "source"))
        return Policy(name, source, rows, limits["junction"], limits["body"], fuses)

    def wrong(self, path: KeyPath, found: object, wanted: str) -> None:
        self.complaints.value(path, f"found {found!r}, wanted is {wanted}")

    def text(self, found: object, path: KeyPath) -> str:
        if found is None:
            self.complaints.value(path, f"{path[-1]} is missing. {_BEGINS}")
        elif not isinstance(found, str) or not found.strip():
            self.wrong(path, found, "a text")
        return str(found)

    def number(self, found: object, path: KeyPath, most: float, wanted: str) -> float:
        if isinstance(found, int | float) and not isinstance(found, bool) and 0 <= found <= most:
            return float(found)
        self.wrong(path, found, wanted)
        return math.nan

    def ratio(self, found: object, path: KeyPath) -> float:
        return self.number(found, path, 1.0, "a ratio from 0 to 1, as 0.7")

    def measure(self, found: object, path: KeyPath, unit: str, example: str) -> float:
        pattern = rf"(-?[0-9]+(?:\.[0-9]+)?) ?{unit}"
        match = re.fullmatch(pattern, found) if isinstance(found, str) else None
        if match is None:
            self.wrong(path, found, f'a text with its unit, as "{example}"')
            return math.nan
        return float(match[1])

    def temperature(self, found: object, path: KeyPath) -> float:
        return self.measure(found, path, "°C", "125 °C") + _ZERO_CELSIUS

    def current(self, found: object, path: KeyPath) -> float:
        return self.measure(found, path, "A", "0.5 A")

    def points(
        self, found: object, path: KeyPath, key: str
    ) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """A list of tables with a rising `key` and a ratio."""
        form = f'{{ {key} = "{_POINT[key]}", ratio = 0.5 }}'
        if not isinstance(found, list) or not found:
            self.wrong(path, found, f"a list of points, as [{form}]")
            return (), ()
        read = self.temperature if key == "at" else self.current
        places, ratios = [], []
        for number, point in enumerate(found):
            here = (*path, number)
            if not isinstance(point, dict) or point.keys() != {key, "ratio"}:
                self.wrong(here, point, f"a point, as {form}")
                continue
            places.append(read(point[key], (*here, key)))
            ratios.append(self.ratio(point["ratio"], (*here, "ratio")))
        rises = all(before < after for before, after in pairwise(places))
        if not rises and not any(map(math.isnan, places)):
            self.complaints.value(path, f"wanted is points with rising {key}")
        return tuple(places), tuple(ratios)

    def fuses(self, table: Mapping[str, object]) -> FuseRows | None:
        for key in table.keys() - set(_FUSE_KEYS):
            text = f"found {key!r}, there is no such key. {nearest(key, _FUSE_KEYS)}"
            self.complaints.key(("fuse", key), text)
        missing = [key for key in _FUSE_KEYS if key not in table]
        for key in missing:
            self.complaints.value(("fuse", key), f"{key} is missing")
        if missing:
            return None
        rated, ratios = self.points(table["current"], ("fuse", "current"), "rated")
        falls = "0 or more, as 0.005"
        return FuseRows(
            rated,
            ratios,
            self.current(table["greatest"], ("fuse", "greatest")),
            self.number(table["less_per_kelvin"], ("fuse", "less_per_kelvin"), math.inf, falls),
            self.temperature(table["from"], ("fuse", "from")),
        )


POLICIES: Mapping[str, Policy] = {
    policy.name: policy
    for policy in (
        load_policy(Path(__file__).with_name("nasa_mil_std_975m.toml")),
        Policy("none", "no derating: every rating may be used in full", otherwise=1.0),
    )
}
