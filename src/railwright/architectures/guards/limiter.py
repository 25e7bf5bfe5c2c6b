"""What limits a current with a transistor ahead of the last regulator, whatever that is.

A resistor senses what flows; a small pnp transistor with its base behind that takes the gate of a
p-channel transistor up where it is too much. Source of the circuit: Garcia-Gil and Espi (2005),
Circuit adds foldback-current protection, EDN, July 21.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import ClassVar

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.front import LEGS
from railwright.architectures.guards.aside import ON_THE_WAY
from railwright.architectures.guards.at_pins import BYPASS, LEFT
from railwright.architectures.guards.guard import Guard, with_rail
from railwright.architectures.guards.own_limit import HEAVY, band_of
from railwright.architectures.guards.p_channel import (
    PChannel,
    none_carries,
    on_resistance,
    p_channels,
    transistors,
)
from railwright.architectures.outboard_linear import BLOCK as OUTBOARD
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.base_voltage import base_voltage
from railwright.architectures.sizing.capacitors import window_of
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sketched import entry_of, pins_of
from railwright.architectures.small_parts import draw_capacitor, draw_resistor
from railwright.architectures.two_knobs import tolerance_of
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.tables import Range
from railwright.circuit.writer import NewTable
from railwright.devices import kinds
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import bracket

BLOCK = "current limit"
SHUNTS = "current shunt"
BASE = 100.0
"""Ω ahead of the base (the published circuit has it): bounds its current in the first instant of a
short, and is the lower end of the divider of one that folds back."""
WARMER = 10.0
"""K above the hottest air is the small transistor, which stands apart from what is hot (common
practice, no source)."""
PULLED = 2e-3
"""A that draw the gate down at most: it follows in microseconds (common practice, no source)."""
ON_STILL = 1.0
"""V above the threshold at the gate: below that it limits, above it is on (square law of power
types at some amperes, datasheets)."""


def folded(base: float, share: float, across: float, sense: float) -> float:
    """What flows where the limit acts [A]: (Vbe (1 + k) - k V) / Rs.

    base: Vbe of the transistor that senses [V]; share: k, the resistor ahead of its base over that
    from there to the output; across: V between what feeds it and the output; sense [Ω]. Source: the
    foldback formula of any textbook, Imax = (Vbe (1 + R1/R2) + Vout R1/R2) / Rs, with its divider
    from the output to what feeds it and not to the ground: there `across` is -Vout.

    >>> round(folded(0.6, 0.1, -15.0, 1.0), 2), round(folded(0.6, 0.1, 0.0, 1.0), 2)
    (2.16, 0.66)
    """
    return (base * (1.0 + share) - share * across) / sense


@dataclass(frozen=True)
class Place:
    """Where it stands: what feeds it, and what it feeds."""

    net: str
    ground: str
    fed: tuple[float, float]
    """V on that net, least and most."""
    behind: tuple[tuple[str, str], ...]
    """Refs and pins that it feeds."""
    regulator: Entry
    beside: tuple[str, str] | None = None
    """Refs of what guards a transistor beside the regulator: its sense resistor, the transistor."""


@dataclass(frozen=True)
class Sized:
    """Its resistors, and what they make of the currents."""

    task: Task
    rail: Output
    place: Place
    small: Entry
    switch: PChannel
    sense: float
    """Ω, in which the current is seen."""
    back: float | None = None
    """Ω from the base to the output; None where the limit does not fold."""

    @property
    def tolerance(self) -> float:
        """Of its resistors."""
        return tolerance_of(self.task)

    @property
    def pull(self) -> float:
        """Ω that draw the gate down."""
        return bracket(self.place.fed[1] / PULLED, self.task.need.parts.series)[1]

    @cached_property
    def bases(self) -> Spread:
        """V from base to emitter where it acts."""
        low, high = self.place.fed
        on_still = spread_of(self.switch.entry, "threshold_voltage").high + ON_STILL
        air = self.task.need.surroundings.ambient
        ends = [
            base_voltage(self.small, volts / self.pull, air.min, air.max + WARMER)
            for volts in (low - on_still, high)
        ]
        return Spread.limits(ends[0].low, 0.5 * (ends[0].typical + ends[1].typical), ends[1].high)

    def low(self, volts: float) -> float:
        """Least that flows at an output, into load and regulator [A]."""
        share = self._share(1.0)
        sense = self.sense * (1.0 + self.tolerance)
        return folded(self.bases.low, share, self.place.fed[1] - volts, sense)

    def high(self, volts: float) -> float:
        """Most that flows there [A]."""
        share, sense = self._share(-1.0), self.sense * (1.0 - self.tolerance)
        return folded(self.bases.high, share, max(self.place.fed[0] - volts, 0.0), sense)

    def _share(self, sense: float) -> float:
        if self.back is None:
            return 0.0
        return BASE / self.back * (1.0 + 2.0 * sense * self.tolerance)

    @property
    def least(self) -> float:
        """Least into a load that would take 1.2 times the current by which it is to act [A].

        Where the load's line meets that of the limit: V = I R with R = Vout / (1.2 Iact).
        """
        _, act_by = band_of(self.rail)
        found = []
        for volts in (self.rail.voltage.min, self.rail.voltage.max):
            ohms, shorted = volts / (HEAVY * act_by), self.low(0.0) - LEGS
            slope = (self.low(volts) - self.low(0.0)) / volts
            left = 1.0 - slope * ohms
            found.append(shorted / left if left > 0.0 else HEAVY * act_by)
        return min(min(found), self.low(self.rail.voltage.min) - LEGS)

    @property
    def most(self) -> float:
        """Most that it lets through [A]."""
        return max(self.high(volts) for volts in (0.0, self.rail.voltage.max))

    @property
    def loss(self) -> float:
        """Most of its transistor, whatever the load [W]."""
        top = self.place.fed[1]
        return max(
            (top - volts) * self.high(volts)
            for volts in (share * self.rail.voltage.max for share in (0.0, 0.25, 0.5, 0.75))
        )

    @property
    def starts(self) -> bool:
        """Whether what it gives at any output feeds the load on its way up there.

        A resistive load takes in proportion to the voltage; of others nobody knows less than all
        of it at once.
        """
        resistive = all(load.kind == "resistive" for load in self.rail.load)
        return self.low(0.0) - LEGS >= (0.0 if resistive else self.rail.current.max)

    @property
    def spare(self) -> float:
        """What is left between its current and the nearer end of the band [A]."""
        carry, act_by = band_of(self.rail)
        return min(self.least - carry, act_by - self.most)


@dataclass(frozen=True)
class Limiter(Guard):
    """One that acts by its own sense resistor, so that the regulator's limit does not count."""

    purpose = "overload"
    preference = 1
    depth = 60
    dispensable = True
    style: ClassVar[str] = ""
    """That of the need which it serves."""

    def wanted(self, task: Task) -> bool:
        overload = self.output(task).overload
        return overload is not None and overload.style == self.style

    def inside(self, task: Task) -> Task:
        rail = self.output(task)
        carry, act_by = band_of(rail)
        highest = task.need.input.voltage.max if task.need.input.kind != "ac" else 0.0
        entry = next(p_channels(task, act_by, highest), None)
        if entry is None:
            raise none_carries(act_by, highest)
        most = max(rail.current.max, carry)
        # What is carried makes less across the sense resistor than turns the transistor on.
        sensed = base_voltage(_small(task, highest), PULLED, *_airs(task)).low
        lost = sensed + (most + LEGS) * on_resistance(entry)
        inside = with_rail(
            task, replace(rail, current=Range(rail.current.min, most), overload=None)
        )
        return replace(inside, ahead=inside.ahead + lost)

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        rail = self.output(task)
        place = placed(task, sketch, rail.name)
        sized = self.sized(task, rail, place)
        sheet = Sheet.of(sketch.parts)
        self._draw(task, sheet, sized)
        return replace(sketch, parts=_one_limit(place, sheet.parts))

    def sized(self, task: Task, rail: Output, place: Place) -> Sized:
        """The best one; Unserved where none keeps the band."""
        small = _small(task, place.fed[1])
        _, act_by = band_of(rail)
        refused: list[Unserved] = []
        for entry in p_channels(task, act_by, place.fed[1]):
            switch = PChannel(task, entry, act_by, place.fed)
            try:
                assert switch.zener or switch.fed
                found = self.chosen(Sized(task, rail, place, small, switch, 1.0))
                assert switch.limiting(found.loss)
            except Unserved as unserved:
                refused.append(Unserved(f"{entry.name}: {unserved.reason}"))
            else:
                return found
        raise refused[-1] if refused else none_carries(act_by, place.fed[1])

    def chosen(self, bare: Sized) -> Sized:
        """With the resistors that keep the band; Unserved where none do."""
        raise NotImplementedError(type(self).__name__)

    def best(self, several: Iterator[Sized]) -> Sized:
        """The one of least current that keeps the band, or else comes nearest to it."""
        found = list(several)
        kept = [each for each in found if self.kept(each)]
        return kept[-1] if kept else max(found, key=lambda each: each.spare)

    def kept(self, sized: Sized) -> bool:
        """Whether it keeps the band with the wanted reserve."""
        carry, act_by = band_of(sized.rail)
        return sized.spare >= (1.0 - sized.task.kept) * (act_by - carry)

    def told(self, sized: Sized) -> str:
        """What it does, in numbers."""
        carry, act_by = band_of(sized.rail)
        return (
            f"limits at {show(sized.least, 'A')} to {show(sized.most, 'A')}; {show(carry, 'A')} "
            f"are to be carried, and it is to act by {show(act_by, 'A')}"
        )

    def _draw(self, task: Task, sheet: Sheet, sized: Sized) -> None:
        place, switch, limited = sized.place, sized.switch, self.net(task, "LIMITED")
        sensed, gate, base = (
            self.net(task, n) for n in ("LIMIT_SENSE", "LIMIT_GATE", "LIMIT_BASE")
        )
        tab, sink = self.net(task, "LIMIT_TAB"), self.net(task, "LIMIT_SINK")
        for ref, pin in place.behind:
            sheet.join(ref, pin, limited)
        base_range = sized.bases
        why = (
            f"{show(base_range.low, 'V')} to {show(base_range.high, 'V')} across it turn the small "
            f"transistor on: {self.told(sized)} (Garcia-Gil and Espi 2005)"
        )
        pins, value = {"one": place.net, "two": sensed}, show(sized.sense, "Ω", 4)
        use = _shunt(task, sized.most**2 * sized.sense).name
        sheet.add("R", "resistor", BLOCK, pins, why, use=use, resistance=value)
        cooling = switch.limiting(sized.loss)
        why = (
            f"on in use, at most {show(switch.on, 'Ω')} hot; in the limit it loses up to "
            f"{show(sized.loss, 'W')} for as long as that lasts: {cooling.why}"
        )
        case = {"case": tab} if cooling.sink is not None else {}
        pins = {"source": sensed, "drain": limited, "gate": gate} | case
        sheet.add("Q", switch.entry.kind, BLOCK, pins, why, use=switch.entry.name)
        draw_cooling(sheet, cooling, tab, sink, BLOCK)
        self._draw_gate(sheet, sized, (sensed, gate))
        pins = {"emitter": place.net, "base": base, "collector": gate}
        why = f"takes the gate up: {show(place.fed[1] / sized.pull, 'A')} at most"
        sheet.add("Q", sized.small.kind, BLOCK, pins, why, use=sized.small.name)
        why = f"{show(BASE, 'Ω')}: bounds the base current in the first instant of a short"
        draw_resistor(sheet, task, BLOCK, (sensed, base), BASE, why)
        if sized.back is not None:
            self._draw_fold(task, sheet, sized, base)
        held = LEFT * max(BYPASS, window_of(place.regulator, "input_capacitance")[0])
        why = f"at least {show(held, 'F')} at the pins of the regulator (datasheet)"
        of = "class-2", held
        draw_capacitor(sheet, task, BLOCK, (limited, place.ground), of, place.fed[1], why)

    def _draw_gate(self, sheet: Sheet, sized: Sized, ends: tuple[str, str]) -> None:
        """What draws the gate down; ends: nets of source and gate."""
        task, (source, gate), (low, high) = sized.task, ends, sized.place.fed
        zener, most = sized.switch.zener, high
        if zener is not None:
            most = spread_of(zener, "zener_voltage").high
            why = (
                f"bounds the gate at {show(most, 'V')}; {show(sized.switch.most, 'V')} may be used"
            )
            pins = {"anode": gate, "cathode": source}
            sheet.add("D", zener.kind, BLOCK, pins, why, use=zener.name)
        why = f"{show(min(low, most), 'V')} to {show(most, 'V')} at the gate while it is on"
        watts = high**2 / sized.pull
        draw_resistor(sheet, task, BLOCK, (gate, sized.place.ground), sized.pull, why, watts=watts)

    def _draw_fold(self, task: Task, sheet: Sheet, sized: Sized, base: str) -> None:
        """What lowers the limit with the output, and what takes its current where nothing does."""
        (_, high), back, volts = sized.place.fed, sized.back, sized.rail.voltage
        assert back is not None
        why = (
            f"k = {show(BASE, 'Ω')} / {show(back, 'Ω')}: (Vbe (1 + k) - k V) / Rs folds from "
            f"{show(sized.low(volts.max), 'A')} at least down to {show(sized.low(0.0), 'A')} to "
            f"{show(sized.high(0.0), 'A')} in a short"
        )
        out = task.terminals(sized.rail.name).plus
        draw_resistor(sheet, task, BLOCK, (base, out), back, why, watts=high**2 / back)
        if "adjust" in sized.place.regulator.pins:
            return
        leaks = (high - volts.min) / back
        ohms = bracket(task.kept * volts.min / leaks, task.need.parts.series)[0]
        why = f"takes the {show(leaks, 'A')} that come over it, when the load takes nothing"
        ends = out, sized.place.ground
        draw_resistor(sheet, task, BLOCK, ends, ohms, why, watts=volts.max**2 / ohms)


def placed(task: Task, sketch: Sketch, rail: str) -> Place:
    """Where a current for a rail can be limited; Unserved where there is no place for it."""
    nets = task.terminals(rail)
    ends = {nets.plus, nets.minus}
    gives = [part for part in sketch.parts if ends & {pins_of(part).get("output", "")}]
    if not gives or "input" not in pins_of(gives[0]) or kinds()[str(gives[0]["kind"])].negative:
        raise Unserved("no positive regulator gives the output, ahead of which it could stand")
    regulator, out = gives[0], pins_of(gives[0])["output"]
    passes = [part for part in sketch.parts if pins_of(part).get("collector") == out]
    beside: tuple[str, str] | None = None
    if passes:
        emitter = pins_of(passes[0])["emitter"]
        behind = [part for part in sketch.parts if part["block"] == OUTBOARD]
        (shunt,) = (part for part in behind if pins_of(part).get("two") == emitter)
        (small,) = (part for part in behind if pins_of(part).get("base") == emitter)
        net, beside = pins_of(shunt)["one"], (str(shunt["ref"]), str(small["ref"]))
        behind.remove(small)
    else:
        net = pins_of(regulator)["input"]
        behind = [regulator, *(p for p in sketch.parts if _empties(p, out, net))]
    held = [p for p in sketch.parts if p["kind"] == "capacitor" and pins_of(p)["plus"] == net]
    if not held or rail not in sketch.fed:
        raise Unserved("the regulator is not fed from one net that a capacitor holds")
    low, high = sketch.fed[rail]
    pins = [(str(p["ref"]), pin) for p in behind for pin, at in pins_of(p).items() if at == net]
    ground, fed = pins_of(held[0])["minus"], (low - ON_THE_WAY, high)
    return Place(net, ground, fed, tuple(pins), entry_of(task, regulator), beside)


def _one_limit(place: Place, parts: Sequence[NewTable]) -> tuple[NewTable, ...]:
    """Parts without the guard of a transistor beside the regulator: two limits fight each other."""
    if place.beside is None:
        return tuple(parts)
    shunt, small = place.beside
    why = "sets with the other resistor what the regulator leaves to the transistor"
    told = {shunt: {"why": f"{why}; the limit ahead guards that"}}
    left = (part for part in parts if part["ref"] != small)
    return tuple({**part, **told.get(str(part["ref"]), {})} for part in left)


def _empties(part: NewTable, out: str, net: str) -> bool:
    """Whether it is the diode that empties an output into what feeds its regulator."""
    pins = pins_of(part)
    return part["kind"] == "diode" and (pins["anode"], pins["cathode"]) == (out, net)


def senses(sized: Sized, most: float) -> Iterator[Sized]:
    """With each sense resistor of the series about that of a current [A]."""
    about = folded(sized.bases.typical, 0.0, 0.0, most)
    first = bracket(0.3 * about, sized.task.need.parts.series)[0]
    ohms = first
    while ohms < 1.5 * about:
        yield replace(sized, sense=ohms)
        ohms = bracket(ohms * 1.001, sized.task.need.parts.series)[1]


def _airs(task: Task) -> tuple[float, float]:
    air = task.need.surroundings.ambient
    return air.min, air.max + WARMER


def _small(task: Task, volts: float) -> Entry:
    """The small pnp transistor whose base voltage is known best, of those that bear a voltage [V].

    Unserved where there is none.
    """
    known = transistors(task, "bipolar-transistor", "polarity", "pnp")
    bearing = [e for e in known if task.bears(e, "collector_emitter_voltage") >= volts]
    found = [e for e in bearing if "case" not in e.pins]
    if not found:
        raise Unserved(f"no small pnp transistor of the catalogue bears {show(volts, 'V')}")
    return min(found, key=_wide)


def _wide(entry: Entry) -> float:
    spread = spread_of(entry, "base_emitter_voltage")
    return spread.high - spread.low


def _shunt(task: Task, watts: float) -> Entry:
    """The cheapest resistor that takes a power [W] while a limit lasts."""
    found = [
        entry
        for entry in of_kind(task.catalogue, "resistor")
        if entry.name.startswith(SHUNTS) and task.bears(entry, "rated_power") >= watts
    ]
    if not found:
        raise Unserved(f"no shunt takes {show(watts, 'W')}")
    return min(found, key=price_of)
