"""Where each value of a part comes from: its table, the catalogue, the need, or an assumption."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from railwright.catalogue.assumed import assumed_factors, assumed_spread
from railwright.catalogue.entry import Entry, KnownValue, KnownWindow
from railwright.circuit.circuit import Part, PartValue
from railwright.circuit.given import Given, GivenForm
from railwright.circuit.need import PartsPolicy
from railwright.circuit.part_table import PartTable
from railwright.circuit.schema import Document
from railwright.devices import kinds
from railwright.devices.device import Device, Value
from railwright.files.complaints import Complaints
from railwright.files.locate import KeyPath
from railwright.files.mistakes import nearest
from railwright.quantity import Spread

DESIGN_FILE = "design file"
DEFAULT = "taken by this kind where nothing is said"


def resolve(
    document: Document,
    catalogue: Mapping[str, Entry],
    complaints: Complaints,
    is_whole: bool = True,
) -> tuple[Part, ...]:
    """The parts of a document with every value; complains of those that nobody gives.

    A value comes from the part's own table; else from the catalogue's entry that it uses; else
    from what its kind takes for nil. Where the table gives a value without a spread, its spread
    is the entry's, in proportion; else a resistor's is that of the need; else an assumed one.
    is_whole: whether a part that the catalogue lacks is nowhere else, so that to use it is wrong.
    """
    parts = []
    for index, table in enumerate(document.part):
        if table.ref and table.kind:
            path: KeyPath = ("part", index)
            entry = _entry(table, path, catalogue, complaints, is_whole)
            device = kinds()[table.kind]
            parts.append(_Resolver(table, device, entry, path, document.need.parts, complaints))
    return tuple(resolver.part() for resolver in parts)


def _entry(
    table: PartTable,
    path: KeyPath,
    catalogue: Mapping[str, Entry],
    complaints: Complaints,
    is_whole: bool,
) -> Entry | None:
    """The catalogue's entry that a part uses, if it is one of its kind."""
    if not table.use:
        return None
    entry = catalogue.get(table.use)
    if entry is None and not is_whole:
        return None
    if entry is None:
        alike = [name for name, each in catalogue.items() if each.kind == table.kind]
        text = f'no such part "{table.use}" in the catalogue. {nearest(table.use, sorted(alike))}'
        complaints.value((*path, "use"), text)
        return None
    if entry.kind != table.kind:
        text = f'"{table.use}" is a {entry.kind}, not a {table.kind}. Exchange use or kind.'
        complaints.value((*path, "use"), text)
        return None
    return entry


@dataclass(frozen=True)
class _Resolver:
    table: PartTable
    device: Device
    entry: Entry | None
    path: KeyPath
    policy: PartsPolicy
    complaints: Complaints

    def part(self) -> Part:
        table, entry = self.table, self.entry
        known = entry.values if entry else {}
        values = {
            name: found
            for name, value in self.device.values.items()
            if (found := self.value(name, value, known.get(name))) is not None
        }
        ratings = {
            name: known[name].spread.typical for name in self.device.ratings if name in known
        }
        return Part(
            ref=table.ref,
            kind=table.kind,
            device=self.device,
            pins=self.pins(),
            values=values,
            ratings={**ratings, **table.ratings},
            options=self.options(),
            windows=self.windows(),
            block=table.block,
            why=table.why,
            use=table.use or "",
            tracks=table.tracks,
            package=table.package or (entry.package if entry else ""),
            terminals=table.terminals,
            order=entry.pins if entry and table.package in ("", entry.package) else {},
            warning=entry.warning if entry else "",
        )

    def missing(self, path: KeyPath, text: str) -> None:
        """Complain of what nobody gives, unless the entry that might give it was not found."""
        if self.entry is not None or self.table.use is None:
            self.complaints.value((*self.path, *path), text)

    def pins(self) -> Mapping[str, str]:
        """The pins as the table has them; complains of those that the entry's package lacks."""
        entry = self.entry
        if entry and entry.pins:
            for pin in self.table.pins.keys() - entry.pins.keys():
                text = f'"{entry.name}" has no pin "{pin}". {nearest(pin, entry.pins)}'
                self.complaints.value((*self.path, "pins", pin), text)
        return self.table.pins

    def options(self) -> dict[str, str]:
        """A choice for every option of the kind."""
        chosen = {}
        for name, words in self.device.options.items():
            own = self.table.options.get(name)
            given = self.entry.options.get(name) if self.entry else None
            if own and given and own != given:
                text = f'"{self.table.use}" is {given}. Write that, or use another part.'
                self.complaints.value((*self.path, "options", name), text)
            if own is None and given is None and len(words) > 1:
                text = f'no {name}. Write options = {{ {name} = "..." }}'
                text += f", with one of: {', '.join(words)}."
                self.missing(("options", name), text)
            chosen[name] = own or given or words[0]
        return chosen

    def windows(self) -> dict[str, KnownWindow]:
        """Those of the catalogue's entry, save where the part's own table has others."""
        own = {
            name: KnownWindow(given.minimum, given.maximum, window.unit, DESIGN_FILE)
            for name, window in self.device.windows.items()
            if (given := self.table.windows.get(name)) is not None
        }
        return {**(self.entry.windows if self.entry else {}), **own}

    def value(self, name: str, value: Value, known: KnownValue | None) -> PartValue | None:
        """A value from the nearest place that gives it; None after a complaint."""
        given = self.table.values.get(name)
        if given is not None:
            return None if math.isnan(given.typical) else self.given(name, value, given, known)
        if known is not None and not known.relative:
            return PartValue(known.spread, value.unit, known.source, known.assumed)
        if value.default is not None:
            return PartValue(Spread.exact(value.default), value.unit, DEFAULT, assumed=False)
        if value.dynamic:
            return None  # the analysis that needs it says so
        example = GivenForm(value).example
        meaning = "" if value.meaning == name else f" ({value.meaning})"
        text = f"no {name}{meaning}. Write {name} = {example}, or name a catalogue part with use."
        self.missing((name,), text)
        return None

    def given(self, name: str, value: Value, given: Given, known: KnownValue | None) -> PartValue:
        """The value of the part's own table, with a spread from the nearest place that has one."""
        assumed, tolerance = False, self.policy.resistor_tolerance
        if given.spread is not None:
            spread, source = given.spread, DESIGN_FILE
        elif known is not None:
            spread = _in_proportion(given.typical, known)
            source, assumed = f"{DESIGN_FILE}; spread: {known.source}", known.assumed
        elif self.table.kind == "resistor" and tolerance is not None and tolerance >= 0:
            spread = Spread.tolerance(given.typical, tolerance)
            source = f"{DESIGN_FILE}; tolerance: need.parts.resistor_tolerance"
        else:
            kind = self.table.kind
            spread = assumed_spread(kind, name, given.typical)
            # Of what is stated rather than measured, such as a test current, nothing is assumed.
            assumed = not spread.is_exact
            source = f"{DESIGN_FILE}; spread: {assumed_factors(kind, name).why}"
            if value.signed:
                most = max(-spread.low, spread.high)
                spread = Spread.limits(-most, 0.0, most)
        if given.drift is not None:
            spread = replace(spread, drift=given.drift)
        return PartValue(_possible(spread, value), value.unit, source, assumed)


def _in_proportion(typical: float, known: KnownValue) -> Spread:
    """A spread around a value that is as wide as a known one is around its own."""
    spread = known.spread
    if spread.typical:
        return spread.scaled(typical / spread.typical)
    return Spread(typical + spread.low, typical, typical + spread.high, spread.shape, spread.drift)


def _possible(spread: Spread, value: Value) -> Spread:
    """A spread cut off where the value would become impossible."""
    low = spread.low if value.least is None else max(spread.low, value.least)
    high = spread.high if value.most is None else min(spread.high, value.most)
    return replace(spread, low=low, high=high)
