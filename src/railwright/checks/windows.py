"""Windows: what the datasheet of a regulator asks of the capacitors and coils around it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from railwright.catalogue.entry import KnownWindow
from railwright.checks.check import Check, Worst, at_least, at_most, least
from railwright.checks.nets import NEAR, near
from railwright.circuit.circuit import Part
from railwright.devices.capacitor import bend, kept_under_bias, kept_warm
from railwright.devices.device import Role, Window
from railwright.quantity import show
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import terminals
from railwright.surveys.situations import View
from railwright.surveys.spread import ROOM
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]

SEPARATOR = " "
Side = Literal["low", "high"]
AS_MARKED = 0.8
"""A capacitor of class 2 that keeps so much under bias and temperature counts as marked: a fifth is
within the tolerance of what makers ask for by its marked value (common practice, no source)."""
ROUNDED = 0.005
"""By what a bound of two digits may be exceeded: a ceramic capacitor for the edges beside the
largest electrolytic one, say (common practice, no source)."""
SIDES: tuple[Side, Side] = ("low", "high")
"""Which bound is looked at: the least or the greatest."""
FREQUENCY = 100e3
"""Hz; where the series resistance of capacitors in parallel is looked at. That of electrolytic ones
is published there, and the loops of regulators end not far from it (common practice, no source)."""
FED: tuple[Role, ...] = ("power-input", "supply", "power-output")
_OUTSIDE = {
    "capacitance": "no capacitor",
    "series resistance": "no capacitor",
    "inductance": "no coil",
}


@dataclass(frozen=True)
class _Branch:
    """A capacitor or a coil, and the conductors on the way to it."""

    ref: str
    way: frozenset[str]


@dataclass(frozen=True)
class _Seat:
    """What sits where a window says."""

    branches: tuple[_Branch, ...]
    rails: tuple[str, ...] = ()
    """Rails whose load, with the capacitance that it may have, is there."""

    def who(self, window: Window) -> list[str]:
        """What makes the quantity of a window, in words."""
        loads = [f"the load of {r}" for r in self.rails if window.quantity == "capacitance"]
        return [branch.ref for branch in self.branches] + loads


class PublishedWindow(Check):
    """Sum of the capacitances, with the least and the greatest that a load may bring; real part of
    the impedance of all capacitors in parallel; inductances in parallel; against their bounds.

    Makers mean values as they are marked, of parts with the usual tolerance: a value at the edge of
    its tolerance counts as marked, and nothing is wanted on top. The series resistance of the way
    to each capacitor counts as its own. Class 2 counts with what bias and temperature leave of it,
    where that is more than a fifth less. What a load brings has no known series resistance, and
    does not count there.
    """

    id = "stability.window"
    question = "Do the capacitors and coils around every regulator lie where its datasheet asks?"
    source = (
        "published window of the part's type; marked values, and several in parallel at 100 kHz: "
        "common practice, no source"
    )
    analysis = (
        "Margin = distance from the nearer bound of the window. Capacitances are summed, with the "
        "least and the greatest that a load may bring, class 2 with what bias and temperature "
        "leave, where they take more than a fifth; the series resistance is the real part of all "
        "in parallel at 100 kHz, ways included; coils count in parallel. Where the type lets one "
        "of two windows do, the better one counts. Reserve = margin / bound."
    )
    example = (
        "A low-dropout type wants at least 1 µF at its output. 2.2 µF of class 2 that keeps 40 % "
        "under bias is `2.2 µF × 40 % = 0.88 µF`: margin `0.88 µF - 1 µF = -0.12 µF`, falls "
        "short; 4.7 µF leave `4.7 µF × 40 % - 1 µF = 0.88 µF`."
    )

    def subjects(self, survey: Survey) -> Sequence[str]:
        found = []
        for part in survey.fixture.circuit.parts:
            if part.device.windows and not part.windows:
                found.append(part.ref)
            found += [
                f"{part.ref}{SEPARATOR}{name}"
                for name in part.windows
                if not _is_told_elsewhere(survey, part, name)
            ]
        return found

    def missing(self, survey: Survey, subject: str) -> str:
        part, name = _subject(survey, subject)
        if not name:
            words = ", ".join(part.device.windows)
            return (
                f"it is not known what {part.ref} asks of the parts around it. State what its "
                f"datasheet does of {words}, or name a catalogue part with use."
            )
        seat = survey.once(_seats)[part.ref, name]
        if seat is None:
            return f"a pin or the coil of {part.ref} beside which to look is not connected."
        if part.device.windows[name].quantity == "series resistance" and not seat.branches:
            return f"{part.ref} has no capacitor there, of which to tell the series resistance."
        return ""

    def sought(self, survey: Survey, subject: str) -> str:
        part, name = _subject(survey, subject)
        return "inductor" if part.device.windows[name].quantity == "inductance" else "capacitor"

    def answer(self, view: View, subject: str) -> Answer:
        part, name = _subject(view.survey, subject)
        own = _answer(view, part, name)
        other = part.device.windows[name].or_else
        if other not in part.windows:
            return own
        others = _answer(view, part, other)
        better = others.margin / others.limit > own.margin / own.limit
        margin, value, limit = (
            np.where(better, theirs, ours)
            for theirs, ours in (
                (others.margin, own.margin),
                (others.value, own.value),
                (others.limit, own.limit),
            )
        )
        return Answer(margin, value, limit)

    def wanted(self, survey: Survey) -> float:
        return 0.0

    def unit_of(self, survey: Survey, subject: str) -> str:
        part, name = _subject(survey, subject)
        return part.windows[name].unit if name else ""

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        part, name = _subject(survey, subject)
        declared, window = part.device.windows[name], part.windows[name]
        seat = survey.once(_seats)[part.ref, name]
        there = seat.who(declared) if seat else []
        pins = " and ".join(declared.pins)
        what = f"{part.ref} has {_OUTSIDE[declared.quantity]} at {pins}"
        if there:
            amount = f"{show(worst.value, window.unit)} of {declared.quantity}"
            what = f"{part.ref} finds {amount} at {pins} ({', '.join(there)})"
        most = (worst.margin >= 0) == (worst.value <= worst.limit)
        wants = f"at {'most' if most else 'least'} {show(worst.limit, window.unit)}"
        other = part.windows.get(declared.or_else)
        either = f" (or {_in_words(other)})" if other else ""
        at = f", {window.at}" if window.at else ""
        return f"{what}; it wants {wants}{either}{at} ({worst.place})."


def _in_words(window: KnownWindow) -> str:
    bounds = (("at least", window.minimum), ("at most", window.maximum))
    return " and ".join(f"{w} {show(b, window.unit)}" for w, b in bounds if b is not None)


def _subject(survey: Survey, subject: str) -> tuple[Part, str]:
    """The part and the name of the window that a subject is about."""
    ref, _, name = subject.partition(SEPARATOR)
    return survey.fixture.circuit.part(ref), name


def _is_told_elsewhere(survey: Survey, part: Part, name: str) -> bool:
    """Whether another window tells of the same: its alternative, or of a capacitor that is missing
    altogether."""
    declared, names = part.device.windows[name], list(part.device.windows)
    other = declared.or_else
    if other in part.windows and names.index(other) < names.index(name):
        return True
    seat = survey.once(_seats)[part.ref, name]
    if declared.quantity != "series resistance" or seat is None or seat.branches:
        return False
    return any(
        window.minimum
        for each, window in part.windows.items()
        if part.device.windows[each].quantity == "capacitance"
        and survey.once(_seats)[part.ref, each] == seat
    )


def _seats(survey: Survey) -> Mapping[tuple[str, str], _Seat | None]:
    """(ref, window) -> what sits there, or None where that is not to be told."""
    return {
        (part.ref, name): _seat(survey, part, part.device.windows[name])
        for part in survey.fixture.circuit.parts
        for name in part.windows
    }


def _seat(survey: Survey, part: Part, window: Window) -> _Seat | None:
    first = first_end(survey, part, window)
    if first is None or any(pin not in part.pins for pin in window.pins):
        return None
    circuit = survey.fixture.circuit
    begins = near(circuit, [first], NEAR)
    if window.quantity == "inductance":
        return _Seat(tuple(_of_kind(survey, "inductor", begins, None)))
    ends = near(circuit, _other_ends(survey, part, window), NEAR)
    rails = [
        rail
        for rail, output in survey.fixture.rails.items()
        if any(load.capacitance and load.capacitance.max for load in output.load)
        and _joins(terminals(output).plus, terminals(output).minus, begins, ends) is not None
    ]
    return _Seat(tuple(_of_kind(survey, "capacitor", begins, ends)), tuple(rails))


def first_end(survey: Survey, part: Part, window: Window) -> str | None:
    """The net at which a window's part begins: that of its first pin, or beyond a linked part."""
    net = part.pins.get(window.pins[0])
    if not window.beyond:
        return net
    links = survey.model.topology.element[part.ref].links
    if window.beyond not in links:
        return None
    circuit = survey.fixture.circuit
    other, known = circuit.part(links[window.beyond]), {net}
    if "coupling" in links:
        known |= {*circuit.part(links["coupling"]).pins.values()}
    for pair in other.device.conducts:
        nets = [other.pins.get(pin) for pin in pair]
        for here, there in (nets, nets[::-1]):
            if here in known:
                return there
    return None


def _other_ends(survey: Survey, part: Part, window: Window) -> Sequence[str]:
    """Nets at which a window's part may end: of its other pin, or every terminal of the supply but
    those at the part's own input and output."""
    if len(window.pins) > 1:
        return [part.pins[window.pins[1]]]
    pins = part.device.pins.items()
    own = near(
        survey.fixture.circuit,
        [part.pins[pin] for pin, p in pins if p.role in FED and pin in part.pins],
        NEAR,
    )
    need = survey.fixture.design.need
    there = [terminals(need.input), *(terminals(output) for output in need.output)]
    return [net for pair in there for net in (pair.plus, pair.minus) if net not in own]


Ways = Mapping[str, tuple[str, ...]]


def _joins(one: str, other: str, begins: Ways, ends: Ways | None) -> frozenset[str] | None:
    """The way to a part between two nets, where it begins and ends as wanted; else None."""
    if one == other:
        return None
    for near_end, far_end in ((one, other), (other, one)):
        if near_end in begins and (ends is None or far_end in ends):
            return frozenset((*begins[near_end], *(ends[far_end] if ends else ())))
    return None


def _of_kind(survey: Survey, kind: str, begins: Ways, ends: Ways | None) -> Iterator[_Branch]:
    for part in survey.fixture.circuit.parts:
        if part.kind == kind and len(part.pins) == 2:
            one, other = part.pins.values()
            way = _joins(one, other, begins, ends)
            if way is not None:
                yield _Branch(part.ref, way)


def _answer(view: View, part: Part, name: str) -> Answer:
    declared, window = part.device.windows[name], part.windows[name]
    seat = view.survey.once(_seats)[part.ref, name]
    assert seat is not None  # told as missing
    if declared.quantity == "series resistance":
        low = high = _series_resistance(view, seat)
    else:
        found = _capacitance if declared.quantity == "capacitance" else _inductance
        low, high = (found(view, seat, side) for side in SIDES)
    answers = []
    if window.minimum is not None:
        answers.append(at_least(low, window.minimum))
    if window.maximum is not None:
        over = high > window.maximum * (1.0 + ROUNDED)
        answers.append(
            at_most(np.where(over, high, np.minimum(high, window.maximum)), window.maximum)
        )
    return least(answers)


def _capacitance(view: View, seat: _Seat, side: Side) -> Array:
    """The least or the greatest of all capacitors and of the load together [F]."""
    total = np.zeros(view.points.count)
    for branch in seat.branches:
        total += _as_marked(view, branch.ref, "capacitance", side) * _kept(view, branch.ref, side)
    for rail in seat.rails:
        loads = view.survey.fixture.rails[rail].load
        ranges = [load.capacitance for load in loads]
        if side == "high":
            total += max((r.max for r in ranges if r is not None), default=0.0)
        elif loads:
            total += min(0.0 if r is None else r.min for r in ranges)
    return total


def _as_marked(view: View, ref: str, name: str, side: Side) -> Array:
    """A value, in a measure in which that at its lower or its upper limit is the marked one."""
    spread = view.survey.fixture.circuit.part(ref).values[name].spread
    warm = np.abs(view.points.ambient - ROOM) * spread.drift
    limit = spread.low * (1.0 - warm) if side == "low" else spread.high * (1.0 + warm)
    marked: Array = view.value(ref, name) * (spread.typical / limit)
    return marked


def _kept(view: View, ref: str, side: Side) -> Array:
    """What bias and temperature leave of a capacitor in its place, as a share.

    The losses of class 2 do not vary at rest: they are taken at the limit that `side` wants.
    What is within a usual tolerance counts as nothing.
    """
    part = view.survey.fixture.circuit.part(ref)
    if part.options["dielectric"] != "class-2":
        return np.ones(view.points.count)
    bias, warm = (part.values[name].spread for name in ("bias_loss", "temperature_loss"))
    bias_loss, warm_loss = (bias.high, warm.high) if side == "low" else (bias.low, warm.low)
    bent = bend(bias_loss, part.values["rated_voltage"].spread.typical)
    left = kept_warm(warm_loss, view.points.ambient)
    kept: Array = left * kept_under_bias(bent, view.at.of(ref, "voltage"))
    return np.where(kept >= AS_MARKED, 1.0, kept)


def _series_resistance(view: View, seat: _Seat) -> Array:
    """Real part of the impedance of all capacitors in parallel [Ω], that of the ways included."""
    shared = frozenset.intersection(*(branch.way for branch in seat.branches))
    admittance = np.zeros(view.points.count, complex)
    for branch in seat.branches:
        own = _resistance(view, branch.way - shared) + view.value(branch.ref, "esr")
        held = view.value(branch.ref, "capacitance") * _kept(view, branch.ref, "low")
        reactance = 1.0 / (2.0 * np.pi * FREQUENCY * held)
        admittance += 1.0 / (own - 1j * reactance)
    resistance: Array = (1.0 / admittance).real + _resistance(view, shared)
    return resistance


def _resistance(view: View, refs: frozenset[str]) -> Array:
    return sum(
        (view.value(ref, "resistance") * np.ones(view.points.count) for ref in sorted(refs)),
        np.zeros(view.points.count),
    )


def _inductance(view: View, seat: _Seat, side: Side) -> Array:
    """Of all coils in parallel [H]; nil where there is none."""
    if not seat.branches:
        return np.zeros(view.points.count)
    coils = [_as_marked(view, branch.ref, "inductance", side) for branch in seat.branches]
    return 1.0 / (sum(1.0 / coil for coil in coils) * np.ones(view.points.count))
