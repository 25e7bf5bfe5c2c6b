"""Kinds of changes: every way in which one thing in an example may be other than it is.

Most of them are mistakes on one part and harmless on another: which, is not said here.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from mutants.boards import CATALOGUE, Board, Change, Tables

from railwright.circuit.circuit import Part
from railwright.files.mistakes import FileError
from railwright.quantity import show
from railwright.standards.iec60063 import SERIES

Kind = Callable[[Board], Iterator[Change]]
SYMMETRIC = (
    "resistor",
    "fuse",
    "wire",
    "terminal",
    "inductor",
    "insulator",
    "switch",
    "wirewound-resistor",
)
TWO_WAY = ("diode", "zener", "suppressor", "light-emitting-diode")
EXCHANGED = {
    "bipolar-transistor": (("collector", "emitter"), ("base", "collector"), ("base", "emitter")),
    "darlington-transistor": (("collector", "emitter"), ("base", "collector"), ("base", "emitter")),
    "field-effect-transistor": (("drain", "source"), ("gate", "drain"), ("gate", "source")),
    "thyristor": (("anode", "cathode"), ("gate", "cathode"), ("gate", "anode")),
    "adjustable-regulator": (("input", "output"), ("output", "adjust"), ("input", "adjust")),
    "negative-adjustable-regulator": (
        ("input", "output"), ("output", "adjust"), ("input", "adjust"),
    ),
    "fixed-regulator": (("input", "output"), ("output", "ground"), ("input", "ground")),
    "step-down-regulator": (("input", "switch"), ("feedback", "disable"), ("switch", "feedback"),
                            ("input", "ground")),
    "shunt-reference": (("cathode", "anode"), ("reference", "anode")),
    "bridge-rectifier": (("first", "plus"), ("plus", "minus"), ("second", "minus")),
    "transformer": (("primary_start", "secondary_start"), ("secondary_start", "secondary_end")),
}  # fmt: skip
INPUTS = {
    "operational-amplifier": ("plus", "minus"),
    "comparator": ("plus", "minus"),
    "current-sense-amplifier": ("sense_plus", "sense_minus"),
}
SET_BY = ("feedback", "adjust", "minus", "reference")
"""Pins that a divider sets."""
FAMILIES: Sequence[Sequence[str]] = (
    ("1N4001", "1N4002", "1N4003", "1N4004", "1N4005", "1N4006", "1N4007"),
    ("1N4148", "1N4002", "1N5819", "1N5822"),
    ("1N5820", "1N5821", "1N5822"),
    ("1N5817", "1N5819", "1N5822"),
    ("317 type 0.1 A", "317 type 1.5 A", "1086 type 1.5 A adjustable", "1085 type 3 A adjustable"),
    ("7805 type 1 A", "7809 type 1 A", "7812 type 1 A", "7815 type 1 A", "78L12 type 0.1 A"),
    ("78L05 type 0.1 A", "78L09 type 0.1 A", "78L12 type 0.1 A", "78L15 type 0.1 A"),
    ("step-down 150 kHz 1 A", "step-down 150 kHz 3 A", "step-down 52 kHz 3 A"),
    ("current-sense amplifier 26 V gain 20", "current-sense amplifier 26 V gain 50",
     "current-sense amplifier 26 V gain 100"),
    ("431 type 0.5 %", "431 type 1 %", "431 type 2 %"),
    ("120 type", "122 type", "142 type", "BD679"),
    ("2N3906", "BC557A", "BC557B", "BC557C", "BD140"),
    ("358 type", "741 type", "072 type", "6002 type"),
    ("391 type", "393 type", "311 type", "3702 type"),
    ("thyristor 0.8 A sensitive gate", "thyristor 8 A", "thyristor 12 A"),
    ("4011 type", "4001 type", "4093 type", "4081 type"),
    ("bridge 1.5 A 400 V", "bridge 4 A 400 V", "bridge 25 A 400 V"),
    ("film resistor 0.25 W 0.1 %", "film resistor 0.25 W 1 %", "film resistor 0.25 W 5 %",
     "film resistor 0.6 W 1 %", "film resistor 1 W 1 %"),
    ("current shunt 1 W 1 % 2512", "current shunt 3 W 1 %"),
    ("heat sink 2.5 K/W", "heat sink 5 K/W", "heat sink 9 K/W", "heat sink 20 K/W"),
    ("TO-220 pad, mica", "TO-220 pad, silicone", "TO-220, grease only"),
    ("wire AWG 16", "wire AWG 18", "wire AWG 20", "wire AWG 30"),
    ("zener 12 V 0.5 W", "zener 13 V 0.5 W", "zener 15 V 0.5 W", "zener 15 V 1 W",
     "zener 18 V 0.5 W"),
    ("potentiometer ten-turn 1 kΩ", "potentiometer ten-turn 2 kΩ", "potentiometer ten-turn 5 kΩ",
     "potentiometer ten-turn 10 kΩ"),
    ("mains transformer 230 V, 2 x 9 V, 30 VA", "mains transformer 230 V, 2 x 12 V, 30 VA",
     "mains transformer 230 V, 2 x 15 V, 10 VA", "mains transformer 230 V, 2 x 15 V, 30 VA",
     "mains transformer 230 V, 2 x 15 V, 50 VA", "mains transformer 230 V, 2 x 18 V, 30 VA"),
)  # fmt: skip
"""Parts that are taken for each other."""


def _typical(part: Part, value: str) -> float:
    return part.values[value].spread.typical


def _of_kind(board: Board, *kinds: str) -> list[Part]:
    return [part for part in board.parts if part.kind in kinds]


def _valued(board: Board) -> list[Part]:
    """Resistors whose value is their own."""
    tables = {table["ref"]: table for table in board.tables["part"]}
    return [
        part
        for part in _of_kind(board, "resistor")
        if isinstance(tables[part.ref].get("resistance"), str)
    ]


def _at(board: Board, ref: str) -> int:
    return [part["ref"] for part in board.tables["part"]].index(ref)


def _set(ref: str, key: str, value: Any) -> Callable[[Mapping[str, Tables], Tables], None]:
    def edit(parts: Mapping[str, Tables], tables: Tables) -> None:
        parts[ref][key] = value

    return edit


def _pins(ref: str, **nets: str) -> Callable[[Mapping[str, Tables], Tables], None]:
    def edit(parts: Mapping[str, Tables], tables: Tables) -> None:
        parts[ref]["pins"] |= nets

    return edit


def _written(ohms: float) -> str:
    return show(ohms, "Ω", 4)


def _used(board: Board, kind: str, part: Part, name: str) -> Change:
    return board.changed(kind, f"{part.ref} {name}", [part.ref], _set(part.ref, "use", name))


def decade(board: Board) -> Iterator[Change]:
    """A value ten times too large or too small."""
    for part in _valued(board):
        for factor in (10.0, 0.1):
            text = _written(_typical(part, "resistance") * factor)
            yield board.changed("decade", f"{part.ref} {text}", [part.ref],
                                _set(part.ref, "resistance", text))  # fmt: skip
    for part in _of_kind(board, "capacitor", "inductor"):
        value = "capacitance" if part.kind == "capacitor" else "inductance"
        for factor in (10.0, 0.1):
            wanted = _typical(part, value) * factor
            for name in _like(part, value, lambda x, w=wanted: 0.75 < x / w < 1.5)[:1]:
                yield _used(board, "decade", part, name)


def _like(part: Part, value: str, fits: Callable[[float], bool]) -> list[str]:
    """Catalogue parts of the same make whose value fits, those of the same voltage first."""
    rated = part.ratings.get("rated_voltage", 0.0)

    def distance(name: str) -> float:
        other = CATALOGUE[name].values.get("rated_voltage")
        return abs(other.spread.typical - rated) if other is not None else 0.0

    found = [
        name
        for name, entry in CATALOGUE.items()
        if entry.kind == part.kind and entry.options == part.options and name != part.use
        and value in entry.values and fits(entry.values[value].spread.typical)
    ]  # fmt: skip
    return sorted(found, key=distance)


def neighbour(board: Board) -> Iterator[Change]:
    """The next values of the series, and some farther ones."""
    for part in _valued(board):
        ohms = _typical(part, "resistance")
        for steps in (-4, -2, -1, 1, 2, 4):
            text = _written(_stepped(ohms, steps))
            yield board.changed("neighbour", f"{part.ref} {text}", [part.ref],
                                _set(part.ref, "resistance", text))  # fmt: skip
    for part in _of_kind(board, "capacitor", "inductor"):
        value = "capacitance" if part.kind == "capacitor" else "inductance"
        own = _typical(part, value)
        for low, high in ((0.4, 0.9), (1.1, 2.5)):
            for name in _like(part, value, lambda x, a=low * own, b=high * own: a < x < b)[:2]:
                yield _used(board, "neighbour", part, name)
    for part in _of_kind(board, "fuse"):
        delay = part.use[:6]
        sizes = [n for n in CATALOGUE if n.startswith(delay) and not n.endswith("H")]
        here = sizes.index(part.use)
        for name in sizes[max(0, here - 2) : here + 3]:
            if name != part.use:
                yield _used(board, "neighbour", part, name)


def _stepped(ohms: float, steps: int) -> float:
    members = [float(m) for m in SERIES["E24"]]
    exponent = 0
    while ohms / 10.0**exponent >= 9.95:
        exponent += 1
    while ohms / 10.0**exponent < 0.995:
        exponent -= 1
    place = min(range(24), key=lambda i: abs(members[i] - ohms / 10.0**exponent)) + steps
    return members[place % 24] * 10.0 ** (exponent + place // 24)


def swapped_values(board: Board) -> Iterator[Change]:
    """Two resistors in each other's place."""
    parts = _valued(board)
    for first, second in zip(parts, [*parts[1:], *parts[:1]], strict=True):
        one, other = (board.tables["part"][_at(board, p.ref)] for p in (first, second))
        if first.ref == second.ref or one["resistance"] == other["resistance"]:
            continue

        def edit(
            tables: Mapping[str, Tables], _: Tables, a: Tables = one, b: Tables = other
        ) -> None:
            for key in ("resistance", "use"):
                tables[a["ref"]][key], tables[b["ref"]][key] = b[key], a[key]

        refs = [first.ref, second.ref]
        yield board.changed("swapped parts", " and ".join(refs), refs, edit)


def reversed_(board: Board) -> Iterator[Change]:
    """A diode or a polar capacitor the wrong way round."""
    for part in board.parts:
        pairs = list(part.device.polar_pairs(part.options))
        if part.kind in TWO_WAY:
            pairs = [("anode", "cathode")]
        for one, other in pairs:
            nets = {one: part.pins[other], other: part.pins[one]}
            yield board.changed("reversed", part.ref, [part.ref], _pins(part.ref, **nets), True)


def swapped_pins(board: Board) -> Iterator[Change]:
    """Two pins of an active part in each other's place."""
    for part in board.parts:
        for one, other in EXCHANGED.get(part.kind, ()):
            if part.pins.get(one) and part.pins.get(other) and part.pins[one] != part.pins[other]:
                nets = {one: part.pins[other], other: part.pins[one]}
                yield board.changed("swapped pins", f"{part.ref} {one} {other}", [part.ref],
                                    _pins(part.ref, **nets), True)  # fmt: skip


def swapped_inputs(board: Board) -> Iterator[Change]:
    """Both inputs of an amplifier or a comparator in each other's place."""
    for part in board.parts:
        if part.kind in INPUTS:
            one, other = INPUTS[part.kind]
            nets = {one: part.pins[other], other: part.pins[one]}
            yield board.changed("swapped inputs", part.ref, [part.ref],
                                _pins(part.ref, **nets), True)  # fmt: skip


def missing(board: Board) -> Iterator[Change]:
    """A part left out."""
    controls = {control["part"] for control in board.tables.get("control", ())}
    for part in board.parts:
        if part.ref in controls:
            continue
        pulling = part.kind == "resistor" and any(
            other.device.pins[pin].role in ("open-collector", "logic-input")
            for net in part.pins.values()
            for other, pin in board.design.circuit.on_net(net)
        )
        kind = "missing pull-up" if pulling else f"missing {part.kind}"

        def edit(_: Mapping[str, Tables], tables: Tables, ref: str = part.ref) -> None:
            tables["part"] = [table for table in tables["part"] if table["ref"] != ref]

        yield board.changed(kind, part.ref, board.neighbours(part.ref), edit, True)


def rating(board: Board) -> Iterator[Change]:
    """A part of another size: of lower or of higher ratings."""
    for part in board.parts:
        for family in FAMILIES:
            if part.use in family:
                for name in family:
                    if name != part.use:
                        kind = "heat sink" if part.kind == "heat-sink" else "other part"
                        yield _used(board, kind, part, name)
    for part in _of_kind(board, "capacitor"):
        own = _typical(part, "capacitance")
        for name in _like(part, "capacitance", lambda x, w=own: 0.99 < x / w < 1.01):
            yield _used(board, "rating", part, name)


def dielectric(board: Board) -> Iterator[Change]:
    """A capacitor of the same value, made of something else."""
    for part in _of_kind(board, "capacitor"):
        own, made = _typical(part, "capacitance"), set()
        for name, entry in CATALOGUE.items():
            if entry.kind != "capacitor" or entry.options == part.options:
                continue
            if not 0.99 < entry.values["capacitance"].spread.typical / own < 1.05:
                continue
            if (material := entry.options["dielectric"]) not in made and " Y" not in name:
                made.add(material)
                yield _used(board, "dielectric", part, name)


def enable(board: Board) -> Iterator[Change]:
    """An enable or disable pin that gets the other level."""
    supply = board.tables["need"]["input"]["nets"]["plus"]
    for part in board.parts:
        for pin, declared in part.device.pins.items():
            if declared.role != "enable" or pin not in part.pins:
                continue
            nets = [supply] if part.pins[pin] == "GND" else ["GND", "READY", "SET"]
            for net in nets:
                if net in board.nets:
                    yield board.changed("enable", f"{part.ref} {net}", [part.ref],
                                        _pins(part.ref, **{pin: net}), True)  # fmt: skip


def feedback(board: Board) -> Iterator[Change]:
    """A feedback that is broken, or comes from somewhere else."""
    plus = board.tables["need"]["input"]["nets"]
    for part in board.parts:
        for pin in SET_BY:
            own = part.pins.get(pin)
            if own is None or own in board.outside or part.kind == "comparator":
                continue
            elsewhere = [n for n in part.pins.values() if n != own and n not in board.outside]
            for net in dict.fromkeys(["NOWHERE", plus["minus"], plus["plus"], *elsewhere[:2]]):
                yield board.changed("feedback", f"{part.ref} {pin} on {net}", [part.ref],
                                    _pins(part.ref, **{pin: net}), True)  # fmt: skip


def wrong_net(board: Board) -> Iterator[Change]:
    """One end of a part on the next net of the list."""
    thermal = board.design.circuit.thermal_nets
    for part in _of_kind(board, "resistor", "capacitor", "diode", "inductor", "zener"):
        for pin, net in part.pins.items():
            if net in thermal:
                continue
            others = [n for n in board.nets if n not in part.pins.values()]
            place = sum(map(ord, part.ref + pin)) % len(others)
            yield board.changed("wrong net", f"{part.ref} {pin} on {others[place]}", [part.ref],
                                _pins(part.ref, **{pin: others[place]}), True)  # fmt: skip


def symmetric(board: Board) -> Iterator[Change]:
    """A part without sides turned round."""
    for part in board.parts:
        if part.kind in SYMMETRIC and {"one", "two"} <= part.pins.keys():
            nets = {"one": part.pins["two"], "two": part.pins["one"]}
            yield board.changed("turned round", part.ref, [part.ref], _pins(part.ref, **nets), True)


def renamed(board: Board) -> Iterator[Change]:
    """Other refs, other names of nets, parts in another order."""
    for offset in (100, 200, 40):
        names = {p.ref: re.sub(r"\d+", lambda m, o=offset: str(int(m[0]) + o), p.ref)
                 for p in board.parts}  # fmt: skip

        def refs(_: Mapping[str, Tables], tables: Tables, n: Mapping[str, str] = names) -> None:
            for table in [*tables["part"]]:
                table["ref"] = n[table["ref"]]
            for control in tables.get("control", ()):
                control["part"] = n[control["part"]]

        yield board.changed("renamed", f"refs by {offset}", list(names.values()), refs, True)
    for prefix in ("N_", "X", "W"):

        def nets(_: Mapping[str, Tables], tables: Tables, p: str = prefix) -> None:
            for table in tables["part"]:
                table["pins"] = {
                    pin: net if net in board.outside else p + net
                    for pin, net in table["pins"].items()
                }

        refs_ = [part.ref for part in board.parts]
        yield board.changed("renamed", f"nets {prefix}", refs_, nets, True)
    for turn in (3, 5, 0):

        def order(_: Mapping[str, Tables], tables: Tables, t: int = turn) -> None:
            parts = tables["part"]
            tables["part"] = parts[t:] + parts[:t] if t else parts[::-1]

        yield board.changed("reordered", f"by {turn}", [p.ref for p in board.parts], order, True)


def split(board: Board) -> Iterator[Change]:
    """A resistor made of two, in parallel or in series."""
    for part in _valued(board):
        ohms = _typical(part, "resistance")
        table = board.tables["part"][_at(board, part.ref)]
        for way, factor in (("parallel", 2.0), ("series", 0.5)):

            def edit(
                parts: Mapping[str, Tables], tables: Tables,
                own: Tables = table, ref: str = part.ref, w: str = way, f: float = factor,
                value: float = ohms,
            ) -> None:  # fmt: skip
                text = _written(value * f)
                second = {**own, "ref": f"{ref}B", "resistance": text, "pins": dict(own["pins"])}
                parts[ref]["resistance"] = text
                if w == "series":
                    parts[ref]["pins"]["two"] = second["pins"]["one"] = f"{ref}MID"
                place = [each["ref"] for each in tables["part"]].index(ref)
                tables["part"].insert(place + 1, second)

            yield board.changed("split", f"{part.ref} in {way}", [part.ref, f"{part.ref}B"],
                                edit, True)  # fmt: skip


def other_net(board: Board) -> Iterator[Change]:
    """Any pin on any other net."""
    thermal = board.design.circuit.thermal_nets
    for part in board.parts:
        for pin, own in part.pins.items():
            for net in board.nets:
                if own not in thermal and net not in thermal and net != own:
                    yield board.changed("other net", f"{part.ref} {pin} on {net}", [part.ref],
                                        _pins(part.ref, **{pin: net}), True)  # fmt: skip


def any_of_kind(board: Board) -> Iterator[Change]:
    """Any other part of the catalogue of the same kind, and of the same make."""
    for part in board.parts:
        if part.kind in ("fuse", "transformer", "fixed-regulator", "capacitor"):
            for name, entry in CATALOGUE.items():
                if entry.kind == part.kind and entry.options == part.options and name != part.use:
                    yield _used(board, f"any {part.kind}", part, name)


def alike_pins(board: Board) -> Iterator[Change]:
    """Windings and bridges turned round, and one of two equal windings."""
    for part in board.parts:
        for way, pairs in ALIKE.get(part.kind, {}).items():
            if all(pin in part.pins for pair in pairs for pin in pair):
                nets = {}
                for one, other in pairs:
                    nets |= {one: part.pins[other], other: part.pins[one]}
                yield board.changed("turned round", f"{part.ref} {way}", [part.ref],
                                    _pins(part.ref, **nets), True)  # fmt: skip


def added(board: Board) -> Iterator[Change]:
    """One more part across each capacitor."""
    for part in _of_kind(board, "capacitor"):
        for use, ohms in (*((use, "") for use in ADDED), *((RESISTOR, each) for each in ACROSS)):
            kind = "resistor" if ohms else "capacitor"
            ends = {"one": "plus", "two": "minus"} if ohms else {"plus": "plus", "minus": "minus"}
            table = {"ref": f"{'R' if ohms else 'C'}900", "kind": kind, "use": use or part.use,
                     "pins": {pin: part.pins[end] for pin, end in ends.items()}}  # fmt: skip
            if ohms:
                table["resistance"] = ohms

            def edit(_: Mapping[str, Tables], tables: Tables, new: Tables = table) -> None:
                tables["part"] = [*tables["part"], new]

            yield board.changed(f"added {kind}", f"{ohms or use or part.use} across {part.ref}",
                                [table["ref"]], edit, True)  # fmt: skip


ALIKE: Mapping[str, Mapping[str, Sequence[tuple[str, str]]]] = {
    "bridge-rectifier": {"inputs": [("first", "second")]},
    "transformer": {
        "primary": [("primary_start", "primary_end")],
        "both secondaries": [("secondary_start", "secondary_end"), ("second_start", "second_end")],
        "one secondary": [("second_start", "second_end")],
        "the other secondary": [("secondary_start", "secondary_end")],
        "all": [("primary_start", "primary_end"), ("secondary_start", "secondary_end"),
                ("second_start", "second_end")],
    },
}  # fmt: skip
RESISTOR = "film resistor 0.25 W 1 %"
ADDED = ("", "ceramic 100 nF 50 V class 2", "film 100 nF 63 V")
ACROSS = ("10", "100", "1k", "4k7", "22k", "100k", "1M")
FEW, SOME = 10, 20
FURTHER: Mapping[Kind, int] = {other_net: SOME, any_of_kind: FEW, alike_pins: FEW, added: FEW}
"""Kinds for examples of no more parts than so many: the others make few changes of them."""
KINDS: Sequence[Kind] = (
    decade, neighbour, swapped_values, reversed_, swapped_pins, swapped_inputs, missing, rating,
    dielectric, enable, feedback, wrong_net, symmetric, renamed, split,
)  # fmt: skip


def every(board: Board) -> list[Change]:
    """All changes of an example, in a fixed order, none twice."""
    found: dict[str, Change] = {}
    for kind in KINDS:
        for change in kind(board):
            found.setdefault(change.id, change)
    parts = len(board.parts)
    for kind in [kind for kind, most in FURTHER.items() if parts <= most]:
        same = {change.digest for change in found.values()}
        for change in kind(board):
            if change.digest not in same:
                found.setdefault(change.id, change)
    return list(found.values())


def _is_readable(change: Change) -> bool:
    """Whether a design file can say it at all."""
    try:
        change.design()
    except FileError:
        return False
    return True


def drawn(board: Board, most: int, seed: int = 1) -> list[Change]:
    """At most so many changes of an example, in equal shares over the kinds, drawn with a seed."""
    rng = random.Random(f"{board.name} {seed}")
    by_kind: dict[str, list[Change]] = {}
    for change in every(board):
        by_kind.setdefault(change.kind, []).append(change)
    for changes in by_kind.values():
        rng.shuffle(changes)
    found: list[Change] = []
    while len(found) < most and any(by_kind.values()):
        for changes in by_kind.values():
            if len(found) < most and (change := _next(changes)) is not None:
                found.append(change)
    return found


def _next(changes: list[Change]) -> Change | None:
    while changes:
        if _is_readable(change := changes.pop()):
            return change
    return None
