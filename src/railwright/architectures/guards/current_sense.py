"""How a guard sees the current of a rail: shunt, amplifier, and what they are off at worst.

A shunt stands in the way of the current behind all that holds the output, so that it sees what
the load takes and no more. Three ways to make of it a voltage against the ground: in the return,
without an amplifier; in the rail, with a difference amplifier of four resistors; in the rail, with
a current-sense amplifier.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.regulator import ACCURACY, ROOM
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.resistors import tolerance_of
from railwright.architectures.small_parts import draw_capacitor, draw_resistor
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output, Terminals
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import nearest

BLOCK = "current sense"
SHUNTS = "current shunt"
"""How the trade calls resistors that are made for it."""
DROPS = 10e-3, 12.5e-3, 16e-3, 20e-3, 25e-3, 32e-3, 40e-3, 50e-3, 63e-3, 80e-3, 0.1, 0.125, 0.16
"""V across the shunt at the trip, near which it is tried."""
MOST_LOST = 0.25
"""Of what the need lets the output move, that the shunt may take."""
SIDE = 1e3
"""Ω on the inputs of a difference amplifier: bias currents do not count beside its offset."""
GAINS = 20.0, 47.0
"""Of a difference amplifier; with less its offset counts for more, with more it is slower."""
BELOW = 2.0
"""Times the highest output has a reservoir without a load, about (common practice, no source)."""
ACROSS = 1.0
"""V that any negative regulator has across it (datasheets)."""
BYPASS = 100e-9
"""F, ceramic, at the pins of an amplifier (common practice, no source)."""


@dataclass(frozen=True)
class Seat:
    """Where a shunt is to stand, and what there is to see it with."""

    task: Task
    rail: Output
    five: Spread
    """V of the rail for logic."""
    raw: tuple[float, float] | None
    """V of what feeds the latch, least and most; None where that is not known yet."""
    below: bool = False
    """Whether the rail lies below another one: what sees it counts from the lower end of its
    reservoir."""

    @property
    def terminals(self) -> Terminals:
        """Those of the rail."""
        return self.task.terminals(self.rail.name)

    @property
    def far(self) -> float:
        """K from room temperature to the farther end of the ambient."""
        ambient = self.task.need.surroundings.ambient
        return max(abs(ambient.max - ROOM), abs(ambient.min - ROOM))

    @property
    def may_lose(self) -> float:
        """V that a shunt may drop at the current that has to be carried."""
        rail = self.rail
        allowed = [] if rail.load_regulation is None else [rail.load_regulation]
        if not (rail.is_adjustable and allowed):
            allowed.append((rail.accuracy or ACCURACY) * rail.voltage.max)
        return MOST_LOST * min(allowed)


@dataclass(frozen=True)
class Nets:
    """Nets of what sees the current."""

    inner: str
    """Terminal of the supply inside, where the shunt begins."""
    seen: str
    """Output of an amplifier."""
    five: str
    """Rail for logic."""
    raw: str
    ground: str


@dataclass(frozen=True)
class Sense:
    """One way to see a current: here without an amplifier, in the return."""

    name: ClassVar[str] = "a shunt in the return"

    seat: Seat
    shunt: Entry
    ohms: float

    @property
    def resistance(self) -> Spread:
        """Of the shunt, with the temperature [Ω]."""
        drift = spread_of(self.shunt, "resistance").drift * self.seat.far
        return Spread.tolerance(self.ohms, tolerance_of(self.shunt) + drift)

    @property
    def slope(self) -> Spread:
        """V against the ground for an ampere."""
        return self.resistance

    @property
    def error(self) -> float:
        """V there at most that are none of the current's."""
        return 0.0

    @property
    def parts(self) -> int:
        """How many it takes."""
        return 1

    @property
    def in_return(self) -> bool:
        """Whether it is seen as a voltage of the return against the ground."""
        return True

    @property
    def at_minus(self) -> bool:
        """Whether the shunt is at the minus terminal."""
        return self.in_return

    @property
    def wants(self) -> float:
        """V to be left between the reservoir and the output beyond what a regulator takes."""
        return 0.0

    def suits(self, lowest: float, highest: float) -> None:
        """Unserved where a reservoir has less or more than its inputs want or stand [V]."""

    def judge(self, most: float) -> None:
        """Unserved where it cannot work up to a current [A]."""
        task, minus = self.seat.task, self.seat.terminals.minus
        if minus == task.fed.minus:
            raise Unserved("the return of the rail is that of the input, and so is not its alone")
        if any(task.terminals(rail.name).plus == minus for rail in task.need.output):
            raise Unserved("the return of the rail is that of another one, and so is not its alone")
        if self.seat.below:
            raise Unserved("its ground is the lower end of a reservoir, and no terminal")

    def sees(self, nets: Nets) -> str:
        """Net of the voltage that tells the current."""
        return self.seat.terminals.minus

    def draw(self, sheet: Sheet, nets: Nets, why: str) -> None:
        """All of it; why: what it makes."""
        self.draw_shunt(sheet, self.seat.terminals.minus, nets.inner, why)

    def draw_shunt(self, sheet: Sheet, one: str, two: str, why: str) -> None:
        """The shunt itself."""
        pins, value = {"one": one, "two": two}, show(self.ohms, "Ω", 4)
        sheet.add("R", "resistor", BLOCK, pins, why, use=self.shunt.name, resistance=value)


@dataclass(frozen=True)
class InRail(Sense):
    """With an amplifier, whose output tells the current."""

    amplifier: Entry
    gain: float

    @property
    def in_return(self) -> bool:
        return False

    @property
    def gains(self) -> Spread:
        """Of the amplifier, at its limits."""
        raise NotImplementedError(type(self).__name__)

    @property
    def slope(self) -> Spread:
        ohms, gains = self.resistance, self.gains
        return Spread.limits(
            ohms.low * gains.low, ohms.typical * gains.typical, ohms.high * gains.high
        )

    def sees(self, nets: Nets) -> str:
        return nets.seen

    def _above(self, wanted: float, most: float, what: str) -> None:
        """Unserved where a voltage [V] is beyond what it may be."""
        if wanted > most:
            raise Unserved(
                f"{what} would be at {show(wanted, 'V')}; it goes up to {show(most, 'V')}"
            )


@dataclass(frozen=True)
class SenseAmplifier(InRail):
    """A current-sense amplifier, whose trimmed gain does not care for the rail's voltage."""

    name = "a current-sense amplifier"

    @property
    def gains(self) -> Spread:
        return spread_of(self.amplifier, "gain")

    @property
    def _most(self) -> float:
        """V that its inputs may have."""
        return self.seat.task.kept * spread_of(self.amplifier, "input_range_high").low

    @property
    def error(self) -> float:
        entry, top = self.amplifier, self.seat.rail.voltage.max
        tested = spread_of(entry, "test_common_mode").typical
        farthest = max(abs((self._most if self.seat.below else top) - tested), tested)
        at_input = spread_of(entry, "offset").high
        at_input += spread_of(entry, "offset_drift").high * self.seat.far
        at_input += spread_of(entry, "common_mode_error").high * farthest
        return self.gains.high * at_input

    @property
    def parts(self) -> int:
        return 3

    @property
    def at_minus(self) -> bool:
        return self.seat.below

    @property
    def wants(self) -> float:
        low = spread_of(self.amplifier, "input_range_low").high
        return max(low - ACROSS, 0.0) if self.seat.below else 0.0

    def suits(self, lowest: float, highest: float) -> None:
        if not self.seat.below:
            return
        self._above(highest, self._most, "its inputs, in a short,")
        rail = self.seat.rail
        left = lowest - rail.voltage.max * (1.0 + (rail.accuracy or ACCURACY))
        wanted = spread_of(self.amplifier, "input_range_low").high
        if left < wanted:
            raise Unserved(
                f"{show(left, 'V')} are left between reservoir and output; the inputs of its "
                f"amplifier want {show(wanted, 'V')}"
            )

    def judge(self, most: float) -> None:
        entry, rail = self.amplifier, self.seat.rail
        if spread_of(entry, "input_range_low").high > 0.0 and not self.seat.below:
            low = show(spread_of(entry, "input_range_low").high, "V")
            raise Unserved(f"its inputs work from {low} on; a short takes them to nil")
        # Below another rail they see the whole reservoir in a short.
        top = BELOW * rail.voltage.max if self.seat.below else rail.voltage.max
        self._above(max(top, rail.never_above or 0.0), self._most, "its inputs")
        wanted = self.slope.high * most + self.error
        end = self.seat.five.low - spread_of(entry, "swing_high").high
        self._above(wanted, end, "its output")

    def draw(self, sheet: Sheet, nets: Nets, why: str) -> None:
        ends = nets.inner, self.seat.terminals.plus
        if self.at_minus:
            ends = self.seat.terminals.minus, nets.inner
        self.draw_shunt(sheet, *ends, why)
        pins = {"sense_plus": ends[0], "sense_minus": ends[1], "output": nets.seen}
        pins |= {"supply": nets.five, "ground": nets.ground}
        told = (
            f"gain {show(self.gain, '1')}: {show(self.slope.typical, 'V')} per ampere; off by at "
            f"most {show(self.slope.high / self.slope.typical - 1.0, '1')} and "
            f"{show(self.error, 'V')}"
        )
        sheet.add("U", self.amplifier.kind, BLOCK, pins, told, use=self.amplifier.name)
        at_pins = f"{show(BYPASS, 'F')} at its pins (common practice)"
        fed, of = (nets.five, nets.ground), ("class-2", BYPASS)
        draw_capacitor(sheet, self.seat.task, BLOCK, fed, of, self.seat.five.high, at_pins)


@dataclass(frozen=True)
class DifferenceAmplifier(InRail):
    """An operational amplifier with four resistors."""

    name = "a difference amplifier"

    grade: Entry
    """Of its resistors."""

    @property
    def _off(self) -> float:
        return tolerance_of(self.grade) + spread_of(self.grade, "resistance").drift * self.seat.far

    @property
    def gains(self) -> Spread:
        return Spread.tolerance(self.gain, 2.0 * self._off)

    @property
    def error(self) -> float:
        """Common mode 4 t G / (1 + G) V, worst case of four resistors; offset (1 + G) Vos."""
        entry, top = self.amplifier, self.seat.rail.voltage.max
        common = 4.0 * self._off * self.gain / (1.0 + self.gain) * top
        offset = spread_of(entry, "offset").high
        offset += spread_of(entry, "offset_drift").high * self.seat.far
        offset += spread_of(entry, "common_mode_error").high * top
        return common + (1.0 + self.gain) * offset

    @property
    def parts(self) -> int:
        return 7

    def judge(self, most: float) -> None:
        entry = self.amplifier
        if self.seat.raw is None:
            raise Unserved("what would feed it is known with the transformer alone")
        low, high = self.seat.raw
        if spread_of(entry, "input_range_low").high > 0.0 or self._lowest > 0.1:
            raise Unserved("it wants a negative supply")
        may = self.seat.task.bears(entry, "supply_maximum")
        self._above(high, may, "its supply")
        top = self.seat.rail.voltage.max * self.gain / (1.0 + self.gain)
        self._above(top, low - spread_of(entry, "input_range_high").high, "its inputs")
        wanted = self.slope.high * most + self.error
        self._above(wanted, low - spread_of(entry, "swing_high").high, "its output")

    @property
    def _lowest(self) -> float:
        return spread_of(self.amplifier, "swing_low").high

    def draw(self, sheet: Sheet, nets: Nets, why: str) -> None:
        out, task = self.seat.terminals.plus, self.seat.task
        self.draw_shunt(sheet, nets.inner, out, why)
        above, below = f"{nets.seen}_PLUS", f"{nets.seen}_MINUS"
        far = nearest(self.gain * SIDE, task.need.parts.series)
        told = (
            f"gain {show(far, 'Ω')} / {show(SIDE, 'Ω')}: {show(self.slope.typical, 'V')} per "
            f"ampere; off by at most {show(self.error, 'V')}, of which 4 x "
            f"{show(self._off, '1')} of the rail"
        )
        ends = (
            ((nets.inner, above), SIDE),
            ((above, nets.ground), far),
            ((out, below), SIDE),
            ((nets.seen, below), far),
        )
        tight = tolerance_of(self.grade)
        for pair, ohms in ends:
            draw_resistor(sheet, task, BLOCK, pair, ohms, told, tolerance=tight)
        pins = {"plus": above, "minus": below, "output": nets.seen}
        pins |= {"supply": nets.raw, "ground": nets.ground}
        sheet.add("U", self.amplifier.kind, BLOCK, pins, told, use=self.amplifier.name)
        at_pins = f"{show(BYPASS, 'F')} at its pins (common practice)"
        of = ("class-2", BYPASS)
        assert self.seat.raw is not None
        draw_capacitor(sheet, task, BLOCK, (nets.raw, nets.ground), of, self.seat.raw[1], at_pins)


def senses(seat: Seat, middle: float) -> Iterator[Sense]:
    """Ways to see a current whose middle is given [A], with every shunt that can be bought."""
    catalogue, series = seat.task.catalogue, seat.task.need.parts.series
    shunt = min(
        (e for e in of_kind(catalogue, "resistor") if e.name.startswith(SHUNTS)),
        key=lambda e: (not e.package.startswith("axial"), price_of(e)),
    )
    grades = [e for e in of_kind(catalogue, "resistor") if e.name.startswith("film resistor 0.25")]
    amplifiers = sorted(of_kind(catalogue, "operational-amplifier"), key=price_of)
    for ohms in sorted({nearest(drop / middle, series) for drop in DROPS}):
        yield Sense(seat, shunt, ohms)
        for amplifier in of_kind(catalogue, "current-sense-amplifier"):
            gain = spread_of(amplifier, "gain").typical
            yield SenseAmplifier(seat, shunt, ohms, amplifier, gain)
        for amplifier in amplifiers:
            for grade in grades:
                for gain in GAINS:
                    real = nearest(gain * SIDE, series) / SIDE
                    yield DifferenceAmplifier(seat, shunt, ohms, amplifier, real, grade)
