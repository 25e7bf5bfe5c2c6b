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
import tomllib
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path

from railwright.standards.policy import Curve, FuseRows, Policy

__all__ = ["POLICIES", "Policy", "PolicyError", "load_policy"]

_ZERO_CELSIUS = 273.15  # K; quantity.py stands on this folder, so it cannot be asked


class PolicyError(ValueError):
    """A policy file that cannot be used: the file, and for each mistake its key and what to do."""


def load_policy(path: str | Path) -> Policy:
    """The policy in a file. PolicyError, with all mistakes at once, where it cannot be used."""
    try:
        table = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else error
        raise PolicyError(f"{path}: not a readable policy file: {why}") from error
    reader = _Reader()
    policy = reader.policy(table)
    if reader.mistakes:
        count = len(reader.mistakes)
        lines = "\n  ".join(reader.mistakes)
        raise PolicyError(f"{path}, {count} mistake{'s' * (count > 1)}\n  {lines}")
    return policy


class _Reader:
    """Reads the tables of a policy and gathers what is wrong with them."""

    def __init__(self) -> None:
        self.mistakes: list[str] = []

    def policy(self, table: dict[str, object]) -> Policy:
        name = self.text(table.pop("name", None), "name")
        source = self.text(table.pop("source", None), "source")
        rows: dict[tuple[str, str], float | Curve] = {}
        limits: dict[str, dict[str, float]] = {"junction": {}, "body": {}}
        fuses = None
        for family, entries in table.items():
            if not isinstance(entries, dict):
                self.wrong(family, entries, "a table of ratings")
            elif family == "fuse":
                fuses = self.fuses(entries)
            else:
                for key, found in entries.items():
                    where = f"{family}, {key}"
                    if key in limits:
                        limits[key][family] = self.temperature(found, where)
                    elif isinstance(found, list):
                        rows[family, key] = self.curve(found, where)
                    else:
                        rows[family, key] = self.ratio(found, where)
        return Policy(name, source, rows, limits["junction"], limits["body"], fuses)

    def wrong(self, where: str, found: object, wanted: str) -> None:
        self.mistakes.append(f"{where}: found {found!r}, wanted is {wanted}")

    def text(self, found: object, where: str) -> str:
        if not isinstance(found, str) or not found.strip():
            self.wrong(where, found, "a text")
        return str(found)

    def number(self, found: object, where: str, most: float, wanted: str) -> float:
        if isinstance(found, int | float) and not isinstance(found, bool) and 0 <= found <= most:
            return float(found)
        self.wrong(where, found, wanted)
        return math.nan

    def ratio(self, found: object, where: str) -> float:
        return self.number(found, where, 1.0, "a ratio from 0 to 1, as 0.7")

    def measure(self, found: object, where: str, unit: str, example: str) -> float:
        pattern = rf"(-?[0-9]+(?:\.[0-9]+)?) ?{unit}"
        match = re.fullmatch(pattern, found) if isinstance(found, str) else None
        if match is None:
            self.wrong(where, found, f'a text with its unit, as "{example}"')
            return math.nan
        return float(match[1])

    def temperature(self, found: object, where: str) -> float:
        return self.measure(found, where, "°C", "125 °C") + _ZERO_CELSIUS

    def current(self, found: object, where: str) -> float:
        return self.measure(found, where, "A", "0.5 A")

    def points(
        self, found: object, where: str, key: str
    ) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """A list of tables with a rising `key` and a ratio."""
        if not isinstance(found, list) or not found:
            self.wrong(where, found, f"a list of points with {key} and ratio")
            return (), ()
        read = self.temperature if key == "at" else self.current
        places, ratios = [], []
        for number, point in enumerate(found, start=1):
            here = f"{where}, point {number}"
            if not isinstance(point, dict) or point.keys() != {key, "ratio"}:
                self.wrong(here, point, f"a table with {key} and ratio")
                continue
            places.append(read(point[key], here))
            ratios.append(self.ratio(point["ratio"], here))
        rises = all(before < after for before, after in pairwise(places))
        if not rises and not any(map(math.isnan, places)):
            self.wrong(where, found, f"points with rising {key}")
        return tuple(places), tuple(ratios)

    def curve(self, found: list[object], where: str) -> Curve:
        return Curve(*self.points(found, where, "at"))

    def fuses(self, table: dict[str, object]) -> FuseRows | None:
        keys = {"current", "greatest", "less_per_kelvin", "from"}
        if table.keys() != keys:
            self.wrong("fuse", sorted(table), f"the keys {', '.join(sorted(keys))}")
            return None
        rated, ratios = self.points(table["current"], "fuse, current", "rated")
        return FuseRows(
            rated,
            ratios,
            self.current(table["greatest"], "fuse, greatest"),
            self.number(
                table["less_per_kelvin"], "fuse, less_per_kelvin", math.inf, "0 or more, as 0.005"
            ),
            self.temperature(table["from"], "fuse, from"),
        )


POLICIES: Mapping[str, Policy] = {
    policy.name: policy
    for policy in (
        load_policy(Path(__file__).with_name("nasa_mil_std_975m.toml")),
        Policy("none", "no derating: every rating may be used in full", otherwise=1.0),
    )
}
