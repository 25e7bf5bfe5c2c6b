"""The examples that the study of mistakes begins from, and changes of their tables."""

from __future__ import annotations

import copy
import hashlib
import json
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import tomlkit

from railwright.catalogue.entry import Entry
from railwright.catalogue.loader import load
from railwright.circuit.circuit import Part
from railwright.circuit.design import Design, read_text

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = (
    "model-shop-knob",
    "panel-five-volts",
    "radio-bench-rail",
    "workshop-twelve-volts",
    "bench-twelve-volts-limited",
    "amplifier-minus-nine-volts",
)
"""Linear, step-down, step-down with linear, transformer-fed, constant-current, negative."""
Tables = dict[str, Any]


UNHEARD = ("title", "why", "block", "panel", "stage", "enclosure", "gives_up_after")
"""Keys that no verdict on a change looks at."""


def digest(tables: Tables) -> str:
    """What tells one design from another, as far as verdicts look at it."""
    text = json.dumps(_heard(tables), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]


def _heard(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _heard(each) for key, each in value.items() if key not in UNHEARD}
    return [_heard(each) for each in value] if isinstance(value, list) else value


@dataclass(frozen=True)
class Change:
    """One change of one example, of which it is not said here whether it is a mistake."""

    example: str
    kind: str
    what: str
    tables: Tables = field(repr=False, compare=False)
    """Those of the changed design."""
    parts: tuple[str, ...]
    """Refs one of which a finding must name: what was changed, or the neighbours of what went."""
    rewired: bool = False
    """Whether parts or nets differ, and not values alone."""

    @property
    def id(self) -> str:
        return f"{self.example}: {self.kind}: {self.what}"

    @cached_property
    def text(self) -> str:
        """The changed design as a file."""
        return tomlkit.dumps(self.tables)

    @property
    def digest(self) -> str:
        return digest(self.tables)

    def design(self) -> Design:
        return read_text(self.text, f"{self.example}.toml")


@dataclass(frozen=True)
class Board:
    """An example, with what changes of it need."""

    name: str

    @cached_property
    def text(self) -> str:
        return (EXAMPLES / f"{self.name}.toml").read_text("utf-8")

    @cached_property
    def tables(self) -> Tables:
        return tomllib.loads(self.text)

    @cached_property
    def design(self) -> Design:
        return read_text(self.text, self.name)

    @property
    def parts(self) -> Sequence[Part]:
        return self.design.circuit.parts

    @cached_property
    def outside(self) -> set[str]:
        """Nets that the need or a thermal chain names."""
        need = self.tables["need"]
        found = set(need["input"]["nets"].values())
        for output in need["output"]:
            found |= set(output["nets"].values())
        return found | set(self.design.circuit.thermal_nets)

    @cached_property
    def nets(self) -> list[str]:
        return list(self.design.circuit.nets)

    def neighbours(self, ref: str) -> tuple[str, ...]:
        """Parts that share a net with a part."""
        circuit = self.design.circuit
        found: dict[str, None] = {}
        for net in circuit.part(ref).pins.values():
            for other, _ in circuit.on_net(net):
                if other.ref != ref:
                    found[other.ref] = None
        return tuple(found)

    def changed(
        self,
        kind: str,
        what: str,
        parts: Sequence[str],
        edit: Callable[[Mapping[str, Tables], Tables], None],
        rewired: bool = False,
    ) -> Change:
        """A change: `edit` gets the part tables by ref, and all tables."""
        tables = copy.deepcopy(self.tables)
        edit({part["ref"]: part for part in tables["part"]}, tables)
        return Change(self.name, kind, what, tables, tuple(parts), rewired)


CATALOGUE: Mapping[str, Entry] = load()
