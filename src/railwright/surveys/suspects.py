"""What may be wrong with a built supply, one thing at a time.

Parts fail in the modes of their kinds; a value was misread by a decade or by a neighbour in its
series, or exchanged with another part's; a pin is not joined, or bridged with the one beside it; a
part is the wrong way round, or has another order of pins than the board. The weights say how often
such things are found in boards that were built by hand (from memory: common practice, no source);
they are data (`suspects.toml`), and no more than where one begins.

One suspect is one thing to look at. What is drifted may have drifted by any factor, and what leaks
by any current: such a suspect has variants along the way, and what lies between two of them counts
as well. No reading at rest tells a resistor that drifted from one that was misread: both are one
suspect, whose variants have the weights of either.
"""

from __future__ import annotations

import itertools
import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from railwright.circuit.circuit import Circuit, Part, is_thermal
from railwright.engine.assembly import bridge_name, joint_name
from railwright.engine.faults import BRIDGED, OPEN
from railwright.engine.patchboard import Moves
from railwright.engine.topology import Joint, Topology
from railwright.quantity import show
from railwright.surveys.fault_modes import LOST, PASSIVE_UNITS, Change, FaultModes
from railwright.surveys.faults import CODED, exchanged_values, type_slips, value_slips
from railwright.surveys.spread import PartSpread

STEPS = 12
"""Neighbours in a series are a twelfth of a decade apart (E12)."""
NOTHING = "nothing wrong"
METER = "the meter is off by a factor"
ALWAYS = ("nothing", "meter")
"""Families that are there whatever their weight."""
MOST_PINS = 2
"""A part with more has joints of its own; of one with two an open joint is the part open."""
ANY_FACTOR = (1 / 30, 0.1, 0.2, 0.33, 0.5, 0.68, 0.83, 0.93)
"""By which a resistance may be off, and by their inverses."""
ANY_SHARE = (0.5, 0.65, 0.8, 0.9, 0.95)
"""By which thresholds, gains and references may be off, and by their inverses."""
ANY_OFFSET = (4e-3, 10e-3, 30e-3, 100e-3)
"""V by which an offset may be off, either way."""
ANY_LEAK = (1e-5, 1e-4, 1e-3, 1e-2, 0.1, 1.0)
"""S of what leaks."""
ANY_SHORT = (1.0, BRIDGED, 100.0)
"""S of what is shorted, from next to a leak to a thick bridge."""
ANY_LOSS = (0.03, 0.1, 0.2, 0.35, 0.5, 0.7)
"""Shares of a capacitance that are left."""
ANY_ESR = (3.0, 6.0, 12.0, 30.0, 100.0)
"""Factors by which the series resistance of a worn capacitor has grown."""
WORN = 0.2
"""Share of its failures in which a capacitor's series resistance has grown, beside those that its
kind states (common practice, no source)."""
LATCHED_UP = (0.03, 0.1, 0.3, 1.0)
"""S between the supply pins of a circuit that has latched up: some ten to some hundred milliampere
at 5 V (common practice, no source)."""


@dataclass(frozen=True)
class Variant:
    """One way in which a suspect may be so."""

    changes: tuple[Change, ...]
    """What it changes of a sound supply; none where nothing is wrong."""
    weight: float = 0.0
    """How often it is found as exactly this; in proportion."""
    words: str = ""
    """What is so: "33 kΩ"."""
    moves: Moves = field(default_factory=dict)
    """(ref, pin) -> the net that a pin is joined to in the place of its own."""
    onwards: float = 0.0
    """How often it is found between this one and the next, in proportion; nil where nothing is."""


SOUND = Variant((), 1.0)
"""Nothing is otherwise."""


@dataclass(frozen=True)
class Suspect:
    """One thing that may be wrong."""

    refs: tuple[str, ...]
    """Parts that it is about; empty for what is about none."""
    words: str
    """What would be so: "R7 open"."""
    weight: float
    """How often it is found, before anything is read; in proportion."""
    variants: tuple[Variant, ...] = (SOUND,)

    @property
    def changes(self) -> tuple[Change, ...]:
        """What its first variant changes."""
        return self.variants[0].changes


@dataclass(frozen=True)
class Suspects:
    """All of them, and the topology in which each can be there that moves no pin."""

    several: tuple[Suspect, ...]
    """Nothing wrong is the first; the second is the meter itself, which changes nothing."""
    topology: Topology


class PriorsError(ValueError):
    """A file that has no weights: what was found, what is wanted."""


def weights(file: Path | None = None) -> Mapping[str, float]:
    """How often each family of things is found: its name -> share, adding up to one.

    file: TOML with a table `weight`, in place of `suspects.toml`; a family that is not in it keeps
    what it has there. PriorsError where it cannot be used.
    """
    known = _weights(Path(__file__).with_name("suspects.toml"))
    if file is not None:
        own = _weights(file)
        if strange := own.keys() - known.keys():
            raise PriorsError(
                f"{file}: {', '.join(sorted(strange))} under [weight] is no family of suspects. "
                f"There are {', '.join(known)}."
            )
        known = {**known, **own}
    total = sum(known.values())
    if total <= 0.0:
        raise PriorsError(f"{file}: all weights are nil. Give at least one family more.")
    return {name: value / total for name, value in known.items()}


def _weights(file: Path) -> dict[str, float]:
    try:
        table = tomllib.loads(file.read_text("utf-8")).get("weight")
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise PriorsError(f"{file} cannot be read as TOML: {error}.") from error
    if not isinstance(table, dict):
        raise PriorsError(f"{file} has no table [weight]. Write one, as in: decade = 0.08.")
    for name, value in table.items():
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if not number or not 0.0 <= value < math.inf:
            raise PriorsError(f"{file}: weight {name} is {value!r}. Write a number from nil up.")
    return {name: float(value) for name, value in table.items()}


def suspects_of(
    circuit: Circuit, sound: Topology, spread: PartSpread, priors: Path | None = None
) -> Suspects:
    """Everything that is suspected of a circuit; each family's weight is shared evenly in it."""
    modes = FaultModes.of(circuit.parts, sound)
    families: dict[str, list[Suspect]] = {
        "nothing": [Suspect((), NOTHING, 1.0)],
        "meter": [Suspect((), METER, 1.0)],
        "part": [*_failed(circuit, modes), *_stored(circuit)],
        "joint": list(_open_joints(circuit, modes)),
        "bridge": list(_bridged(circuit, modes)),
        "decade": list(_slipped(circuit, spread, decades=True)),
        "neighbour": [*_slipped(circuit, spread, decades=False), *_of_other_types(circuit, spread)],
        "exchanged": list(_exchanged(circuit, spread)),
        "reversed": list(_reversed(circuit)),
        "order": list(_other_orders(circuit)),
        "dead": list(_latched_up(circuit)),
        "polarity": list(_wrong_polarity(circuit)),
    }
    shares = weights(priors)
    several = _merged(
        _scaled(suspect, shares[family] / sum(s.weight for s in own))
        for family, own in families.items()
        if shares[family] or family in ALWAYS
        for suspect in own
    )
    joints = {*modes.joints, *_joints(circuit)}
    bridges = {frozenset(ends): ends for ends in (*modes.bridges, *_bridges(circuit))}
    for ends in _supplies(circuit).values():
        bridges.setdefault(frozenset(ends), ends)
    topology = replace(sound, joints=tuple(sorted(joints)), bridges=tuple(bridges.values()))
    return Suspects(several, topology)


def pairs_of(suspects: Sequence[Suspect]) -> Iterator[Suspect]:
    """Any two of these at once, each as often as both are found by chance: by the product."""
    for one, other in itertools.combinations(suspects, 2):
        if not {*one.refs} & {*other.refs}:
            variants = tuple(
                Variant(
                    (*a.changes, *b.changes),
                    (a.weight + a.onwards) * (b.weight + b.onwards),
                    ", ".join(filter(None, (a.words, b.words))),
                    {**a.moves, **b.moves},
                )
                for a, b in itertools.product(one.variants, other.variants)
                if (a.weight + a.onwards) * (b.weight + b.onwards)
            )
            words = f"{one.words}, and {other.words}"
            weight = sum(v.weight for v in variants)
            yield Suspect((*one.refs, *other.refs), words, weight, variants)


def _scaled(suspect: Suspect, factor: float) -> Suspect:
    """The same suspect so much more often; the weights of its variants add up to its own."""
    own = sum(v.weight + v.onwards for v in suspect.variants)
    share = suspect.weight * factor / own
    variants = tuple(
        replace(v, weight=v.weight * share, onwards=v.onwards * share) for v in suspect.variants
    )
    return Suspect(suspect.refs, suspect.words, suspect.weight * factor, variants)


def _merged(suspects: Iterator[Suspect]) -> tuple[Suspect, ...]:
    """Those of one name are one: they are the same thing to look at."""
    found: dict[tuple[tuple[str, ...], str], Suspect] = {}
    for each in suspects:
        key = each.refs, each.words
        if key in found:
            old = found[key]
            variants = _in_order((*old.variants, *each.variants))
            each = Suspect(each.refs, each.words, old.weight + each.weight, variants)
        found[key] = each
    return tuple(found.values())


def _in_order(variants: Sequence[Variant]) -> tuple[Variant, ...]:
    """Variants along the way that they have in common, those that are the same made one.

    What is found between two is still found there where a third comes to lie between them.
    """
    rows: dict[tuple[Change, ...], list[Variant]] = {}
    for each in variants:
        rows.setdefault(each.changes, []).append(each)
    several = [
        replace(
            own[0],
            weight=sum(v.weight for v in own),
            onwards=sum(v.onwards for v in own),
            words=own[0].words,
        )
        for own in rows.values()
    ]
    if all(len(v.changes) == 1 for v in several):
        several.sort(key=lambda v: (v.changes[0].factor, v.changes[0].offset))
    found: list[Variant] = []
    for each in several:
        if found and not each.onwards and each.weight and found[-1].onwards and _beside(several):
            half = found[-1].onwards / 2.0
            found[-1] = replace(found[-1], onwards=half)
            each = replace(each, onwards=half)
        found.append(each)
    return tuple(found)


def _beside(variants: Sequence[Variant]) -> bool:
    return len({v.changes[0].name for v in variants if v.changes}) == 1


def _along(
    ways: Sequence[tuple[tuple[Change, ...], str]], gaps: Sequence[int] = ()
) -> tuple[Variant, ...]:
    """Variants of which what lies between two neighbours is found as often as between any others.

    gaps: numbers of those after which nothing is found up to the next.
    """
    last = len(ways) - 1
    return tuple(
        Variant(changes, 0.0, words, {}, 0.0 if i == last or i in gaps else 1.0)
        for i, (changes, words) in enumerate(ways)
    )


def _electrical(part: Part) -> dict[str, str]:
    return {pin: net for pin, net in part.pins.items() if not is_thermal(part.device, pin)}


def _failed(circuit: Circuit, modes: FaultModes) -> Iterator[Suspect]:
    """Parts that failed in the modes of their kinds, but for what they store."""
    for mode in modes.modes:
        part, name, words = circuit.part(mode.ref), mode.fault.name, mode.words
        if mode.destroys:
            # What is found is the part that did not survive it.
            part, name = circuit.part(mode.destroys), "short"
            words = next(m.words for m in modes.modes if m.ref == part.ref and m.fault.name == name)
        for suspect in _in_mode(part, name, words, mode.variants):
            share = mode.fault.share / max(1, len(mode.variants))
            yield replace(suspect, weight=share)


def _in_mode(
    part: Part, mode: str, words: str, variants: Sequence[tuple[Change, ...]]
) -> Iterator[Suspect]:
    if not variants:
        return
    if mode == "drift":
        found = _drifted(part, variants[0])
        if found is not None:
            yield replace(found, weight=1.0)
            yield replace(found, weight=1.0)
    elif mode in ("short", "leaky") and variants[0][0].name[0] == "":
        name = variants[0][0].name
        several = ANY_SHORT if mode == "short" else ANY_LEAK
        yield Suspect((part.ref,), f"{part.ref} {words}", 1.0, _conducting(name, several))
    else:
        for variant in variants:
            yield Suspect((part.ref,), f"{part.ref} {words}", 1.0, (Variant(variant, 1.0),))


def _conducting(name: tuple[str, str], several: Sequence[float]) -> tuple[Variant, ...]:
    return _along([((Change(name, 0.0, g),), f"about {show(1.0 / g, 'Ω', 1)}") for g in several])


def _drifted(part: Part, example: Sequence[Change]) -> Suspect | None:
    """A part whose value, or values together, are off by any factor."""
    names = [change.name for change in example]
    value = part.device.values[names[0][1]]
    typical = part.values[names[0][1]].spread.typical
    if value.signed:
        offsets = [-v for v in reversed(ANY_OFFSET)] + list(ANY_OFFSET)
        ways = [
            (tuple(Change(name, 1.0, v) for name in names), f"by {show(v, value.unit, 1)}")
            for v in offsets
        ]
        words = f"{part.ref} {names[0][1].replace('_', ' ')} off"
        return Suspect((part.ref,), words, 1.0, _along(ways, (len(ANY_OFFSET) - 1,)))
    several = ANY_FACTOR if value.unit in PASSIVE_UNITS else ANY_SHARE
    factors = [*several, *(1.0 / f for f in reversed(several))]
    ways = [
        (tuple(Change(name, f, 0.0) for name in names), show(typical * f, value.unit, 2))
        for f in factors
    ]
    variants = _along(ways, (len(several) - 1,))
    return Suspect((part.ref,), _wrong(part, names[0][1]), 1.0, variants)


def _wrong(part: Part, name: str) -> str:
    """That a value is another one than it should be."""
    value = part.values[name]
    return f"{part.ref} is not {show(value.spread.typical, value.unit, 2)}"


def _stored(circuit: Circuit) -> Iterator[Suspect]:
    """Capacitors that are open, or have lost capacitance, or are worn.

    Nothing at rest depends on them: what is read in cycles does.
    """
    for part in circuit.parts:
        shares = {fault.name: fault.share for fault in part.device.faults}
        if part.kind == "capacitor":
            name = part.ref, "capacitance"
            lost = (Variant((Change(name, LOST, 0.0),), 1.0),)
            yield Suspect((part.ref,), f"{part.ref} open", shares["open"], lost)
            yield Suspect((part.ref,), f"{part.ref} lost capacitance", shares["drift"], _left(name))
            esr = part.ref, "esr"
            ways = [((Change(esr, f, 0.0),), f"{f:.0f} times") for f in ANY_ESR]
            yield Suspect((part.ref,), f"{part.ref} series resistance high", WORN, _along(ways))


def _left(name: tuple[str, str]) -> tuple[Variant, ...]:
    return _along([((Change(name, f, 0.0),), f"{f:.0%} left") for f in ANY_LOSS])


def _joints(circuit: Circuit) -> list[Joint]:
    """Pins of parts that have more than two."""
    return [
        (part.ref, pin)
        for part in circuit.parts
        if len(_electrical(part)) > MOST_PINS
        for pin in _electrical(part)
    ]


def _open_joints(circuit: Circuit, modes: FaultModes) -> Iterator[Suspect]:
    """Pins that are not joined; what opens in a part at a pin is the same thing to look at."""
    opens = {
        (mode.ref, mode.fault.between[0]): mode.words
        for mode in modes.modes
        if mode.fault.name == "open" and mode.fault.between
    }
    for ref, pin in sorted(_joints(circuit)):
        words = opens.get((ref, pin), f"{pin} not joined")
        change = Change(joint_name(ref, pin), 0.0, OPEN)
        yield Suspect((ref,), f"{ref} {words}", 1.0, (Variant((change,), 1.0),))


def _bridges(circuit: Circuit) -> dict[tuple[str, str], list[str]]:
    """Nets of terminals that stand side by side on a package -> the parts where they do."""
    found: dict[tuple[str, str], list[str]] = {}
    for part in circuit.parts:
        numbered = {
            int(terminal): part.pins[pin]
            for pin, terminal in {**part.order, **part.terminals}.items()
            if terminal.isdigit() and pin in _electrical(part)
        }
        for number, net in numbered.items():
            other = numbered.get(number + 1)
            if other is not None and other != net:
                found.setdefault((min(net, other), max(net, other)), []).append(part.ref)
    return found


def _bridged(circuit: Circuit, modes: FaultModes) -> Iterator[Suspect]:
    """Pins side by side that are joined; a part shorted there is the same thing to look at."""
    shorts = {
        (mode.ref, change.name): mode.words
        for mode in modes.modes
        if mode.fault.name == "short"
        for variant in mode.variants
        for change in variant
    }
    for (one, other), refs in sorted(_bridges(circuit).items()):
        name = bridge_name(one, other)
        words = [f"{ref} {shorts[ref, name]}" for ref in refs if (ref, name) in shorts]
        if words:
            ref = words[0].split()[0]
            yield Suspect((ref,), words[0], 1.0, _conducting(name, ANY_SHORT))
        else:
            told = f"{one} bridged with {other}"
            yield Suspect(tuple(refs), told, 1.0, _conducting(name, ANY_SHORT))


def _slipped(circuit: Circuit, spread: PartSpread, decades: bool) -> Iterator[Suspect]:
    for slip in value_slips(circuit, spread, STEPS):
        if circuit.part(slip.ref).kind == "potentiometer" or slip.is_stored:
            continue  # nothing at rest depends on it, or it is not bought by its code
        steps = abs(round(STEPS * math.log10(slip.factor)))
        if steps == (STEPS if decades else 1):
            part = circuit.part(slip.ref)
            value = part.values[slip.value]
            there = show(value.spread.typical * slip.factor, value.unit, 2)
            change = Change((slip.ref, slip.value), slip.factor, 0.0)
            variant = Variant((change,), 1.0, there)
            yield Suspect((slip.ref,), _wrong(part, slip.value), 1.0, (variant,))


def _of_other_types(circuit: Circuit, spread: PartSpread) -> Iterator[Suspect]:
    """Parts of a type that has another voltage or gain."""
    for slip in type_slips(circuit, spread):
        part = circuit.part(slip.ref)
        value = part.values[slip.value]
        if not part.device.values[slip.value].dynamic and slip.value != "forward_voltage":
            there = show(value.spread.typical * slip.factor, value.unit, 2)
            variant = Variant((Change((slip.ref, slip.value), slip.factor, 0.0),), 1.0, there)
            yield Suspect((slip.ref,), _wrong(part, slip.value), 1.0, (variant,))


def _exchanged(circuit: Circuit, spread: PartSpread) -> Iterator[Suspect]:
    for one, other in exchanged_values(circuit, spread):
        if one.is_stored:
            continue
        changes = tuple(Change((s.ref, s.value), s.factor, 0.0) for s in (one, other))
        refs, words = (one.ref, other.ref), f"{one.ref} and {other.ref} exchanged"
        yield Suspect(refs, words, 1.0, (Variant(changes, 1.0),))


def _reversed(circuit: Circuit) -> Iterator[Suspect]:
    """Parts of two poles the wrong way round. A wet capacitor leaks then: so it is suspected."""
    for part in circuit.parts:
        pins = _electrical(part)
        if len(pins) == MOST_PINS and part.kind not in CODED and _is_polar(part):
            (one, a), (other, b) = pins.items()
            moves = {(part.ref, one): b, (part.ref, other): a}
            words = f"{part.ref} the wrong way round"
            yield Suspect((part.ref,), words, 1.0, (Variant((), 1.0, "", moves),))


def _is_polar(part: Part) -> bool:
    roles = {part.device.pins[pin].role for pin in _electrical(part)}
    return "cathode" in roles or bool(part.device.polar_pairs(part.options))


def _other_orders(circuit: Circuit) -> Iterator[Suspect]:
    """Parts of three pins with these in every other order: turned round, rotated, of another type.

    What has more pins is not looked at: its package fits one way, or the circuit does not survive.
    """
    for part in circuit.parts:
        pins = _electrical(part)
        order = {**part.order, **part.terminals}
        if len(pins) != 3 or part.kind in CODED or len(set(pins.values())) < 2:
            continue
        names = sorted(pins, key=lambda pin: order.get(pin, pin))
        for nets in dict.fromkeys(itertools.permutations([pins[name] for name in names])):
            moves = {
                (part.ref, name): net
                for name, net in zip(names, nets, strict=True)
                if net != pins[name]
            }
            if moves:
                words = f"{part.ref} pins in the order {_told(names, nets, pins)}"
                yield Suspect((part.ref,), words, 1.0, (Variant((), 1.0, "", moves),))


def _told(names: Sequence[str], nets: Sequence[str], pins: Mapping[str, str]) -> str:
    """Which pin stands at the places of the pins, in the order of these."""
    homes: dict[str, list[str]] = {}
    for name, net in zip(names, nets, strict=True):
        homes.setdefault(net, []).append(name)
    return "-".join(homes[pins[name]].pop(0) for name in names)


def _supplies(circuit: Circuit) -> dict[str, tuple[str, str]]:
    """Parts with a supply pin and a ground pin of their own -> their nets."""
    found = {}
    for part in circuit.parts:
        roles = {part.device.pins[pin].role: net for pin, net in _electrical(part).items()}
        if "supply" in roles and "ground" in roles and roles["supply"] != roles["ground"]:
            found[part.ref] = roles["supply"], roles["ground"]
    return found


def _latched_up(circuit: Circuit) -> Iterator[Suspect]:
    """Circuits that conduct between their supply pins. One that is dead for want of supply is an
    open joint."""
    for ref, ends in _supplies(circuit).items():
        variants = _conducting(bridge_name(*ends), LATCHED_UP)
        yield Suspect((ref,), f"{ref} latched up", 1.0, variants)


def _wrong_polarity(circuit: Circuit) -> Iterator[Suspect]:
    for part in circuit.parts:
        if "enable_inverted" in part.device.inputs and "disable" in part.pins:
            change = Change((part.ref, "enable_inverted"), -1.0, 1.0)
            words = f"{part.ref} acts on the other level of its enable"
            yield Suspect((part.ref,), words, 1.0, (Variant((change,), 1.0),))
