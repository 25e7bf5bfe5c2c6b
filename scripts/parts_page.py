"""Write docs/parts.md anew: every kind and every part of the catalogue, from the data alone."""

import inspect
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from railwright.catalogue.entry import Entry
from railwright.catalogue.loader import load
from railwright.devices import kinds
from railwright.devices.device import Device
from railwright.pages.part import (
    rating_rows,
    terminals,
    unstated,
    value_rows,
    window_meaning,
    window_rows,
)
from railwright.pages.whole_file import write_whole
from railwright.pages.wording import percent

PAGE = Path(__file__).resolve().parent.parent / "docs" / "parts.md"
OPENING = """\
# Kinds and parts

Written by `scripts/parts_page.py` from the declarations of the kinds and from the catalogue: change
those, not this page. `railwright part NAME` shows one part; how to add parts of your own stands in
[own-parts.md](own-parts.md), how to add a kind in [new-kind.md](new-kind.md).

A value is shown as its typical number with its limits. Every one says where it is from. Where a
limit is not published, an assumed one takes its place and says why.
"""


def page() -> str:
    """The whole page, as Markdown."""
    parts = list(load().values())
    lines = [OPENING, *_overview(parts)]
    for name, device in sorted(kinds().items()):
        lines += _kind(device, [part for part in parts if part.kind == name])
    return "\n".join(lines) + "\n"


def _overview(parts: Sequence[Entry]) -> Iterator[str]:
    named: Mapping[str, list[str]] = {
        kind: [part.name for part in parts if part.kind == kind] for kind in sorted(kinds())
    }
    yield f"{len(named)} kinds, {len(parts)} parts.\n"
    rows = ((f"[{kind}](#{kind})", "; ".join(names) or "—") for kind, names in named.items())
    yield from _table(("kind", "parts"), rows)


def _kind(device: Device, parts: Sequence[Entry]) -> Iterator[str]:
    yield f"\n## {device.kind}\n"
    yield inspect.cleandoc(type(device).__doc__ or "")
    pins = (f"{n} ({p.role}{', optional' * p.optional})" for n, p in device.pins.items())
    yield f"\nPins: {', '.join(pins)}."
    if device.options:
        options = (f"{name}: {', '.join(words)}" for name, words in device.options.items())
        yield f"\nOptions: {'; '.join(options)}."
    if device.faults:
        faults = (
            f"{fault.name}{' between ' * bool(fault.between)}{' and '.join(fault.between)} "
            f"{percent(fault.share)}"
            for fault in device.faults
        )
        yield f"\nFaults, with their shares: {', '.join(faults)}."
    if stated := {**device.ratings, **device.values}:
        yield ""
        yield from _table(("value or rating", "unit", "what it is"), _declared(device, stated))
    if device.windows:
        rows = ((n, w.unit, window_meaning(w)) for n, w in device.windows.items())
        yield ""
        yield from _table(("window", "unit", "what it bounds"), rows)
    if not parts:
        yield "\nNo part in the catalogue: a design states its values."
    for part in parts:
        yield from _part(part)


def _declared(device: Device, names: Iterable[str]) -> Iterator[Sequence[str]]:
    """A row for each value and rating of a kind; what is both is described as a value."""
    for name in sorted(names, key=lambda name: name not in device.values):
        value, rating = device.values.get(name), device.ratings.get(name)
        if value is not None:
            yield name, value.unit, value.meaning
        elif rating is not None:
            yield name, rating.unit, f"limits {rating.bounds.replace('_', ' ')}"


def _part(part: Entry) -> Iterator[str]:
    yield f"\n### {part.name}\n"
    pins = ", ".join(f"{terminal} {pin}" for terminal, pin in terminals(part))
    told = [f"Trade type {part.trade}", f"package {part.package}", f"pins {pins or 'not stated'}"]
    told += [f"{option} {choice}" for option, choice in part.options.items()]
    if part.price:
        told.append(f"one piece {part.price}")
    yield f"{'; '.join(told)}."
    if part.warning:
        yield f"\n**Caution:** {part.warning}."
    yield ""
    rows = (
        (row.name, row.value, row.at or "—", row.source)
        for row in (*value_rows(part), *rating_rows(part), *window_rows(part))
    )
    yield from _table(("value, rating or window", "is", "at", "from"), rows)
    if missing := unstated(part):
        yield f"\nNot stated: {'; '.join(missing)}."


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    yield _line(heads)
    yield _line(["---"] * len(heads))
    yield from map(_line, rows)


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"


if __name__ == "__main__":
    write_whole(PAGE, page())
