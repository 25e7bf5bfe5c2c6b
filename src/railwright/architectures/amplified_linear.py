"""Series transistor behind a transformer, driven by amplifiers: knobs for voltage and for current.

A resistor pulls the gate up; of two amplifiers, one for the voltage and one for the current, the
lower takes it down over a diode. Each is an integrator. The current is seen across a shunt between
source and output by a current-sense amplifier. Source: common practice of bench supplies, no
source; every value has its own formula.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from railwright.architectures.architecture import (
    Architecture,
    Sketch,
    Task,
    Unserved,
)
from railwright.architectures.demands import survives
from railwright.architectures.front import LEGS
from railwright.architectures.legs import PANEL, bearing, control, variables
from railwright.architectures.mains_input import MainsFront, mains_fronts
from railwright.architectures.reaching import Reaching
from railwright.architectures.regulator import ROOM, Place, Regulator, Setting
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, spread_of
from railwright.architectures.sizing.cooling import Cooling, coolings
from railwright.architectures.sizing.divider import AdjustableLeg, Pin, adjustable_leg
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
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import bracket, nearest

AMPLIFIER, FIVE = "358 type", "78L05 type 0.1 A"
"""Works from its negative supply on, and sinks into it; supply of the sense amplifier."""
OFFSETS = 12e-3
"""V, of the amplifier for the current with its bias currents, over temperature (datasheet of the
358 type: 7 mV and drift, 250 nA in 10 kΩ)."""
LEAST_LOW = 1.45
"""V at which amplifier and diode leave the gate at most in a short (datasheets of the 358 type and
of Schottky diodes: 1 V at some milliamperes, 0.35 V), and a tenth."""
OVER_OUTPUT = 1.3
"""V from the gate to the supply of the amplifier that follows it, at least: 1.6 V of swing less
0.3 V of diode (datasheet of the 358 type)."""
SINKS, HALF = 10e-3, 0.5
"""A that the amplifier sinks at least (datasheet of the 358 type), and what is used of it: the more
it sinks, the less far down it comes."""
REFERENCE_CURRENT = 1.4e-3
"""A for the reference and what hangs on it (datasheet of the 431 type: 1 mA)."""
MOST_ACROSS = 4.7e3
"""Ω on the reference's side of the voltage divider, at most: bias currents do not count there."""
ABOVE = 1.1
"""Times the reference is the least output: a knob has something left at its end stop."""
INTO = 10e3
"""Ω into each integrator; what the divider adds does not count beside it."""
INTEGRATES, SOFT = 22e-9, 1e-6
"""F: 720 Hz with that; the output comes up in tens of milliseconds."""
HELD, BLEEDS = 22e-6, 4e-3
"""F at the output; A that the source never goes below, so that its follower stays fast."""
TOP = 9.0
"""Times the resistor above it is the track of the current's knob: its tolerance hardly counts."""
OFF_AT = 95.0 + 273.15
"""K of its junction at most: hotter, its threshold may be too low to be off in a short."""
MOST_FRONTS = 2


@dataclass(frozen=True)
class Amplified(Regulator):
    """A transistor in its place, as a regulator that amplifiers make of it."""

    @property
    def gate(self) -> float:
        """Greatest voltage from gate to source at full current [V]."""
        return float(gate_voltage(self.place.entry, self.drawn, self._coldest, "high"))

    @property
    def _coldest(self) -> float:
        return self.place.task.need.surroundings.ambient.min

    @property
    def own_current(self) -> float:
        return LEGS

    @property
    def dropout(self) -> float:
        return self.gate + OVER_OUTPUT

    @property
    def loss(self) -> float:
        """In a short circuit, for as long as it lasts."""
        return self.place.feed.loaded * self.drawn


@dataclass(frozen=True)
class Limit:
    """How the current is limited: reference, knob, sense amplifier, shunt."""

    reference: Entry
    knob: Entry
    above: float
    """Ω between the reference and the knob's track."""
    amplifier: Entry
    shunt: Entry
    ohms: float
    currents: tuple[float, float, float]
    """A with the knob at its end: least, typical, most."""


class AmplifiedLinear(Architecture):
    """What a bench supply is: two knobs, of which the one that asks less has the output."""

    name = "amplifiers and transistor"
    gives_up = "slow in steps of the load; a short becomes heat for as long as it lasts; many parts"

    def sketches(self, task: Task) -> Sequence[Sketch]:
        rail, wide = asked(task)
        _comes_down(task, rail)
        limit = _limit(task, rail)
        pin = _pin(task, limit)
        leg = _leg(task, rail, pin)
        found: list[Sketch] = []
        refused: list[Unserved] = []
        for front in mains_fronts(task, wide):
            for entry in transistors(task):
                try:
                    found.append(_Bench(task, rail, front, limit, entry, wide, pin, leg).sketch())
                except Unserved as unserved:
                    refused.append(Unserved(f"{entry.name}: {unserved.reason}", unserved.reached))
            if len(found) >= MOST_FRONTS:
                break
        if not found:
            raise max(refused, key=lambda each: each.reached)
        return found


def _comes_down(task: Task, rail: Output) -> None:
    """Unserved where the output is to be lower than any reference."""
    known = of_kind(task.catalogue, "shunt-reference")
    highest = min(spread_of(entry, "reference_voltage").high for entry in known)
    if rail.voltage.min < ABOVE * highest:
        raise Unserved(
            f"the output is to go down to {show(rail.voltage.min, 'V')}; with a reference of up to "
            f"{show(highest, 'V')} the knob's end stop leaves {show(ABOVE * highest, 'V')}; less "
            "wants an auxiliary negative rail"
        )


def _limit(task: Task, rail: Output) -> Limit:
    """The limit farthest from both ends of its band; Unserved if none keeps it."""
    overload = rail.overload
    assert overload is not None
    carry, act_by = overload.carry or rail.current.max, overload.act_by or math.inf
    found = list(_limits(task, current_knob(task), (carry + act_by) / 2.0))
    best = max(found, key=lambda each: min(each.currents[0] - carry, act_by - each.currents[2]))
    least, _, most = best.currents
    spare = task.need.parts.reserve * (act_by - carry)
    if min(least - carry, act_by - most) < spare:
        raise Unserved(
            f"the limit that comes nearest lies between {show(least, 'A')} and {show(most, 'A')}; "
            f"{show(carry, 'A')} to {show(act_by, 'A')} are allowed, the reserve within"
        )
    return best


def _limits(task: Task, knob: Entry, middle: float) -> Iterator[Limit]:
    tolerance = tolerance_of(task)
    track, series = spread_of(knob, "resistance"), task.need.parts.series
    above = nearest(track.typical / TOP, series)
    shunts = [
        e for e in of_kind(task.catalogue, "resistor") if e.name.startswith("current shunt 3")
    ]
    ambient = task.need.surroundings.ambient
    far = max(abs(ambient.max - ROOM), abs(ambient.min - ROOM))
    for reference in of_kind(task.catalogue, "shunt-reference"):
        own = spread_of(reference, "reference_voltage")
        drift = own.drift * far
        low = own.low * (1.0 - drift) * track.low / (track.low + above * (1.0 + tolerance))
        high = own.high * (1.0 + drift) * track.high / (track.high + above * (1.0 - tolerance))
        typical = own.typical * track.typical / (track.typical + above)
        for amplifier in of_kind(task.catalogue, "current-sense-amplifier"):
            gain, offset = spread_of(amplifier, "gain"), spread_of(amplifier, "offset").high
            for member in bracket(typical / (gain.typical * middle), series):
                off = 1.0 + 0.01 + 0.002
                yield Limit(
                    reference,
                    knob,
                    above,
                    amplifier,
                    shunts[0],
                    member,
                    (
                        ((low - OFFSETS) / gain.high - offset) / (member * off),
                        typical / (gain.typical * member),
                        ((high + OFFSETS) / gain.low + offset) / (member / off),
                    ),
                )


def _pin(task: Task, limit: Limit) -> Pin:
    own = spread_of(limit.reference, "reference_voltage")
    ambient = task.need.surroundings.ambient
    off = own.drift * max(abs(ambient.max - ROOM), abs(ambient.min - ROOM))
    reference = Spread.limits(own.low * (1.0 - off), own.typical, own.high * (1.0 + off))
    bias = -spread_of(task.catalogue[AMPLIFIER], "bias_current").low
    return Pin(reference, Spread.limits(0.0, 0.1 * bias, bias))


def _leg(task: Task, rail: Output, pin: Pin) -> AdjustableLeg:
    """The knob's leg of the voltage divider; Unserved where none reaches."""
    volts, bottom = rail.voltage, ABOVE * pin.reference.high
    spare = task.need.parts.reserve * (volts.max - volts.min)
    low, high = max(volts.min - spare, bottom), volts.max + spare
    return adjustable_leg(
        pin,
        low,
        high,
        variables(task, rail, low, high, PANEL),
        MOST_ACROSS,
        task.need.parts.series,
        tolerance_of(task),
        bearing(task),
    )


@dataclass(frozen=True)
class _Bench:
    """One transistor behind one front."""

    task: Task
    rail: Output
    front: MainsFront
    limit: Limit
    entry: Entry
    wide: Output
    pin: Pin
    """What sets the voltage: the reference with the amplifier's bias current."""
    leg: AdjustableLeg

    def sketch(self) -> Sketch:
        """Unserved where something is beyond a part."""
        survives(self.rail, self.front.feed.high)
        self._judge()
        regulator = self._regulator
        with Reaching(5):
            drawn = self.front.fitted(regulator)
        with Reaching(6):
            cooling = self._cooling(regulator)
        sheet = Sheet()
        drawn(sheet)
        self._series(sheet, regulator, cooling)
        self._references(sheet)
        voltage = self._voltage(sheet)
        current = self._current(sheet)
        self._output(sheet)
        most = {self.rail.name: self.leg.top}
        return Sketch(tuple(sheet.parts), (voltage, current), most, rectified=sheet.rectified)

    def _judge(self) -> None:
        highest, out = self.front.feed.high, self.rail.voltage.max
        amplifier, five = (self.task.catalogue[name] for name in (AMPLIFIER, FIVE))
        seen = (
            ("the amplifiers", highest, amplifier, "supply_maximum"),
            ("the 5 V regulator", highest, five, "supply_maximum"),
            ("the sense amplifier", out, self.limit.amplifier, "input_maximum"),
        )
        for what, volts, part, rating in seen:
            if volts > self.task.bears(part, rating):
                raise Unserved(
                    f"{what} would see {show(volts, 'V')}; of "
                    f"{show(spread_of(part, rating).high, 'V')} "
                    f"{show(self.task.share(part, rating), '1')} may be used",
                    reached=3,
                )

    @cached_property
    def _regulator(self) -> Amplified:
        volts = self.rail.voltage
        current = self._leg_current + volts.max / self._bleeder
        setting = Setting(volts.min, volts.max, volts.max, current, lambda sheet, nets: (), {})
        return Amplified(Place(self.task, self.wide, self.entry, self.front.feed), setting)

    @cached_property
    def _bleeder(self) -> float:
        return bracket(self.rail.voltage.min / BLEEDS, self._series_of)[0]

    @property
    def _series_of(self) -> str:
        return self.task.need.parts.series

    @property
    def _tolerance(self) -> float:
        return tolerance_of(self.task)

    @property
    def _leg_current(self) -> float:
        return self.pin.reference.high / self.leg.across / (1.0 - self._tolerance)

    def _cooling(self, regulator: Amplified) -> Cooling:
        task, entry = self.task, self.entry
        limit = task.hottest(entry)
        limit = min(limit, OFF_AT)
        least = gate_voltage(entry, self.limit.currents[0], limit, "low")
        if least < LEAST_LOW:
            raise Unserved(
                f"its gate at {show(limit, '°C')} may have to go down to {show(least, 'V')} in a "
                f"short; amplifier and diode leave {show(LEAST_LOW, 'V')}"
            )
        rated = spread_of(entry, "rated_power").high
        may = task.bears(entry, "rated_power")
        if regulator.loss > may:
            raise Unserved(
                f"a short makes {show(regulator.loss, 'W')}; of its {show(rated, 'W')} "
                f"{show(may, 'W')} may be used"
            )
        hottest = task.need.surroundings.ambient.max
        return coolings(task.catalogue, entry, regulator.loss, hottest, limit)[0]

    def _resistor(
        self, sheet: Sheet, block: str, ends: tuple[str, str], ohms: float, why: str, watts: float
    ) -> None:
        draw_resistor(self.task, sheet, block, ends, ohms, why, watts)

    def _capacitor(
        self, sheet: Sheet, block: str, ends: tuple[str, str], of: tuple[str, float], why: str
    ) -> None:
        draw_capacitor(self.task, sheet, block, ends, (*of, self.front.feed.high), why)

    def _net(self, name: str) -> str:
        return self.task.inner(name)

    @property
    def _raw(self) -> str:
        return self.front.feed.net

    @property
    def _ground(self) -> str:
        return self.front.feed.ground

    @property
    def _out(self) -> str:
        return self.task.terminals(self.rail.name).plus

    def _series(self, sheet: Sheet, regulator: Amplified, cooling: Cooling) -> None:
        block, highest = "series element", self.front.feed.high
        ohms = bracket(highest / (HALF * SINKS), self._series_of)[1]
        why = (
            f"{show(highest, 'V')} / {show(ohms, 'Ω')}: in a short {show(highest / ohms, 'A')} of "
            f"the {show(SINKS, 'A')} that an amplifier sinks; pulls the gate up else"
        )
        gate, rail = self._net("DRIVE"), self._net("RAIL")
        self._resistor(sheet, block, (self._raw, gate), ohms, why, highest**2 / ohms)
        top = self.rail.voltage.max
        why = (
            f"gate at {show(top + regulator.gate, 'V')} at most for {show(top, 'V')} and "
            f"{show(regulator.drawn, 'A')}; in a short {show(regulator.loss, 'W')}: {cooling.why}"
        )
        tab, sink = self._net("TAB"), self._net("SINK")
        pins = {"drain": self._raw, "gate": gate, "source": rail, "case": tab}
        sheet.add("Q", self.entry.kind, block, pins, why, use=self.entry.name)
        draw_cooling(sheet, cooling, tab, sink, block)
        limit = self.limit
        gain = spread_of(limit.amplifier, "gain").typical
        least, typical, most = (show(each, "A") for each in limit.currents)
        why = (
            f"Vref P / (P + R) / (gain x Rs) = {typical} with the knob at its end, gain "
            f"{show(gain, '1')}; {least} to {most} at the limits"
        )
        pins, value = {"one": rail, "two": self._out}, show(limit.ohms, "Ω", 4)
        sheet.add("R", "resistor", block, pins, why, use=limit.shunt.name, resistance=value)

    def _references(self, sheet: Sheet) -> None:
        block, feed = "reference", self.front.feed
        reference, net = self.limit.reference, self._net("REF")
        left = feed.low - self.pin.reference.high
        share = self.pin.reference.high / spread_of(self.limit.knob, "resistance").low
        wanted = (REFERENCE_CURRENT + share) / self.task.kept
        ohms = bracket(left / wanted, self._series_of)[0]
        why = (
            f"{show(left, 'V')} / {show(ohms, 'Ω')} = {show(left / ohms, 'A')} in the valley: 1 mA "
            "for the reference and what the current's knob takes"
        )
        self._resistor(sheet, block, (self._raw, net), ohms, why, feed.high**2 / ohms)
        pins = {"cathode": net, "anode": self._ground, "reference": net}
        own = spread_of(reference, "reference_voltage")
        why = f"{show(own.low, 'V')} to {show(own.high, 'V')}, for both knobs"
        sheet.add("U", reference.kind, block, pins, why, use=reference.name)

    def _amplifier(self, sheet: Sheet, block: str, plus: str, minus: str, output: str) -> None:
        pins = {"plus": plus, "minus": minus, "output": output}
        pins |= {"supply": self._raw, "ground": self._ground}
        why = "works from its ground on; one package has both amplifiers"
        entry = self.task.catalogue[AMPLIFIER]
        sheet.add("U", entry.kind, block, pins, why, use=entry.name)
        lower = self.task.catalogue[LOWER]
        pins = {"anode": self._net("DRIVE"), "cathode": output}
        why = "the lower of both amplifiers has the gate; small, since it leaks next to nothing"
        sheet.add("D", lower.kind, block, pins, why, use=lower.name)

    def _integrator(self, sheet: Sheet, block: str, seen: str, minus: str) -> None:
        hertz = 1.0 / (2.0 * math.pi * INTO * INTEGRATES)
        why = f"makes an integrator of the amplifier: 1 / (2 pi R C) = {show(hertz, 'Hz')}"
        self._resistor(sheet, block, (seen, minus), INTO, why, 0.0)
        why += "; behind the diode, so that it does not wind up while the other has the gate"
        ends = self._net("DRIVE"), minus
        self._capacitor(sheet, block, ends, ("film", INTEGRATES), why)

    def _voltage(self, sheet: Sheet) -> NewTable:
        block, leg = "voltage", self.leg
        soft, tap, minus, output = (self._net(n) for n in ("SOFT", "TAP", "FB", "CV"))
        why = f"with the capacitor {show(INTO * SOFT, 's')}: the output comes up without overshoot"
        self._resistor(sheet, block, (self._net("REF"), soft), INTO, why, 0.0)
        self._capacitor(sheet, block, (soft, self._ground), ("film", SOFT), why)
        self._amplifier(sheet, block, soft, minus, output)
        current, start = self._leg_current, self._out
        if leg.fixed:
            start = self._net("LEG")
            told = "keeps the lower end stop from going further down than it has to"
            watts = current**2 * leg.fixed
            self._resistor(sheet, block, (self._out, start), leg.fixed, told, watts)
        volts = self.rail.voltage
        why = (
            f"Vref (1 + R / {show(leg.across, 'Ω')}): from {show(volts.min, 'V')} to "
            f"{show(volts.max, 'V')} with every part at its limit; at most {show(leg.top, 'V')}"
        )
        pins = {"one": start, "wiper": tap, "two": tap}
        ref = sheet.add("RV", "potentiometer", block, pins, why, use=leg.variable.name)
        why = f"{show(self.pin.reference.low, 'V')} across it drive {show(current, 'A')} at most"
        watts = current**2 * leg.across
        self._resistor(sheet, block, (tap, self._ground), leg.across, why, watts)
        self._integrator(sheet, block, tap, minus)
        return control(ref, self.rail, "set")

    def _current(self, sheet: Sheet) -> NewTable:
        block, limit = "current", self.limit
        five, seen, top, wanted = (self._net(n) for n in ("V5", "ISENSE", "KNOB", "LIMIT"))
        why = "feeds the sense amplifier"
        pins = {"input": self._raw, "output": five, "ground": self._ground}
        sheet.add("U", "fixed-regulator", block, pins, why, use=FIVE)
        at_pins = "at the pins (common practice)"
        for net in (self._raw, five):
            self._capacitor(sheet, block, (net, self._ground), ("class-2", 470e-9), at_pins)
        pins = {"sense_plus": self._net("RAIL"), "sense_minus": self._out, "output": seen}
        pins |= {"supply": five, "ground": self._ground}
        gain = spread_of(limit.amplifier, "gain").typical
        why = f"{show(gain * limit.ohms, 'V')} per ampere"
        sheet.add("U", limit.amplifier.kind, block, pins, why, use=limit.amplifier.name)
        why = "a ninth of the track: what that is off hardly moves the end of the knob"
        self._resistor(sheet, block, (self._net("REF"), top), limit.above, why, 0.0)
        pins = {"one": self._ground, "wiper": wanted, "two": top}
        why = f"from none to {show(limit.currents[1], 'A')}"
        ref = sheet.add("RV", "potentiometer", block, pins, why, use=limit.knob.name)
        minus, output = self._net("IFB"), self._net("CC")
        self._amplifier(sheet, block, wanted, minus, output)
        self._integrator(sheet, block, seen, minus)
        return {**control(ref, self.rail, "set"), "sets": f"{self.rail.name}.current"}

    def _output(self, sheet: Sheet) -> None:
        block, ends = "output", (self._out, self._ground)
        why = f"{show(HELD, 'F')}: takes the edge off a step, small beside the loops"
        self._capacitor(sheet, block, ends, ("electrolytic", HELD), why)
        volts = self.rail.voltage
        why = f"{show(volts.min / self._bleeder, 'A')} at least: the follower never runs dry"
        watts = volts.max**2 / self._bleeder
        self._resistor(sheet, block, ends, self._bleeder, why, watts)
