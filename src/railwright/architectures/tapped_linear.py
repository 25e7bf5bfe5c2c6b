"""Transformer whose secondary is switched between half and whole, with an adjustable linear.

The middle of the winding feeds the reservoir over a diode; a relay's contact joins the upper end
of the bridge to it. A comparator with hysteresis pulls the relay where the output is set high. Both
positions are sized: the half for the highest output at which it may still be on, the whole for the
heat at the lowest one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

from railwright.architectures.adjustable_linear import ADJUSTABLE
from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.front import Draw, Front, sized_for
from railwright.architectures.linear import Linear
from railwright.architectures.mains_input import SAGS, TAP, MainsFront, kept_apart, tapped_fronts
from railwright.architectures.regulator import Regulator
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import capacitor
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.cooling import coolings
from railwright.architectures.sizing.diodes import diode
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor, tolerance_of
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.quantity import show
from railwright.standards.iec60063 import bracket
from railwright.standards.wire import REFERENCE_TEMPERATURE, TEMPERATURE_COEFFICIENT

COMPARATOR, SWITCH = "393 type", "2N7000"
WOUND = "wirewound-resistor"
FULL, SLOWED, KEPT_UP, STEADY = "FULL", "SLOWED", "AUX", "STEADY"
"""Nets: the bridge's upper end, the contact, the supply of the control before and behind its
regulator."""
SENSE, MARK, DECISION, COIL = "SENSE", "MARK", "WHOLE", "COIL"
"""Nets: inputs and output of the comparator, the relay's lower end."""
LOWER, ABOVE_MARK = 10e3, 30e3
"""Ω of the lower legs, and of the leg from the steady supply to the mark: a quarter of it."""
PULL_UP = 10e3
"""Ω; the comparator sinks a milliampere."""
HYSTERESIS = 0.5
"""V at the output between both decisions: more than ripple and regulation move it (common practice,
no source)."""
SHARES = (1.0, 0.93, 0.86, 0.8, 0.7, 0.6)
"""Of what the half can feed are the switching voltages that are tried, the highest first."""
RELAY_TAKES = 50e-3
"""A, for which transformer and reservoir are chosen beside the load: a coil of 0.4 W on 12 V and
what decides."""
CONTROL_TAKES = 5e-3
"""A: comparator, pull-up, legs and the regulator of the steady supply itself (datasheets)."""
HELD_UP, OF_DIODE = 470e-6, 1.0
"""F that keeps the supply of the control up between the pulses, 10 ms x 50 mA / 470 µF = 1 V; V
of the diode before it."""
DAMPS = 22e3
"""Ω beside a coil: less than sqrt(L / C) of a henry and a hundred picofarads (common practice, no
source)."""
OFFSET = 9e-3
"""V of the comparator over temperature (datasheet of the 393 type)."""
SATURATED = 0.4
"""V of its output at most (the same)."""
AT_PINS = 470e-9


@dataclass(frozen=True)
class Threshold:
    """The output voltages at which a comparator decides for the whole winding, and back."""

    upper: float
    """Ω from the output to the comparator's input."""
    back: float
    """Ω from its output to that."""
    tolerance: float
    steady: tuple[float, float]
    """V of the supply from which its mark is made, least and most."""

    @cached_property
    def rising(self) -> tuple[float, float]:
        """Least and greatest output at which it decides for the whole [V]."""
        return self._ends(on=False)

    @cached_property
    def falling(self) -> tuple[float, float]:
        """Least and greatest output at which it decides for the half [V]."""
        return self._ends(on=True)

    def _ends(self, *, on: bool) -> tuple[float, float]:
        ends = (1.0 - self.tolerance, 1.0 + self.tolerance)
        found = []
        for supply, (r1, r2, r3, ratio) in product(self.steady, product(ends, repeat=4)):
            back = self.back * r3 + (PULL_UP if on else 0.0)
            for low, off in product((0.0, SATURATED), (-OFFSET, OFFSET)):
                mark = supply / (1.0 + ABOVE_MARK / LOWER * ratio**2) + off
                fed = supply if on else low
                found.append(decides(mark, fed, (self.upper * r1, LOWER * r2, back)))
        return min(found), max(found)


def decides(mark: float, fed: float, ohms: tuple[float, float, float]) -> float:
    """The output at which a comparator's input is at its mark [V].

    ohms: from the output, to the return, and from what is fed back [V], to the input. Kirchhoff's
    current law at the input.

    >>> round(decides(3.0, 0.0, (10e3, 10e3, 100e3)), 6)
    6.3
    """
    upper, lower, back = ohms
    return upper * (mark * (1.0 / upper + 1.0 / lower + 1.0 / back) - fed / back)


@dataclass(frozen=True)
class Means:
    """What pulls: a relay with the regulator of its voltage."""

    relay: Entry
    regulator: Entry
    highest: float
    """V at most before the regulator."""

    @property
    def drawn(self) -> float:
        """A at most."""
        volts = spread_of(self.regulator, "output_voltage").high
        return volts / spread_of(self.relay, "coil_resistance").low + CONTROL_TAKES

    @property
    def steady(self) -> tuple[float, float]:
        """V, least and most, line and load included."""
        entry = self.regulator
        volts = spread_of(entry, "output_voltage")
        line = spread_of(entry, "line_regulation").high * (self.highest - volts.typical)
        load = spread_of(entry, "load_regulation").high / spread_of(entry, "rated_current").typical
        load *= self.drawn
        return volts.low * (1.0 - load), volts.high * (1.0 + line)


@dataclass(frozen=True)
class TappedFront(Front):
    """Half or whole of a winding, as a comparator decides."""

    whole: MainsFront
    half: MainsFront
    means: Means
    threshold: Threshold
    rail: Output

    @property
    def task(self) -> Task:
        return self.whole.task

    def fitted(self, regulator: Regulator) -> Draw:
        self.whole.carrying(regulator.taken + self.means.drawn)
        self.half.carrying(regulator.taken + self.means.drawn)
        regulator.headroom(0.0)
        most, left = self.threshold.rising[1], self.half.feed.low - regulator.needed
        if most > left:
            raise Unserved(
                f"half of the winding is on up to {show(most, 'V')}; its valley of "
                f"{show(self.half.feed.low, 'V')} feeds {show(left, 'V')}",
                reached=5,
            )
        return self._draw

    def _draw(self, sheet: Sheet) -> None:
        task, whole, ground = self.task, self.whole, self.whole.feed.ground
        full, half, raw = task.inner(FULL), task.inner(TAP), whole.feed.net
        whole.draw_rectifier(sheet, full)
        block = "taps"
        feeds, first = self.half.feed, self.half.surge / task.kept
        why = (
            f"half of the winding feeds over it: {show(feeds.low, 'V')} in the valley, "
            f"{show(feeds.high, 'V')} at most; blocks where the whole is on"
        )
        tap = diode(task, whole.current, whole.feed.high, why, surge=first)
        pins = {"anode": half, "cathode": raw}
        sheet.add("D", "diode", block, pins, tap.why, use=tap.entry.name)
        relay, rated = self.means.relay, spread_of(self.means.relay, "rated_current").high
        surge = _may_make(task, relay)
        why = (
            f"puts the whole winding on the reservoir, with {show(surge, 'A')} of "
            f"{show(rated, 'A')} at most as it closes; at rest the half is on"
        )
        coil, slowed = task.inner(COIL), whole.winding.behind
        joined = task.inner(SLOWED) if slowed else full
        if slowed:
            told = f"lets no more than {show(surge, 'A')} into what the half has charged"
            self._slow(sheet, (full, joined), slowed, told)
        pins = {"coil_start": task.inner(STEADY), "coil_end": coil, "common": joined}
        sheet.add("K", "relay", block, {**pins, "closes": raw}, why, use=relay.name)
        whole.draw_reservoir(sheet, self.half.feed.low)
        self._supply(sheet)
        self._decide(sheet, ground)

    def _slow(self, sheet: Sheet, ends: tuple[str, str], ohms: float, why: str) -> None:
        watts = self.whole.effective**2 * ohms
        found = [
            entry
            for entry in of_kind(self.task.catalogue, WOUND)
            if self.task.bears(entry, "rated_power") >= watts
        ]
        if not found:
            raise Unserved(f"no wirewound resistor takes {show(watts, 'W')}")
        use = min(found, key=price_of).name
        pins, value = {"one": ends[0], "two": ends[1]}, show(ohms, "Ω", 4)
        told = f"{why}; {show(watts, 'W')}"
        sheet.add("R", WOUND, "taps", pins, told, use=use, resistance=value)

    def _supply(self, sheet: Sheet) -> None:
        task, ground, block = self.task, self.whole.feed.ground, "control"
        kept, steady = task.inner(KEPT_UP), task.inner(STEADY)
        highest = self.whole.feed.high
        why = "keeps the supply of the control up while the half is on"
        apart = diode(task, 1.0, highest, why, lasting=False)
        pins = {"anode": task.inner(FULL), "cathode": kept}
        sheet.add("D", "diode", block, pins, apart.why, use=apart.entry.name)
        told = f"{show(self.means.drawn, 'A')} x {show(SAGS, 's')} / C between pulses"
        self._capacitor(sheet, kept, ("electrolytic", HELD_UP), highest, told)
        self._capacitor(sheet, kept, ("class-2", AT_PINS), highest, "at the pins")
        pins = {"input": kept, "output": steady, "ground": ground}
        entry = self.means.regulator
        why = f"for relay, comparator and mark; {_cool(task, self.means, self.whole)}"
        sheet.add("U", entry.kind, block, pins, why, use=entry.name)
        self._capacitor(sheet, steady, ("class-2", AT_PINS), self.means.steady[1], "at the pins")

    def _decide(self, sheet: Sheet, ground: str) -> None:
        task, block = self.task, "control"
        steady, sense, mark, decision, coil = (
            task.inner(net) for net in (STEADY, SENSE, MARK, DECISION, COIL)
        )
        low, high = self.threshold.falling[0], self.threshold.rising[1]
        told = (
            f"V = R1 (Vm (1/R1 + 1/R2 + 1/Rh) - V/Rh): the whole from {show(high, 'V')} at most, "
            f"the half below {show(low, 'V')} at least"
        )
        out = task.terminals(self.rail.name).plus
        self._resistor(sheet, (out, sense), self.threshold.upper, told)
        self._resistor(sheet, (sense, ground), LOWER, told)
        wide = f"{show(HYSTERESIS, 'V')} at the output between both decisions"
        self._resistor(sheet, (decision, sense), self.threshold.back, wide)
        ratio = "a quarter of the steady supply"
        self._resistor(sheet, (steady, mark), ABOVE_MARK, ratio)
        self._resistor(sheet, (mark, ground), LOWER, ratio)
        pins = {"plus": sense, "minus": mark, "output": decision}
        pins |= {"supply": steady, "ground": ground}
        entry = task.catalogue[COMPARATOR]
        why = "lets go where the output is set high: the transistor pulls the relay"
        sheet.add("U", entry.kind, block, pins, why, use=entry.name)
        self._resistor(sheet, (steady, decision), PULL_UP, "has the gate where it lets go")
        entry = task.catalogue[SWITCH]
        pins = {"drain": coil, "gate": decision, "source": ground}
        why = f"{show(self.means.drawn, 'A')} of the coil at most"
        sheet.add("Q", entry.kind, block, pins, why, use=entry.name)
        free = diode(task, 1.0, self.means.steady[1], "takes the coil's current", lasting=False)
        pins = {"anode": coil, "cathode": steady}
        sheet.add("D", "diode", block, pins, free.why, use=free.entry.name)
        damps = "damps what the coil rings with in the transistor's capacitance once it is let go"
        self._resistor(sheet, (coil, steady), DAMPS, damps)

    def _resistor(self, sheet: Sheet, ends: tuple[str, str], ohms: float, why: str) -> None:
        task = self.task
        watts = self.whole.feed.high**2 / LOWER
        use = resistor(task, watts, _tolerance(task)).name
        pins, value = {"one": ends[0], "two": ends[1]}, show(ohms, "Ω", 4)
        sheet.add("R", "resistor", "control", pins, why, use=use, resistance=value)

    def _capacitor(
        self, sheet: Sheet, net: str, of: tuple[str, float], volts: float, why: str
    ) -> None:
        chosen = capacitor(self.task, *of, volts, why)
        pins = {"plus": net, "minus": self.whole.feed.ground}
        sheet.add("C", "capacitor", "control", pins, chosen.why, use=chosen.entry.name)


class TappedLinear(Linear):
    """Half of the winding at low settings, the whole at high ones."""

    name = "transformer with switched taps and linear"
    gives_up = "a relay clicks and wears; just above the switching voltage it is hardly cooler"
    means = (ADJUSTABLE,)

    def fronts(self, task: Task, rail: Output) -> Sequence[Front]:
        kept_apart(rail)
        if not rail.is_adjustable:
            raise Unserved(
                f"{rail.name} has one voltage, {show(rail.voltage.max, 'V')}: there is nothing to "
                "switch"
            )
        refused: list[Unserved] = []
        found: list[Front] = []
        current, most = sized_for(rail) + RELAY_TAKES, _may_make(task, _relay(task))
        for whole, half in tapped_fronts(task, rail, current, most):
            try:
                found += _fronts(rail, whole, half)
            except Unserved as unserved:
                refused.append(unserved)
        if not found:
            if not refused:
                raise Unserved("no half of a winding bears the current that its whole does")
            raise max(refused, key=lambda each: each.reached)
        return found


def _fronts(rail: Output, whole: MainsFront, half: MainsFront) -> Iterator[TappedFront]:
    """With each switching voltage that the half can feed; Unserved where there is none."""
    task = whole.task
    means = _means(task, whole)
    for share in SHARES:
        threshold = _threshold(task, means, share * half.feed.low, rail)
        if threshold is None:
            continue
        above = whole.feed.loaded - threshold.falling[0]
        follows = max(above, half.feed.loaded - rail.voltage.min)
        contact = whole.current * spread_of(means.relay, "contact_resistance").high
        feed = replace(whole.feed, low=whole.feed.low - contact, follows=follows)
        yield TappedFront(feed, whole, half, means, threshold, rail)


def _threshold(task: Task, means: Means, most: float, rail: Output) -> Threshold | None:
    """The one that decides for the whole up to an output [V], where that is within the range."""
    series, steady = task.need.parts.series, means.steady
    mark = 0.5 * sum(steady) * LOWER / (LOWER + ABOVE_MARK)
    wanted = most
    for _ in range(4):
        ratio = (wanted - HYSTERESIS / 2.0) / mark - 1.0
        if ratio <= 0.0:
            return None
        upper = bracket(ratio * LOWER, series)[0]
        back = bracket(upper * 0.5 * sum(steady) / HYSTERESIS, series)[0]
        found = Threshold(upper, back, _tolerance(task), steady)
        if found.rising[1] <= most:
            within = rail.voltage.min < found.falling[0] and most < rail.voltage.max
            return found if within else None
        wanted -= found.rising[1] - most
    return None


def _relay(task: Task) -> Entry:
    """That which carries most."""
    return max(
        of_kind(task.catalogue, "relay"), key=lambda each: spread_of(each, "rated_current").high
    )


def _may_make(task: Task, relay: Entry) -> float:
    """A that a contact may close onto."""
    return task.bears(relay, "rated_current")


def _means(task: Task, whole: MainsFront) -> Means:
    """The cheapest relay and a regulator of its voltage; Unserved where there is none."""
    most, refused = _may_make(task, _relay(task)), []
    for relay in sorted(of_kind(task.catalogue, "relay"), key=price_of):
        if _may_make(task, relay) < most:
            continue
        for entry in sorted(of_kind(task.catalogue, "fixed-regulator"), key=price_of):
            means = Means(relay, entry, whole.feed.high)
            try:
                _pulls(task, means)
                _cool(task, means, whole)
                _supplies(task, means, whole.feed.low, whole.feed.high)
            except Unserved as unserved:
                told = f"{relay.name} on {entry.name}: {unserved.reason}"
                refused.append(Unserved(told, unserved.reached))
            else:
                return means
    raise max(refused, key=lambda each: each.reached)


def _pulls(task: Task, means: Means) -> None:
    """Unserved where a relay does not pull, warm, or is given too much."""
    relay, (low, high) = means.relay, means.steady
    warmer = _warm(relay, low, task.need.surroundings.ambient.max)
    pulls = spread_of(relay, "pull_in_voltage").high * warmer
    most = task.bears(relay, "coil_voltage_maximum")
    if low < pulls or high > most:
        raise Unserved(
            f"it gives {show(low, 'V')} to {show(high, 'V')}; warm the coil wants "
            f"{show(pulls, 'V')}, and stands {show(most, 'V')}"
        )


def _warm(relay: Entry, volts: float, ambient: float) -> float:
    """Times its resistance at 20 °C is that of a coil that has long been on a voltage [V].

    Its power warms it, and less of it flows then (ASTM B193; upper limits).
    """
    cold = spread_of(relay, "coil_resistance").low
    factor = 1.0
    for _ in range(20):
        rise = volts**2 / (cold * factor) * spread_of(relay, "winding_to_ambient").high
        factor = 1.0 + TEMPERATURE_COEFFICIENT * (ambient + rise - REFERENCE_TEMPERATURE)
    return factor


def _supplies(task: Task, means: Means, lowest: float, highest: float) -> None:
    """Unserved where the regulator is given too little or too much."""
    entry = means.regulator
    stands = task.bears(entry, "supply_maximum")
    wanted = means.steady[1] + spread_of(entry, "dropout").high * (1.0 + task.need.parts.reserve)
    least = lowest - OF_DIODE - means.drawn * SAGS / (0.64 * HELD_UP)
    carries = task.bears(entry, "rated_current")
    if highest > stands or least < wanted or means.drawn > carries:
        raise Unserved(
            f"it is given {show(least, 'V')} to {show(highest, 'V')} and gives "
            f"{show(means.drawn, 'A')}; it wants {show(wanted, 'V')}, stands "
            f"{show(stands, 'V')}, and gives {show(carries, 'A')}",
            reached=3,
        )


def _cool(task: Task, means: Means, whole: MainsFront) -> str:
    """How warm the regulator becomes without a sink; Unserved where too warm."""
    entry = means.regulator
    limit = task.hottest(entry)
    loss = (whole.feed.high - means.steady[0]) * means.drawn
    found = coolings(task.catalogue, entry, loss, task.need.surroundings.ambient.max, limit)[0]
    if found.sink is not None:
        raise Unserved(f"it would lose {show(loss, 'W')} and want a sink", reached=2)
    return f"loses {show(loss, 'W')}: {found.why}"


def _tolerance(task: Task) -> float:
    wanted = task.need.parts.resistor_tolerance or USUAL_TOLERANCE
    return tolerance_of(resistor(task, 0.0, wanted))
