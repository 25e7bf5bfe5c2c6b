"""Series transistor behind a transformer; its amplifiers stand on the output, fed by their own.

A small transformer makes a positive and a negative supply about the plus terminal of the output.
Amplifiers and reference stand there, so that they see neither the raw voltage nor the output. A
current from the reference through the voltage's knob to the minus terminal sets the output, down
to 0 V, and loads it there as well. The lower of both amplifiers takes the gate down over a diode;
both are integrators. Source: common practice of bench supplies, no source; every value has its own
formula.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from railwright.architectures.architecture import Architecture, Sketch, Task, Unserved
from railwright.architectures.demands import survives
from railwright.architectures.fixed_linear import FIXED
from railwright.architectures.legs import PANEL, bearing, control, variables
from railwright.architectures.mains_input import MIDDLE, MainsFront, mains_fronts
from railwright.architectures.reaching import Reaching
from railwright.architectures.regulator import ROOM, Place, Regulator, Setting
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, spread_of
from railwright.architectures.sizing.cooling import Cooling, coolings
from railwright.architectures.sizing.divider import end_stop, members
from railwright.architectures.split_linear import Pair, Sides, both_sides
from railwright.architectures.two_knobs import (
    LOWER,
    asked,
    current_knob,
    draw_capacitor,
    draw_resistor,
    gate_voltage,
    tolerance_of,
    transistors,
)
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output, Terminals
from railwright.circuit.tables import Range
from railwright.circuit.writer import NewTable
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import bracket
from railwright.standards.touch import STATED_AT, in_words

AMPLIFIER = "07 type"
"""For a positive and a negative supply, with an offset that hardly counts at the shunt."""
ABOVE, BELOW, STRAYS = 12.0, 5.0, 0.05
"""V of the amplifiers' supplies about the plus terminal, and by how much they may be off."""
TAKES = 30e-3
"""A that amplifiers, reference and gate take of either, at most."""
PULLS = 4e-3
"""A that pulls the gate up; amplifiers of this kind sink some 17 mA at least."""
STOPS = 3.0
"""Times the output resistance of an amplifier is what keeps the gate's capacitance from it."""
REFERENCE_CURRENT = 1e-3
"""A for the reference itself (datasheet of the 431 type)."""
MOST_TRACK = 20e3
"""Ω of the voltage's knob: bias currents do not count there."""
ACROSS = 0.45
"""V across the shunt at the limit: a hundred times what the amplifier is off, and little heat."""
LOWER_LEGS = 150.0, 330.0
"""Ω beside the track of the current's knob, whose own tolerance hardly counts then."""
SHUNT_OFF = 0.012
"""Of the shunt: 1 % and its drift."""
LIFT = 1.3
"""Times what is left of a knob at its end stop the output is shifted down: it reaches 0 V."""
INTO = 10e3
"""Ω into each amplifier's other input, and into the one that sees the output."""
CLAMP = "1N4148"
"""Diode that keeps this one from what the capacitor across the knob holds while the output is
shorted: all of the voltage. One of silicon takes next to nothing of the shift."""
SLOW, INTEGRATES = 1e-6, 22e-9
"""F of the integrators for the voltage, 16 Hz, and for the current, 720 Hz. To both, the transistor
is a current per volt from gate to output. At the output's capacitor that is an integrator, too, so
that the voltage's amplifier gives way above its corner, far below where its loop ends; at the shunt
it is a follower."""
SOFT = 470e-6
"""F; the output comes up in tenths of a second, and the loops do not see it."""
HELD, BLEEDS = 100e-6, 5e-3
"""F at the output, for what the loops are too slow for; A that it bleeds at its highest, so that
the transistor's slope is steep enough there without a load."""
PASSES = 10.0
"""Times below the ripple of a rectifier is where a capacitor begins to pass the voltage's knob."""
MOST_FRONTS = 2


Dielectric = tuple[str, float, float]
"""Of a capacitor, with its least capacitance [F] and the voltage across it [V]."""


@dataclass(frozen=True)
class Floating(Regulator):
    """A transistor in its place whose gate is driven from the output."""

    shunt: float
    """Ω."""

    @property
    def own_current(self) -> float:
        return 0.0

    @property
    def gate(self) -> float:
        """Greatest voltage from gate to source at full current [V]."""
        coldest = self.place.task.need.surroundings.ambient.min
        return gate_voltage(self.place.entry, self.drawn, coldest, "high")

    @property
    def dropout(self) -> float:
        """Above it the current does not depend on the drain: square law, drift zone, shunt [V]."""
        entry, current = self.place.entry, self.drawn
        slope = spread_of(entry, "transconductance").low
        factor = slope**2 / (2.0 * spread_of(entry, "transconductance_current").typical)
        ohms = spread_of(entry, "on_resistance").high * spread_of(entry, "warm_factor").high
        return math.sqrt(2.0 * current / factor) + (ohms + self.shunt) * current

    @property
    def loss(self) -> float:
        """In a short circuit, for as long as it lasts."""
        return self.place.feed.loaded * self.drawn


@dataclass(frozen=True)
class Knob:
    """What sets the voltage: a current from the reference through a variable resistor."""

    variable: Entry
    half: float
    """Ω; two of them make a current of the reference."""
    lift: float
    """Ω from the reference to the amplifier's other input, which shifts the output down."""
    current: Spread
    """A."""
    top: float
    """V, the least at the upper end stop."""


@dataclass(frozen=True)
class Limit:
    """How the current is limited: both legs beside the knob's track, shunt."""

    knob: Entry
    upper: float
    lower: float
    shunt: float
    currents: tuple[float, float, float]
    """A with the knob at its end: least, typical, most."""
    across: float
    """V across the shunt there."""


class FloatingLinear(Architecture):
    """What a bench supply is where it goes down to 0 V, or higher than amplifiers stand."""

    name = "amplifiers on a supply of their own, and transistor"
    gives_up = (
        "a second transformer; slow in steps of the load; a short becomes heat for as long as it "
        "lasts; many parts"
    )

    def sketches(self, task: Task) -> Sequence[Sketch]:
        rail, wide = asked(task)
        reference = _reference(task)
        knob = _knob(task, rail, reference)
        limit = _limit(task, rail, reference, _own_current(task, rail, knob))
        own = _own_supply(task, rail)
        found: list[Sketch] = []
        refused: list[Unserved] = []
        for front in mains_fronts(task, wide):
            for entry in transistors(task):
                try:
                    bench = _Bench(task, rail, wide, front, own, entry, reference, knob, limit)
                    found.append(bench.sketch())
                    break
                except Unserved as unserved:
                    refused.append(Unserved(f"{entry.name}: {unserved.reason}", unserved.reached))
            if len(found) >= MOST_FRONTS:
                break
        if not found:
            raise max(refused, key=lambda each: each.reached)
        return found


def _reference(task: Task) -> Entry:
    """The one that is least off."""
    known = of_kind(task.catalogue, "shunt-reference")
    return min(known, key=lambda e: spread_of(e, "reference_voltage").high)


def _volts(task: Task, reference: Entry) -> Spread:
    """Of the reference, over temperature [V]."""
    own, ambient = spread_of(reference, "reference_voltage"), task.need.surroundings.ambient
    off = own.drift * max(abs(ambient.max - ROOM), abs(ambient.min - ROOM))
    return Spread.limits(own.low * (1.0 - off), own.typical, own.high * (1.0 + off))


def _own_supply(task: Task, rail: Output) -> Sides:
    """What feeds the amplifiers, about the plus terminal; Unserved where there is nothing."""
    plus = task.terminals(rail.name).plus

    def output(name: str, volts: float, nets: Terminals) -> Output:
        span, current = Range(volts, volts), Range(0.0, TAKES)
        return Output(name, "floating", span, current, nets, accuracy=2.0 * STRAYS)

    pair = Pair(
        output("above", ABOVE, Terminals(task.inner("V12"), plus)),
        output("below", BELOW, Terminals(plus, task.inner("V5N"))),
    )
    own = replace(task, need=replace(task.need, output=(pair.above, pair.below)), side="OWN")
    refused: list[Unserved] = []
    for front in mains_fronts(own, pair.above, (MIDDLE,)):
        try:
            return both_sides(own, pair, front, (FIXED,))
        except Unserved as unserved:
            refused.append(unserved)
    raise max(refused, key=lambda each: each.reached)


def _knob(task: Task, rail: Output, reference: Entry) -> Knob:
    """The one that takes least current; Unserved where none reaches."""
    volts, reserve = rail.voltage, task.need.parts.reserve
    high = volts.max + reserve * (volts.max - volts.min)
    known = variables(task, rail, volts.min, high, PANEL)
    least = min(spread_of(e, "resistance").typical for e in known)
    fitting = [e for e in known if spread_of(e, "resistance").typical <= max(MOST_TRACK, least)]
    bears = bearing(task)
    found = [_set_by(task, entry, _volts(task, reference), high) for entry in fitting]
    found = [each for each in found if bears(each.variable, each.current.high)]
    if not found:
        raise Unserved(
            f"no variable resistor bears what sets {show(high, 'V')} by {show(MOST_TRACK, 'Ω')} of "
            "track at most"
        )
    return min(found, key=lambda each: each.current.high)


def _set_by(task: Task, variable: Entry, volts: Spread, high: float) -> Knob:
    series, tolerance = task.need.parts.series, tolerance_of(task)
    track, stop = spread_of(variable, "resistance"), end_stop(variable)
    # The shift is a small share of the output, so that one round settles both.
    shift = LIFT * high * stop / track.low
    most = volts.low * track.low / (high + shift) / (1.0 + tolerance)
    half = bracket(0.5 * most, series)[0]
    low, typical, most = (
        each / (2.0 * half * (1.0 + sign * tolerance))
        for each, sign in ((volts.low, 1), (volts.typical, 0), (volts.high, -1))
    )
    lift = bracket(INTO * volts.low / (LIFT * most * stop), series)[0]
    top = low * track.low - volts.high * INTO / (lift + INTO) * (1.0 + 2.0 * tolerance)
    return Knob(variable, half, lift, Spread.limits(low, typical, most), top)


def _bleeder(task: Task, rail: Output) -> float:
    """Across the output [Ω]."""
    return bracket(rail.voltage.max / BLEEDS, task.need.parts.series)[0]


def _own_current(task: Task, rail: Output, knob: Knob) -> Spread:
    """What flows through the shunt beside the load, over all settings [A]."""
    bleeds = rail.voltage.max / _bleeder(task, rail) / (1.0 - tolerance_of(task))
    return Spread.limits(knob.current.low, knob.current.typical, knob.current.high + bleeds)


def _limit(task: Task, rail: Output, reference: Entry, own: Spread) -> Limit:
    """The limit farthest from both ends of its band; Unserved if none keeps it."""
    overload = rail.overload
    assert overload is not None
    carry, act_by = overload.carry or rail.current.max, overload.act_by or math.inf
    found = list(_limits(task, reference, own, (carry + act_by) / 2.0))
    best = max(found, key=lambda each: min(each.currents[0] - carry, act_by - each.currents[2]))
    least, _, most = best.currents
    if min(least - carry, act_by - most) < task.need.parts.reserve * (act_by - carry):
        raise Unserved(
            f"the limit that comes nearest lies between {show(least, 'A')} and {show(most, 'A')}; "
            f"{show(carry, 'A')} to {show(act_by, 'A')} are allowed, the reserve within"
        )
    return best


def _limits(task: Task, reference: Entry, own: Spread, middle: float) -> Iterator[Limit]:
    series, tolerance = task.need.parts.series, tolerance_of(task)
    volts, entry = _volts(task, reference), current_knob(task)
    track, amplifier = spread_of(entry, "resistance"), task.catalogue[AMPLIFIER]
    off = spread_of(amplifier, "offset").high
    off += 2.0 * INTO * spread_of(amplifier, "bias_current").high

    lowers = members(*LOWER_LEGS, series)
    for shunt, lower in itertools.product(bracket(ACROSS / middle, series), lowers):
        across = (middle + own.typical) * shunt
        legs = [
            1.0 / (1.0 / ohms + 1.0 / (lower * (1.0 + sign * tolerance)))
            for ohms, sign in ((track.low, -1.0), (track.typical, 0.0), (track.high, 1.0))
        ]
        for upper in bracket(legs[1] * (volts.typical / across - 1.0), series):
            low, typical, high = (
                reference * leg / (leg + upper * (1.0 - sign * tolerance))
                for reference, leg, sign in zip(
                    (volts.low, volts.typical, volts.high), legs, (-1.0, 0.0, 1.0), strict=True
                )
            )
            currents = (
                (low - off) / (shunt * (1.0 + SHUNT_OFF)) - own.high,
                typical / shunt - own.typical,
                (high + off) / (shunt * (1.0 - SHUNT_OFF)) - own.low,
            )
            yield Limit(entry, upper, lower, shunt, currents, typical)


@dataclass(frozen=True)
class _Bench:
    """One transistor behind one front."""

    task: Task
    rail: Output
    wide: Output
    front: MainsFront
    own: Sides
    entry: Entry
    reference: Entry
    knob: Knob
    limit: Limit

    def sketch(self) -> Sketch:
        """Unserved where something is beyond a part."""
        survives(self.rail, self.front.feed.high)
        regulator = self._regulator
        self._judge(regulator)
        with Reaching(5):
            drawn = self.front.fitted(regulator)
        with Reaching(6):
            cooling = self._cooling(regulator)
        sheet = Sheet()
        drawn(sheet)
        self._series(sheet, regulator, cooling)
        self.own(sheet)
        self._references(sheet)
        voltage = self._voltage(sheet)
        current = self._current(sheet)
        self._output(sheet)
        return Sketch(tuple(sheet.parts), (voltage, current), rectified=sheet.rectified)

    def _output(self, sheet: Sheet) -> None:
        ends, highest = (self._out, self._minus), self.rail.voltage.max
        ohms = _bleeder(self.task, self.rail)
        why = f"{show(highest / ohms, 'A')} at {show(highest, 'V')}: the transistor never runs dry"
        self._resistor(sheet, "output", ends, ohms, why, highest**2 / ohms)
        why = f"{show(HELD, 'F')}: takes the edge off a step, for which the loops are too slow"
        self._capacitor(sheet, "output", ends, ("electrolytic", HELD, self.front.feed.high), why)

    @cached_property
    def _regulator(self) -> Floating:
        volts, current = self.rail.voltage, _own_current(self.task, self.rail, self.knob).high
        setting = Setting(0.0, volts.max, volts.max, current, lambda sheet, nets: (), {})
        place = Place(self.task, self.wide, self.entry, self.front.feed)
        return Floating(place, setting, self.limit.shunt)

    def _judge(self, regulator: Floating) -> None:
        highest, rated = self.front.feed.high, spread_of(self.entry, "drain_source_voltage").high
        may = self.task.bears(self.entry, "drain_source_voltage")
        if highest > may:
            raise Unserved(
                f"it would see {show(highest, 'V')}; of {show(rated, 'V')} {show(may, 'V')} may be "
                "used",
                reached=3,
            )
        amplifier = self.task.catalogue[AMPLIFIER]
        given = ABOVE * (1.0 - STRAYS) - spread_of(amplifier, "swing_high").high
        wanted = regulator.gate + regulator.drawn * self.limit.shunt
        if wanted > self.task.kept * given:
            raise Unserved(
                f"its gate may want {show(wanted, 'V')} above the output; the amplifier gives "
                f"{show(given, 'V')}",
                reached=3,
            )

    def _cooling(self, regulator: Floating) -> Cooling:
        task, entry, rated = self.task, self.entry, spread_of(self.entry, "rated_power").high
        may = task.bears(entry, "rated_power")
        if regulator.loss > may:
            raise Unserved(
                f"a short makes {show(regulator.loss, 'W')}; of its {show(rated, 'W')} "
                f"{show(may, 'W')} may be used"
            )
        limit = task.hottest(entry)
        around, hottest = task.need.surroundings, task.need.surroundings.ambient.max
        touched = in_words(around.touch_limit or "")
        used = regulator.place.feed.loaded * (self.rail.current.max + regulator.setting.current)
        most = math.inf if touched is None else (touched - STATED_AT) / used
        ways = coolings(
            task.catalogue, entry, regulator.loss, hottest, limit, heavy=True, most=most
        )
        return ways[0]

    def _resistor(
        self, sheet: Sheet, block: str, ends: tuple[str, str], ohms: float, why: str, watts: float
    ) -> None:
        draw_resistor(self.task, sheet, block, ends, ohms, why, watts)

    def _capacitor(
        self, sheet: Sheet, block: str, ends: tuple[str, str], of: Dielectric, why: str
    ) -> None:
        draw_capacitor(self.task, sheet, block, ends, of, why)

    def _net(self, name: str) -> str:
        return self.task.inner(name)

    @property
    def _out(self) -> str:
        return self.task.terminals(self.rail.name).plus

    @property
    def _minus(self) -> str:
        return self.task.terminals(self.rail.name).minus

    @property
    def _mains(self) -> float:
        """Hz, at least."""
        frequency = self.task.need.input.frequency
        assert frequency is not None  # an alternating input has one
        return frequency.min

    @property
    def _reference_volts(self) -> Spread:
        return _volts(self.task, self.reference)

    def _series(self, sheet: Sheet, regulator: Floating, cooling: Cooling) -> None:
        block, raw = "series element", self.front.feed.net
        ohms = bracket((ABOVE + BELOW) / PULLS, self.task.need.parts.series)[1]
        pulls = (ABOVE + BELOW) / ohms
        why = f"pulls the gate up; at most {show(pulls, 'A')}, which the lower amplifier sinks"
        drive, gate, rail, above = (self._net(n) for n in ("DRIVE", "GATE", "RAIL", "V12"))
        self._resistor(sheet, block, (above, drive), ohms, why, pulls**2 * ohms)
        own = spread_of(self.task.catalogue[AMPLIFIER], "output_resistance").typical
        farads = spread_of(self.entry, "input_capacitance").typical
        why = f"{STOPS:.0f} times the {show(own, 'Ω')} of an amplifier, which {show(farads, 'F')} "
        why += "at the gate would make ring"
        ohms = bracket(STOPS * own, self.task.need.parts.series)[1]
        self._resistor(sheet, block, (drive, gate), ohms, why, 0.0)
        why = (
            f"gate at most {show(regulator.gate, 'V')} above its source at "
            f"{show(regulator.drawn, 'A')}; in a short {show(regulator.loss, 'W')}: {cooling.why}"
        )
        tab, sink = self._net("TAB"), self._net("SINK")
        pins = {"drain": raw, "gate": gate, "source": rail, "case": tab}
        sheet.add("Q", self.entry.kind, block, pins, why, use=self.entry.name)
        draw_cooling(sheet, cooling, tab, sink, block)
        limit, shunts = self.limit, of_kind(self.task.catalogue, "resistor")
        least, typical, most = (show(each, "A") for each in limit.currents)
        why = (
            f"{show(limit.across, 'V')} / Rs less what the output's knob takes = {typical} with "
            f"the knob at its end; {least} to {most} at the limits"
        )
        use = next(e.name for e in shunts if e.name.startswith("current shunt 3"))
        pins, value = {"one": rail, "two": self._out}, show(limit.shunt, "Ω", 4)
        sheet.add("R", "resistor", block, pins, why, use=use, resistance=value)

    def _references(self, sheet: Sheet) -> None:
        block, volts, net = "reference", self._reference_volts, self._net("REF")
        limits = (
            volts.high / (self.limit.lower + self.limit.upper) / (1.0 - tolerance_of(self.task))
        )
        taken = REFERENCE_CURRENT + limits + self.knob.current.high
        left = ABOVE * (1.0 - STRAYS) - volts.high
        ohms = bracket(left / taken * self.task.kept, self.task.need.parts.series)[0]
        why = (
            f"{show(left, 'V')} / {show(ohms, 'Ω')} = {show(left / ohms, 'A')} at least: "
            f"{show(self.knob.current.high, 'A')} for the voltage's knob, {show(limits, 'A')} for "
            f"the current's, {show(REFERENCE_CURRENT, 'A')} for the reference"
        )
        watts = (ABOVE * (1.0 + STRAYS) - volts.low) ** 2 / ohms
        self._resistor(sheet, block, (self._net("V12"), net), ohms, why, watts)
        pins = {"cathode": net, "anode": self._out, "reference": net}
        why = f"{show(volts.low, 'V')} to {show(volts.high, 'V')}, for both knobs"
        sheet.add("U", self.reference.kind, block, pins, why, use=self.reference.name)

    def _amplifier(self, sheet: Sheet, block: str, plus: str, minus: str, output: str) -> None:
        pins = {"plus": plus, "minus": minus, "output": output}
        pins |= {"supply": self._net("V12"), "ground": self._net("V5N")}
        why = f"works {show(ABOVE, 'V')} above and {show(BELOW, 'V')} below the plus terminal"
        entry, lower = self.task.catalogue[AMPLIFIER], self.task.catalogue[LOWER]
        sheet.add("U", entry.kind, block, pins, why, use=entry.name)
        pins = {"anode": self._net("DRIVE"), "cathode": output}
        why = "the lower of both amplifiers has the gate; small, since it leaks next to nothing"
        sheet.add("D", lower.kind, block, pins, why, use=lower.name)

    def _integrator(self, sheet: Sheet, block: str, seen: str, minus: str, farads: float) -> None:
        hertz = 1.0 / (2.0 * math.pi * INTO * farads)
        why = f"makes an integrator of the amplifier: 1 / (2 pi R C) = {show(hertz, 'Hz')}"
        self._resistor(sheet, block, (seen, minus), INTO, why, 0.0)
        why += "; behind the diode, so that it does not wind up while the other has the gate"
        ends, most = (self._net("DRIVE"), minus), ABOVE + BELOW
        self._capacitor(sheet, block, ends, ("film", farads, most), why)

    def _voltage(self, sheet: Sheet) -> NewTable:
        block, knob, volts = "voltage", self.knob, self._reference_volts
        reference, soft, tap, minus = (self._net(n) for n in ("REF", "SOFT", "TAP", "FB"))
        watts = knob.current.high**2 * knob.half
        told = f"2 x {show(knob.half, 'Ω')}"
        why = f"{show(volts.typical, 'V')} / ({told}) = {show(knob.current.typical, 'A')} set it"
        self._resistor(sheet, block, (reference, soft), knob.half, why, watts)
        wait = show(0.5 * knob.half * SOFT, "s")
        why = f"with the resistors beside it {wait}: the output comes up without overshoot"
        ends = soft, self._out
        self._capacitor(sheet, block, ends, ("electrolytic", SOFT, volts.high), why)
        why = f"{told} with the other half"
        self._resistor(sheet, block, (soft, tap), knob.half, why, watts)
        why = (
            f"{show(knob.current.typical, 'A')} through it are the output: from 0 V to at least "
            f"{show(knob.top, 'V')}; they flow back through the output, which they load"
        )
        pins = {"one": self._minus, "wiper": tap, "two": tap}
        ref = sheet.add("RV", "potentiometer", block, pins, why, use=knob.variable.name)
        track = spread_of(knob.variable, "resistance").low
        farads = bracket(PASSES / (2.0 * math.pi * 2.0 * self._mains * track), "E3")[1]
        hertz = show(1.0 / (2.0 * math.pi * track * farads), "Hz")
        why = f"passes the knob: from {hertz} on all of what ripples at the output is seen"
        self._capacitor(sheet, block, (tap, self._minus), ("film", farads, knob.top), why)
        seen = self._clamped(sheet, block, tap)
        self._amplifier(sheet, block, seen, minus, self._net("CV"))
        self._integrator(sheet, block, self._out, minus, SLOW)
        shift = volts.typical * INTO / (INTO + knob.lift)
        why = (
            f"shifts the output down by {show(shift, 'V')}: at its end stop up to "
            f"{show(knob.current.high * end_stop(knob.variable), 'V')} are left across the knob"
        )
        self._resistor(sheet, block, (reference, minus), knob.lift, why, 0.0)
        return control(ref, self.rail, "set")

    def _clamped(self, sheet: Sheet, block: str, tap: str) -> str:
        """Net of an input that stays within a junction's voltage of the output."""
        seen, highest = self._net("SEEN"), self.knob.top
        why = f"leaves the diodes behind it {show(highest / INTO, 'A')} while the output is shorted"
        self._resistor(sheet, block, (tap, seen), INTO, why, highest**2 / INTO)
        for ends in ((seen, self._out), (self._out, seen)):
            why = (
                f"keeps the amplifier from the {show(highest, 'V')} that the knob's capacitor holds"
            )
            pins = dict(zip(("anode", "cathode"), ends, strict=True))
            sheet.add("D", "diode", block, pins, why, use=CLAMP)
        return seen

    def _current(self, sheet: Sheet) -> NewTable:
        block, limit = "current", self.limit
        reference, top, wanted, minus = (self._net(n) for n in ("REF", "KNOB", "LIMIT", "IFB"))
        why = f"leaves {show(limit.across, 'V')} of the reference for the knob"
        self._resistor(sheet, block, (reference, top), limit.upper, why, 0.0)
        why = "beside the track: what that is off hardly moves the end of the knob"
        self._resistor(sheet, block, (top, self._out), limit.lower, why, 0.0)
        pins = {"one": self._out, "wiper": wanted, "two": top}
        why = f"from none to {show(limit.currents[1], 'A')}"
        ref = sheet.add("RV", "potentiometer", block, pins, why, use=limit.knob.name)
        self._amplifier(sheet, block, wanted, minus, self._net("CC"))
        self._integrator(sheet, block, self._net("RAIL"), minus, INTEGRATES)
        return {**control(ref, self.rail, "set"), "sets": f"{self.rail.name}.current"}
