"""The bill of materials: what is bought, how many, and what each has to bear."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from railwright.circuit.circuit import Part
from railwright.make.columns import csv_of
from railwright.make.document import Document, Job
from railwright.make.needed import Needed, most_of, needed, substitutes
from railwright.pages.sheet import Grid, Points, Section, Sheet, Words
from railwright.quantity import show
from railwright.surveys.faults import CODED

HEADING = (
    "quantity",
    "spare",
    "refs",
    "part",
    "value",
    "tolerance",
    "ratings needed",
    "ratings chosen",
    "package",
    "price of one",
    "may be substituted by",
    "to look out for",
)
SPARES: Mapping[str, int] = {"fuse": 3}
"""Pieces that are kept beside those that are fitted (common practice, no source)."""
SMALL = ("resistor", "capacitor", "diode", "zener", "bipolar-transistor", "light-emitting-diode")
SMALL_SPARE = 0.2
"""Share of small parts that is bought beside, at least one: they are lost, and burnt at the first
try (common practice, no source)."""
CHEAP = ("to 0.1 €", "0.1 to 0.3 €", "0.3 to 1 €")
"""Classes of price of which spares of small parts are kept."""


NEGLIGIBLE = 1e-3
"""Share of a rating below which it does not matter which one is bought."""
_UNIT = re.compile(r"(?<=\d)[A-Z]$")


@dataclass(frozen=True)
class Item:
    """What is bought alike: one line of the bill."""

    parts: tuple[Part, ...]
    part: str
    """Trade's name of the type; the kind where the design names no type."""
    value: str
    tolerance: str
    needed: Needed
    ratings: Mapping[str, float]
    package: str
    price: str
    spare: int
    substitutes: tuple[str, ...]
    warning: str

    @property
    def refs(self) -> tuple[str, ...]:
        """In the order of the design."""
        return tuple(part.ref for part in self.parts)

    @property
    def pieces(self) -> int:
        """How many are bought: units of one package share its ref, with a letter behind."""
        return len({_UNIT.sub("", ref) for ref in self.refs})


def bill(job: Job) -> tuple[Item, ...]:
    """Every part of the circuit in exactly one line, in the order of the design's first of each."""
    asked = needed(job)
    parts = job.design.circuit.parts
    first = {_alike(part): place for place, part in reversed(list(enumerate(parts)))}
    turned = sorted(parts, key=lambda part: first[_alike(part)])
    return tuple(_item(job, tuple(several), asked) for _, several in groupby(turned, key=_alike))


def _alike(part: Part) -> tuple[object, ...]:
    values = tuple((name, value.spread) for name, value in sorted(part.values.items()))
    ratings = tuple(sorted(part.ratings.items()))
    return part.kind, part.use, part.package, tuple(sorted(part.options.items())), values, ratings


def _item(job: Job, parts: tuple[Part, ...], asked: Mapping[str, Needed]) -> Item:
    part = parts[0]
    entry = job.catalogue.get(part.use)
    least = most_of(asked.get(each.ref, {}) for each in parts)
    price = entry.price if entry else ""
    return Item(
        parts=parts,
        part=part.use or part.kind.replace("-", " "),
        value=value_of(part),
        tolerance=_tolerance(part),
        needed=least,
        ratings=part.ratings,
        package=part.package,
        price=price,
        spare=_spare(part, len(parts), price),
        substitutes=tuple(substitutes(part, least, job.catalogue)),
        warning=part.warning,
    )


def _coded(part: Part) -> str:
    name = CODED.get(part.kind, "")
    return name if name in part.values else ""


def value_of(part: Part) -> str:
    """The value that it is bought by; empty where its type says it."""
    name = _coded(part)
    if not name:
        return ""
    value = part.values[name]
    return show(value.spread.typical, value.unit, 4)


def _tolerance(part: Part) -> str:
    """The greater of both sides, of the value that it is bought by."""
    name = _coded(part)
    if not name or not part.values[name].spread.typical:
        return ""
    spread = part.values[name].spread
    off = max(spread.high - spread.typical, spread.typical - spread.low) / spread.typical
    return show(off, "1")


def _spare(part: Part, count: int, price: str) -> int:
    if part.kind in SPARES:
        return SPARES[part.kind]
    if part.kind in SMALL and price in CHEAP:
        return max(1, round(SMALL_SPARE * count))
    return 0


def needed_in_words(item: Item) -> str:
    """What is needed of its ratings, where that matters."""
    return _rated(item, _mattering(item))


def needed_of_chosen(item: Item) -> str:
    """What is needed of its ratings, and what they are as chosen, where that matters."""
    declared = item.parts[0].device.ratings
    return "; ".join(
        f"{name.replace('_', ' ')} {show(least, declared[name].unit)} of "
        f"{show(item.ratings[name], declared[name].unit)}"
        for name, least in _mattering(item).items()
    )


def _mattering(item: Item) -> Mapping[str, float]:
    """Ratings of which a share is needed that counts, in the order of the kind."""
    found = item.needed
    return {
        name: found[name]
        for name in item.parts[0].device.ratings
        if name in found and found[name] > NEGLIGIBLE * item.ratings[name]
    }


def _rated(item: Item, found: Mapping[str, float]) -> str:
    """Ratings in words, in the order in which the kind declares them."""
    declared = item.parts[0].device.ratings
    told = [
        f"{name.replace('_', ' ')} {show(found[name], rating.unit)}"
        for name, rating in declared.items()
        if name in found
    ]
    return "; ".join(told)


_MADE = (
    "bill-of-materials.csv has the same for a spreadsheet, with all ratings as chosen and prices."
)
_LEAD = (
    "Pieces to be fitted + spare ones. A rating that is needed is the one of which the derating "
    "policy allows just what the proof saw at its worst. What may be substituted lies within all "
    "that was proved; anything else wants a proof of its own."
)


class Bill(Document):
    """The bill as a table, and for a spreadsheet."""

    name = "Bill of materials"
    place = 30

    def sheet(self, job: Job) -> Sheet:
        heads = (
            "pieces",
            "refs",
            "part",
            "value",
            "ratings, needed of chosen",
            "package",
            "may be substituted by",
        )
        items = bill(job)
        rows = [
            (
                f"{item.pieces} + {item.spare}" if item.spare else str(item.pieces),
                " ".join(item.refs),
                item.part,
                " ".join(filter(None, (item.value, item.tolerance))),
                needed_of_chosen(item),
                item.package,
                "; ".join(item.substitutes),
            )
            for item in items
        ]
        warned = [f"{' '.join(i.refs)}, {i.part}: {i.warning}." for i in items if i.warning]
        lookout = [Section("To look out for", [Points(warned)])] if warned else []
        grid = Grid(heads, rows, (0, 1.4, 2.2, 0, 3, 1.6, 1.6))
        return Sheet(
            job.design.title, self.name, [Section("", [Words(_LEAD), grid]), *lookout], _MADE
        )

    def files(self, job: Job) -> Mapping[str, bytes]:
        return {"bill-of-materials.csv": csv_of(HEADING, _rows(bill(job)))}


def _rows(items: Sequence[Item]) -> Iterator[tuple[str, ...]]:
    for item in items:
        yield (
            str(item.pieces),
            str(item.spare),
            " ".join(item.refs),
            item.part,
            item.value,
            item.tolerance,
            needed_in_words(item),
            _rated(item, item.ratings),
            item.package,
            item.price,
            "; ".join(item.substitutes),
            item.warning,
        )
