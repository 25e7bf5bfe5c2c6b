"""A charge pump between the input and a rail below its return; voltages below it in magnitudes."""

from __future__ import annotations

from dataclasses import dataclass

from railwright.architectures.architecture import JUNCTION, Task, Unserved
from railwright.architectures.direct_input import (
    FUSED,
    RESERVOIR,
    draw_direct_input,
    fuse_drop,
    input_fuse,
)
from railwright.architectures.regulator import Feed
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import bears, capacitor, rated_for
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor
from railwright.catalogue.entry import Entry
from railwright.quantity import Spread, show
from railwright.standards.charge_pump import flying_current, output_resistance, ripple
from railwright.standards.iec60063 import bracket
from railwright.standards.thermal import junction_temperature

CAP_PLUS, CAP_MINUS = "CAP_PLUS", "CAP_MINUS"
"""Nets of the capacitor that is moved."""
SWITCHES = 0.5
"""Of what the switches make of the output resistance, the capacitor may add at most (common
practice, no source)."""


@dataclass(frozen=True)
class SeriesResistor:
    """What stands between the fuse and a pump, so that it survives a short behind it."""

    ohms: float
    use: str
    why: str


@dataclass(frozen=True)
class PumpStage:
    """A type of charge pump with what is asked of it; Unserved where it cannot give that."""

    task: Task
    entry: Entry
    feed: Feed
    current: float
    """A, most that is taken from its output."""
    allowed: float
    """V, ripple at its output that may be, peak to peak."""

    def sized(self) -> SizedPump:
        """With both capacitors; Unserved where something binds."""
        self._withstands()
        flying, reservoir = self._flying(), self._reservoir()
        found = SizedPump(self, flying, reservoir, input_fuse(self.task, self._taken, RESERVOIR))
        found.judge()
        return found

    @property
    def pumps(self) -> Spread:
        """How often the capacitor is moved to and fro [Hz]."""
        own = spread_of(self.entry, "frequency")
        return Spread.limits(0.5 * own.low, 0.5 * own.typical, 0.5 * own.high)

    @property
    def own_current(self) -> float:
        """What it takes for itself, at most [A]."""
        return spread_of(self.entry, "quiescent_current").high

    @property
    def _taken(self) -> float:
        return self.current + self.own_current

    @property
    def switches(self) -> float:
        """All four added up, at most [Ω]."""
        return spread_of(self.entry, "switch_resistance").high

    def _withstands(self) -> None:
        task, entry = self.task, self.entry
        limit, highest = spread_of(entry, "supply_maximum").high, self.feed.high
        if highest > task.bears(entry, "supply_maximum"):
            raise Unserved(
                f"it would see {show(highest, 'V')}; of its {show(limit, 'V')} "
                f"{show(task.share(entry, 'supply_maximum'), '1')} may be used",
                reached=1,
            )
        least = spread_of(entry, "supply_minimum").high * (1.0 + task.need.parts.reserve)
        if self.feed.low < least:
            raise Unserved(
                f"{show(self.feed.low, 'V')} are too little: it works from {show(least, 'V')} on",
                reached=1,
            )
        most = task.bears(entry, "rated_current")
        if self.current > most:
            raise Unserved(
                f"{show(self.current, 'A')} flow; of its "
                f"{show(spread_of(entry, 'rated_current').high, 'A')} {show(most, 'A')} may be "
                "used",
                reached=2,
            )

    def _wet(self) -> list[Entry]:
        """Electrolytic capacitors that stand the input, the smallest first."""
        found = [
            entry
            for entry in of_kind(self.task.catalogue, "capacitor")
            if entry.options.get("dielectric") == "electrolytic"
            and {"esr", "rated_ripple"} <= entry.values.keys()
            and bears(self.task, entry) >= self.feed.high
        ]
        return sorted(found, key=lambda e: (spread_of(e, "capacitance").typical, price_of(e)))

    def _flying(self) -> Choice:
        may = SWITCHES * 2.0 * self.switches
        for entry in self._wet():
            farads, esr = spread_of(entry, "capacitance"), spread_of(entry, "esr")
            adds = output_resistance(0.0, self.pumps.low, farads.low, esr.high, 0.0)
            flows = flying_current(
                self.current, self.pumps.low, farads.low, 0.5 * self.switches + esr.low
            )
            promised = self.task.kept * spread_of(entry, "rated_ripple").low
            if adds <= may and flows <= promised:
                why = (
                    f"adds 1/(f C) + 4 ESR = {show(adds, 'Ω')} to twice the "
                    f"{show(self.switches, 'Ω')} of the switches; {show(flows, 'A')} go to and fro "
                    f"in it; {rated_for(self.task, entry, self.feed.high)}"
                )
                return Choice(entry, why)
        raise Unserved(
            f"no electrolytic capacitor of the catalogue that stands {show(self.feed.high, 'V')} "
            f"adds no more than {show(may, 'Ω')} to its switches",
            reached=3,
        )

    def _reservoir(self) -> Choice:
        for entry in self._wet():
            farads, esr = spread_of(entry, "capacitance"), spread_of(entry, "esr")
            left = ripple(self.current, self.pumps.low, farads.low, esr.high)
            if left <= self.allowed:
                why = (
                    f"I (1/(2 f C) + 2 ESR) = {show(left, 'V')} of ripple, of "
                    f"{show(self.allowed, 'V')} that may be; "
                    f"{rated_for(self.task, entry, self.feed.high)}"
                )
                return Choice(entry, why)
        raise Unserved(
            f"no electrolytic capacitor of the catalogue leaves no more than "
            f"{show(self.allowed, 'V')} of ripple of {show(self.current, 'A')}",
            reached=3,
        )


@dataclass(frozen=True)
class SizedPump:
    """A charge pump whose capacitors are chosen."""

    own: PumpStage
    flying: Choice
    reservoir: Choice
    fuse: Choice

    @property
    def resistance(self) -> float:
        """Of its output, at most [Ω]; first order, which is the upper bound."""
        flying, reservoir = self.flying.entry, self.reservoir.entry
        return output_resistance(
            self.own.switches,
            self.own.pumps.low,
            spread_of(flying, "capacitance").low,
            spread_of(flying, "esr").high,
            spread_of(reservoir, "esr").high,
        )

    @property
    def ahead(self) -> float:
        """What fuse and source take at most [V]."""
        return fuse_drop(self.own.task, self.fuse, self.own.current + self.own.own_current)

    @property
    def lowest(self) -> float:
        """Least that it gives at full load, in the valley of its ripple [V]."""
        own, entry = self.own, self.reservoir.entry
        farads, esr = spread_of(entry, "capacitance").low, spread_of(entry, "esr").high
        valley = 0.5 * ripple(own.current, own.pumps.low, farads, esr)
        return own.feed.low - self.ahead - own.current * self.resistance - valley

    @property
    def loss(self) -> float:
        """What heats it, at most [W]."""
        own = self.own
        return own.current**2 * self.resistance + own.feed.high * own.own_current

    def judge(self) -> None:
        """Unserved where it becomes too warm, or leaves nothing."""
        task, entry = self.own.task, self.own.entry
        if self.lowest <= 0.0:
            raise Unserved(
                f"{show(self.own.current, 'A')} through {show(self.resistance, 'Ω')} leave nothing "
                f"of {show(self.own.feed.low, 'V')}",
                reached=4,
            )
        limit = task.hottest(entry)
        junction = junction_temperature(
            task.need.surroundings.ambient.max,
            self.loss,
            spread_of(entry, "junction_to_ambient").high,
        )
        if junction > limit:
            raise Unserved(
                f"its junction would reach {show(junction, '°C')}; {show(limit, '°C')} may be",
                reached=4,
            )

    def series(self, spare: float) -> SeriesResistor | None:
        """The greatest resistor that costs no more than a spare voltage [V], for a shorted output.

        Without one a pump gives all that its switches let through, and has no limit of its own. V²
        / 4 R is the most that it then loses, where its output resistance is R too. None where that
        is too warm, or no film resistor takes the power.
        """
        own, task = self.own, self.own.task
        tolerance = task.need.parts.resistor_tolerance or USUAL_TOLERANCE
        most = spare / (own.current + own.own_current) / (1.0 + tolerance)
        limit = spread_of(own.entry, JUNCTION).high
        cools = spread_of(own.entry, "junction_to_ambient").high
        bearable = task.kept * (limit - task.need.surroundings.ambient.max) / cools
        least = own.feed.high**2 / (4.0 * bearable) / (1.0 - tolerance)
        if most < least:
            return None
        ohms = bracket(most, task.need.parts.series)[0]
        if ohms < least:
            return None
        behind = 2.0 * spread_of(own.entry, "switch_resistance").low
        power = (own.feed.high / (ohms + behind)) ** 2 * ohms * (1.0 + tolerance)
        try:
            use = resistor(task, power, tolerance).name
        except Unserved:
            return None
        lost = own.feed.high**2 / (4.0 * ohms * (1.0 - tolerance))
        why = (
            f"with its output shorted the pump loses at most V² / 4 R = {show(lost, 'W')} of the "
            f"{show(bearable, 'W')} that it bears, and this {show(power, 'W')}; takes "
            f"{show(ohms * own.current, 'V')} at full load"
        )
        return SeriesResistor(ohms, use, why)

    def draw(
        self, sheet: Sheet, block: str, out: str, series: SeriesResistor | None = None
    ) -> None:
        """All of it, from the input to the capacitor at its output."""
        own, task, feed = self.own, self.own.task, self.own.feed
        behind = feed.net if series is None else task.inner(FUSED)
        draw_direct_input(task, sheet, self.fuse, None, behind)
        if series is not None:
            ends, value = {"one": behind, "two": feed.net}, show(series.ohms, "Ω", 4)
            sheet.add("R", "resistor", "input", ends, series.why, use=series.use, resistance=value)
        why = f"at least {show(RESERVOIR, 'F')} feed the pulses of the pump (common practice)"
        damps = capacitor(task, "electrolytic", RESERVOIR, feed.high, why)
        pins = {"plus": feed.net, "minus": feed.ground}
        sheet.add("C", "capacitor", "input", pins, damps.why, use=damps.entry.name)
        plus, minus = task.inner(CAP_PLUS), task.inner(CAP_MINUS)
        pins = {"input": feed.net, "ground": feed.ground, "cap_plus": plus, "cap_minus": minus}
        why = (
            f"{show(own.current, 'A')} of {show(spread_of(own.entry, 'rated_current').high, 'A')}; "
            f"2 R + 1/(f C) + 4 ESR + ESR = {show(self.resistance, 'Ω')} at its output at most "
            f"take {show(own.current * self.resistance, 'V')}; loses at most "
            f"{show(self.loss, 'W')}"
        )
        sheet.add("U", own.entry.kind, block, {**pins, "output": out}, why, use=own.entry.name)
        ends = {"plus": plus, "minus": minus}
        sheet.add("C", "capacitor", block, ends, self.flying.why, use=self.flying.entry.name)
        ends = {"plus": feed.ground, "minus": out}
        sheet.add("C", "capacitor", block, ends, self.reservoir.why, use=self.reservoir.entry.name)


def pumps(task: Task) -> list[Entry]:
    """Types of the catalogue, the cheapest first."""
    return sorted(of_kind(task.catalogue, "charge-pump-inverter"), key=price_of)
