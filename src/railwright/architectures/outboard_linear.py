"""Linear regulator with a transistor beside it that carries most of the current.

The regulator's own current makes a voltage across a resistor ahead of it; what that drives, a pnp
transistor gives to the same output. A second one takes the drive away where the current is too
much. Source: application notes of the 78xx and 340 types, high current with protection from short
circuits: R1 = beta Vbe / (Ireg (beta + 1) - Iout), Rsc = Vbe2 / Isc.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from railwright.architectures.adjustable_linear import ADJUSTABLE, AdjustableLinear
from railwright.architectures.architecture import Refusal, Task, Unserved
from railwright.architectures.demands import stays_below
from railwright.architectures.direct_input import (
    RESERVOIR,
    DirectFront,
    draw_direct_input,
    fuse_drop,
    input_fuse,
    series_diode,
)
from railwright.architectures.fixed_linear import FIXED, FixedLinear
from railwright.architectures.front import Draw, Front, sized_for
from railwright.architectures.linear import Linear
from railwright.architectures.regulator import ROOM, Feed, Regulator, Setting
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.base_voltage import base_voltage, junctions_of
from railwright.architectures.sizing.capacitors import capacitor, window_of
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.cooling import coolings
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.tables import Range
from railwright.quantity import show
from railwright.standards.iec60063 import bracket

DRIVEN, SENSED = "DRIVEN", "SENSED"
"""Nets: the regulator's input, the transistor's emitter."""
PASS_TAB, PASS_SINK = "PASS_TAB", "PASS_SINK"
SHARES = (0.06, 0.2, 0.5)
"""A that the regulator carries itself: what a small one, a plain one, a large one may."""
SMALL = 1e-2
"""Of its test current: where the transistor that guards begins to take the drive away."""
WARMER = 40.0
"""K above the hottest air is that one, beside a heat sink (common practice, no source)."""
LEAST_GUARD = 1.0
"""A at least is what it may carry: in a short all that the regulator gives goes through it."""
LEAKS = 1e-3
"""A at the output at least, whatever the load (common practice, no source)."""
SHUNT = "current shunt"
BLOCK = "pass transistor"


@dataclass(frozen=True)
class Bypass:
    """A transistor for the current of a rail, and what shares that with a regulator."""

    task: Task
    passes: Entry
    guard: Entry
    current: float
    """A through the rail."""
    share: float
    """A of it that the regulator may carry."""

    @property
    def gain(self) -> float:
        """Least current gain, at this current and cold."""
        half = spread_of(self.passes, "gain_half_current").low
        cold = min(self.task.need.surroundings.ambient.min / ROOM, 1.0)
        gain: float = spread_of(self.passes, "current_gain").low / (1.0 + self.current / half)
        return gain * math.pow(cold, 2 * junctions_of(self.passes))

    @property
    def sense(self) -> float:
        """Resistor ahead of its emitter: the guard leaves it alone up to the current [Ω]."""
        air = self.task.need.surroundings.ambient
        small = SMALL * spread_of(self.guard, "test_current").typical
        begins = base_voltage(self.guard, small, air.min, air.max + WARMER).low
        most = self.task.kept * begins / (self.current * (1.0 + self.tolerance))
        return bracket(most, self.task.need.parts.series)[0]

    @property
    def tolerance(self) -> float:
        """Of both resistors."""
        return self.task.need.parts.resistor_tolerance or USUAL_TOLERANCE

    @property
    def base(self) -> float:
        """Its greatest voltage from base to emitter: at this current, cold [V]."""
        air = self.task.need.surroundings.ambient
        return base_voltage(self.passes, self.current, air.min, air.max).high

    @property
    def drop(self) -> float:
        """Greatest voltage ahead of the regulator [V]."""
        return self.base + self.current * self.sense * (1.0 + self.tolerance)

    @property
    def across(self) -> float:
        """Resistor ahead of the regulator, in which its share makes that voltage [Ω].

        Unserved where the transistor's base takes the whole share.
        """
        left = self.share - self.current / self.gain
        if left <= 0.0:
            raise Unserved(
                f"the base of the {self.passes.name} takes up to "
                f"{show(self.current / self.gain, 'A')} of {show(self.share, 'A')}"
            )
        return bracket(self.drop / left / (1.0 - self.tolerance), self.task.need.parts.series)[1]

    @property
    def bound(self) -> float:
        """What the transistor gives into a short, at most; the guard carries its test current."""
        air = self.task.need.surroundings.ambient
        test = spread_of(self.guard, "test_current").typical
        volts = base_voltage(self.guard, test, air.min, air.max).high
        return volts / (self.sense * (1.0 - self.tolerance))

    @property
    def shunt(self) -> Entry:
        """The cheapest resistor ahead of its emitter; Unserved where none takes the power."""
        power = self.current**2 * self.sense
        strong = [
            entry
            for entry in of_kind(self.task.catalogue, "resistor")
            if entry.name.startswith(SHUNT) and self.task.bears(entry, "rated_power") >= power
        ]
        if not strong:
            raise Unserved(f"no shunt takes {show(power, 'W')} ({self.task.derating.name})")
        return min(strong, key=price_of)

    def rests(self, own: float) -> None:
        """Unserved where what the regulator takes for itself [A] turns it on without a load."""
        air = self.task.need.surroundings.ambient
        made = own * self.across * (1.0 + self.tolerance)
        least = base_voltage(self.passes, LEAKS, air.min, air.max).low
        if made > self.task.kept * least:
            raise Unserved(
                f"its own {show(own, 'A')} make {show(made, 'V')} across {show(self.across, 'Ω')}; "
                f"from {show(least, 'V')} on the {self.passes.name} gives what no load takes"
            )

    def judge(self, highest: float) -> None:
        """Unserved where current or voltage are beyond it."""
        asked = {
            "collector_current": (self.current, "A"),
            "collector_emitter_voltage": (highest, "V"),
        }
        for rating, (seen, unit) in asked.items():
            limit = spread_of(self.passes, rating).high
            may = self.task.bears(self.passes, rating)
            if seen > may:
                raise Unserved(
                    f"{show(seen, unit)} are too much for a {self.passes.name}: of its "
                    f"{show(limit, unit)} {show(may, unit)} may be used"
                )


@dataclass(frozen=True)
class OutboardFront(Front):
    """Fuse, transistor with its resistors, and what is left for the regulator."""

    bypass: Bypass
    source: Feed
    """Ahead of both."""

    @property
    def wholly(self) -> Feed:
        return self.source

    def asks(self, rail: Output) -> Output:
        least = min(rail.current.min, self.bypass.share)
        return replace(rail, current=Range(least, self.bypass.share))

    def fitted(self, regulator: Regulator) -> Draw:
        bypass, task = self.bypass, self.bypass.task
        if "quiescent_current" in regulator.place.entry.values:
            bypass.rests(spread_of(regulator.place.entry, "quiescent_current").high)
        whole = bypass.current + regulator.own_current
        loss = bypass.current * (self.source.loaded - regulator.setting.lowest)
        limit = task.hottest(bypass.passes)
        hottest = task.need.surroundings.ambient.max
        rated = spread_of(bypass.passes, "rated_power").high
        may = task.bears(bypass.passes, "rated_power")
        if loss > may:
            raise Unserved(
                f"the {bypass.passes.name} would lose {show(loss, 'W')}; of its "
                f"{show(rated, 'W')} {show(may, 'W')} may be used"
            )
        fused = input_fuse(task, whole, RESERVOIR)
        spare = regulator.headroom(fuse_drop(task, fused, whole))
        spare -= regulator.setting.reach - regulator.setting.highest
        series = series_diode(task, whole, spare)
        try:
            cooling = coolings(task.catalogue, bypass.passes, loss, hottest, limit)[0]
        except Unserved as unserved:
            told = f"the {bypass.passes.name} beside it: {unserved.reason}"
            raise Unserved(told, reached=6) from unserved
        out = task.terminals(regulator.place.rail.name).plus
        least = max(BYPASSED, window_of(regulator.place.entry, "input_capacitance")[0])
        told = f"at least {show(least, 'F')} at the pin of the regulator (datasheet)"
        dielectric = "class-2" if least < LARGE else "electrolytic"
        held = capacitor(task, dielectric, least, self.source.high, told)
        why = f"{show(RESERVOIR, 'F')} damp the coil of the leads (common practice)"
        damps = capacitor(task, "electrolytic", RESERVOIR, self.source.high, why)
        driven, raw, ground = self.feed.net, self.source.net, self.feed.ground

        def draw(sheet: Sheet) -> None:
            draw_direct_input(task, sheet, fused, series, raw)
            pins = {"plus": raw, "minus": ground}
            sheet.add("C", "capacitor", "input", pins, damps.why, use=damps.entry.name)
            _draw_bypass(sheet, bypass, raw, driven, out, loss, cooling.why)
            tab, sink = task.inner(PASS_TAB), task.inner(PASS_SINK)
            draw_cooling(sheet, cooling, tab, sink, BLOCK)
            pins = {"plus": driven, "minus": ground}
            sheet.add("C", "capacitor", "input", pins, held.why, use=held.entry.name)
            if regulator.setting.current < LEAKS:
                _draw_bleeder(sheet, bypass, out, ground, regulator.setting)

        return draw


BYPASSED, LARGE = 330e-9, 2e-6
"""F, least at the regulator's input; from there on electrolytic capacitors are taken."""


def _draw_bypass(
    sheet: Sheet, bypass: Bypass, raw: str, driven: str, out: str, loss: float, cooled: str
) -> None:
    task, sensed = bypass.task, bypass.task.inner(SENSED)
    current, sense = bypass.current, bypass.sense
    limit, told = show(bypass.bound, "A"), show(current, "A")
    why = (
        f"{told} x {show(sense, 'Ω')} leave the transistor that guards alone; in a short it "
        f"holds {limit} at most (application notes of the 78xx types: Rsc = Vbe / Isc)"
    )
    ends = {"one": raw, "two": sensed}
    value = show(sense, "Ω", 4)
    sheet.add("R", "resistor", BLOCK, ends, why, use=bypass.shunt.name, resistance=value)
    gain = f"{bypass.gain:.0f}"
    why = (
        f"beta Vbe / (Ireg (beta + 1) - Iout), with the drop of the shunt: {show(bypass.drop, 'V')}"
        f" make {show(bypass.share, 'A')} of the regulator's current with a gain of {gain} at "
        "least (application notes of the 78xx types)"
    )
    power = bypass.drop**2 / bypass.across
    use = resistor(task, power, bypass.tolerance).name
    ends = {"one": raw, "two": driven}
    value = show(bypass.across, "Ω", 4)
    sheet.add("R", "resistor", BLOCK, ends, why, use=use, resistance=value)
    why = (
        f"carries {told}, all but the regulator's share; loses at most {show(loss, 'W')}: {cooled}"
    )
    pins = {"emitter": sensed, "base": driven, "collector": out, "case": task.inner(PASS_TAB)}
    entry = bypass.passes
    sheet.add("Q", entry.kind, BLOCK, pins, why, use=entry.name)
    why = f"takes the drive away when {limit} flow: from then on the regulator's own limit counts"
    pins = {"emitter": raw, "base": sensed, "collector": driven}
    entry = bypass.guard
    sheet.add("Q", entry.kind, BLOCK, pins, why, use=entry.name)


def _draw_bleeder(sheet: Sheet, bypass: Bypass, out: str, ground: str, setting: Setting) -> None:
    ohms = bracket(setting.lowest / LEAKS, bypass.task.need.parts.series)[0]
    why = (
        f"{show(setting.lowest, 'V')} / {show(LEAKS, 'A')}: takes what the transistor lets through "
        "when the load takes nothing (common practice)"
    )
    power = setting.highest**2 / ohms
    use = resistor(bypass.task, power, bypass.tolerance).name
    ends = {"one": out, "two": ground}
    sheet.add("R", "resistor", BLOCK, ends, why, use=use, resistance=show(ohms, "Ω", 4))


class OutboardLinear(Linear):
    """The regulator gives the voltage, a transistor beside it most of the current."""

    name = "linear with outboard transistor"
    gives_up = "needs a transistor's base voltage more at its input; all too much becomes heat"
    means = (FIXED, ADJUSTABLE)

    def fronts(self, task: Task, rail: Output) -> Sequence[Front]:
        source = DirectFront.of(task).feed
        stays_below(task, rail, source.low)
        for alone in (FixedLinear(), AdjustableLinear()):
            if not isinstance(alone.offer(task), Refusal):
                raise Unserved(f"a regulator alone carries {show(rail.current.max, 'A')} here")
        current = sized_for(rail)
        guards = [e for e in _pnp(task) if spread_of(e, "collector_current").high >= LEAST_GUARD]
        found: list[Front] = []
        refused: list[Unserved] = []
        for share in SHARES:
            for entry in _pnp(task):
                bypass = Bypass(task, entry, guards[0], current, share)
                try:
                    bypass.judge(source.high - rail.voltage.min)
                    found.append(_front(bypass, source))
                except Unserved as unserved:
                    refused.append(unserved)
        if not found:
            raise refused[-1]  # of the strongest, with the largest share
        return found


def _pnp(task: Task) -> list[Entry]:
    """Transistors of this polarity for power, the cheapest and smallest first."""
    kinds = of_kind(task.catalogue, "bipolar-transistor", "darlington-transistor")
    found = [
        entry for entry in kinds if entry.options.get("polarity") == "pnp" and "case" in entry.pins
    ]
    return sorted(found, key=lambda e: (price_of(e), spread_of(e, "collector_current").high))


def _front(bypass: Bypass, source: Feed) -> OutboardFront:
    assert bypass.across
    assert bypass.shunt
    net = bypass.task.inner(DRIVEN)
    low, nominal = (volts - bypass.drop for volts in (source.low, source.nominal))
    own = Feed(net, source.ground, low, nominal, source.high, source.loaded)
    return OutboardFront(own, bypass, source)
