"""What differs between two designs: parts, what joins them, what is asked of the supply."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from typing import Any, Literal, get_args, get_type_hints

from railwright.catalogue.entry import KnownWindow
from railwright.circuit.circuit import Circuit, Part, PartValue
from railwright.circuit.design import Design
from railwright.circuit.forms import Quantity
from railwright.circuit.resolve import DESIGN_FILE
from railwright.circuit.tables import RangeOf
from railwright.quantity import Spread, show

_DIGITS = range(3, 8)


@dataclass(frozen=True)
class Difference:
    """One thing that is not as it was; empty where there is none of it."""

    what: str
    before: str
    after: str


@dataclass(frozen=True)
class PartDifference:
    """A part that is not as it was."""

    ref: str
    change: Literal["added", "removed", "changed"]
    differences: Sequence[Difference]


@dataclass(frozen=True)
class Differences:
    """All that differs. A net that was given another name, and nothing else, is among `nets`."""

    parts: Sequence[PartDifference]
    nets: Sequence[Difference]
    around: Sequence[Difference]
    """Need, controls, stages, enclosure, panel."""


def differences(before: Design, after: Design) -> Differences:
    """What differs from one design to the other; the order of a file and its words do not count."""
    renamed = _renamed(before.circuit, after.circuit)
    return Differences(
        list(_of_parts(before.circuit, after.circuit, renamed)),
        [Difference("net", old, new) for old, new in renamed.items()],
        _unlike(dict(_around(before)), dict(_around(after))),
    )


def _renamed(before: Circuit, after: Circuit) -> Mapping[str, str]:
    """Nets with the same pins on them under another name."""
    found = {}
    for old, new in ((before.nets, after.nets), (before.thermal_nets, after.thermal_nets)):
        by_pins = {frozenset(ends): net for net, ends in new.items()}
        for net, ends in old.items():
            other = by_pins.get(frozenset(ends), net)
            if other != net and net not in new and other not in old:
                found[net] = other
    return found


def _of_parts(
    before: Circuit, after: Circuit, renamed: Mapping[str, str]
) -> Iterator[PartDifference]:
    old, new = ({part.ref: part for part in each.parts} for each in (before, after))
    for ref, part in old.items():
        if ref not in new:
            gone = _stated(part, renamed, not part.use)
            yield PartDifference(ref, "removed", _unlike(gone, {}))
        elif found := _of_part(part, new[ref], renamed):
            yield PartDifference(ref, "changed", found)
    for ref, part in new.items():
        if ref not in old:
            yield PartDifference(ref, "added", _unlike({}, _stated(part, {}, not part.use)))


def _of_part(before: Part, after: Part, renamed: Mapping[str, str]) -> list[Difference]:
    """Of another part of the catalogue the name tells, and what the design states beside it."""
    same = before.use == after.use and before.kind == after.kind
    whole = [same or not part.use for part in (before, after)]
    found = _unlike(_stated(before, renamed, whole[0]), _stated(after, {}, whole[1]))
    if not same:
        return found
    told = {each.what for each in found}
    values = sorted((before.values.keys() | after.values.keys()) - told)
    found += [
        Difference(name, *_told(before.values.get(name), after.values.get(name)))
        for name in values
        if before.values.get(name) != after.values.get(name)
    ]
    return [each for each in found if each.before != each.after]


def _stated(part: Part, renamed: Mapping[str, str], whole: bool) -> dict[str, object]:
    """What a design says of a part; whole: with all that the catalogue may say as well."""
    ratings = {
        name: PartValue(Spread.exact(rating), part.device.ratings[name].unit, "", False)
        for name, rating in part.ratings.items()
    }
    known = {"package": part.package, **part.options, **ratings, **part.windows}
    values = {
        name: value for name, value in part.values.items() if value.source.startswith(DESIGN_FILE)
    }
    return {
        "kind": part.kind,
        "use": part.use,
        **(known if whole else {}),
        **values,
        **{f"pin {pin}": renamed.get(net, net) for pin, net in part.pins.items()},
        **{f"terminal of {pin}": terminal for pin, terminal in part.terminals.items()},
        "tracks": part.tracks.group if part.tracks else "",
        "tracks to": _Number(part.tracks.tolerance, "1") if part.tracks else "",
    }


def _unlike(before: Mapping[str, object], after: Mapping[str, object]) -> list[Difference]:
    found = [
        Difference(name, *_told(before.get(name), after.get(name)))
        for name in dict.fromkeys([*before, *after])
        if before.get(name, "") != after.get(name, "")
    ]
    return [each for each in found if each.before != each.after]


def _told(before: object, after: object) -> tuple[str, str]:
    """Both as texts, with as many digits as it takes to tell them apart."""
    for digits in _DIGITS:
        texts = _text(before, digits), _text(after, digits)
        if texts[0] != texts[1]:
            break
    return texts


def _text(value: object, digits: int) -> str:
    if isinstance(value, PartValue):
        return _spread(value.spread, value.unit, digits)
    if isinstance(value, KnownWindow):
        bounds = (("at least", value.minimum), ("at most", value.maximum))
        return ", ".join(f"{w} {show(b, value.unit, digits)}" for w, b in bounds if b is not None)
    if isinstance(value, _Number):
        return show(value.value, value.unit, digits)
    return "" if value is None else str(value)


def _spread(spread: Spread, unit: str, digits: int) -> str:
    """A value with its limits and its drift.

    >>> _spread(Spread.tolerance(1000.0, 0.01, 1e-4), "Ω", 3)
    '1 kΩ ± 1 %, 100 ppm/K'
    >>> _spread(Spread.limits(1.2, 1.25, 1.3), "V", 3)
    '1.25 V (1.2 V to 1.3 V)'
    """
    typical = show(spread.typical, unit, digits)
    drift = f", {show(spread.drift, '1/K')}" if spread.drift else ""
    if spread.low == spread.high:
        return typical + drift
    if spread.shape == "uniform" and spread.typical:
        share = spread.width / (2.0 * abs(spread.typical))
        return f"{typical} ± {show(share, '1')}{drift}"
    low, high = show(spread.low, unit, digits), show(spread.high, unit, digits)
    return f"{typical} ({low} to {high}){drift}"


@dataclass(frozen=True)
class _Number:
    value: float
    unit: str


def _around(design: Design) -> Iterator[tuple[str, object]]:
    """Everything but the parts, flat: dotted key and value."""
    yield from _flat(design.need, "need", "")
    for control in design.controls:
        yield from _flat(control, f"control {control.part}.{control.value}", "")
    yield from _flat(design.enclosure, "enclosure", "")
    yield from _flat(design.stages, "stage", "")
    yield from _flat(design.panel, "panel", "")


def _flat(thing: Any, path: str, unit: str) -> Iterator[tuple[str, object]]:
    if is_dataclass(thing) and not isinstance(thing, type):
        hints = get_type_hints(type(thing), include_extras=True)
        for each in fields(thing):
            found = next(_units(hints[each.name]), unit)
            yield from _flat(getattr(thing, each.name), f"{path}.{each.name.rstrip('_')}", found)
    elif isinstance(thing, tuple):
        for number, row in enumerate(thing, 1):
            name = getattr(row, "name", "") or str(number) * (len(thing) > 1)
            yield from _flat(row, f"{path}.{name}".rstrip("."), unit)
    elif isinstance(thing, float) and unit:
        yield path, _Number(thing, unit)
    elif thing is not None:
        yield path, str(thing)


def _units(hint: Any) -> Iterator[str]:
    """Units that the form of a key names."""
    forms: Iterable[Any] = getattr(hint, "__metadata__", ())
    for form in forms:
        if isinstance(form, RangeOf):
            yield form.quantity.unit
        elif isinstance(form, Quantity):
            yield form.unit
    for inner in get_args(hint):
        yield from _units(inner)
