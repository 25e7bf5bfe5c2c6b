"""A switching stage of one voltage: regulator, coil, diode, capacitors, sized from limits.

What feeds it may be the input of the supply or a rail before it, and so what it feeds. Which way
switch, coil and diode are joined, a file for each way says.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import ClassVar, Literal

from railwright.architectures.architecture import (
    Task,
    Unserved,
)
from railwright.architectures.direct_input import (
    RESERVOIR,
    draw_direct_input,
    fuse_drop,
    input_fuse,
)
from railwright.architectures.enabling import enabled
from railwright.architectures.front import Draw
from railwright.architectures.legs import BOARD, bearing, trim, variables
from railwright.architectures.mains_input import MainsFront
from railwright.architectures.reaching import Reaching
from railwright.architectures.regulator import ACCURACY, Feed
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import bears, capacitor, rated_for, window_of
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.cooling import Cooling, coolings
from railwright.architectures.sizing.diodes import diode
from railwright.architectures.sizing.divider import (
    NARROW,
    AdjustableLeg,
    Divider,
    Inaccurate,
    Pin,
    adjustable_leg,
    divider,
    other_leg,
)
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor, tolerance_of
from railwright.catalogue.coils import coils
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable
from railwright.quantity import Spread, show
from railwright.standards.stages import Coil, Fit, Stage, choose, envelope

SWITCH, FEEDBACK, SWITCHER_TAB = "SW", "SWITCHER_FB", "SWITCHER_TAB"
"""Nets inside."""
MOST_SIZES = 2
"""Output capacitors and sinks that are tried."""
TRIM = 0.01
"""Of the voltage, by which a trimmer reaches beyond it on both sides."""
LEG = "SWITCHER_LEG"
"""Net between the fixed part of a leg and its trimmer."""
MOST_ACROSS = 2e3
"""Ω at most across the reference: what the feedback pin takes does not count beside it (datasheets
of step-down regulators have 1 to 5 kΩ)."""
RIPPLES = 0.4, 0.2, 0.1, 0.8, 1.6
"""Of the full load, peak to peak, is the ripple of the coil at most: the first where there is a
coil for it and a capacitor beside that (common practice), else the next; up to 2 the conduction
stays continuous."""
LIGHT = 0.1, 0.2, 0.4
"""Of the regulator's rating: where the load is less and there is no coil for it, the coil is sized
for this, and rests in each period (discontinuous conduction)."""
LEADS = 220e-12, 470e-12, 1e-9, 2.2e-9, 4.7e-9, 10e-9
"""F across the upper leg, where the loop is short of phase without (datasheets of step-down
regulators with their compensation inside advise it for higher outputs)."""
SLOWEST = 0.02
"""Of its clock, where the loop's gain is one in the slowest of such stages (common practice)."""
SHARE = 0.01
"""Of the output, peak to peak, where the need says nothing of ripple (common practice)."""
EDGES = 1e-6
"""F, ceramic, at the pins of the regulator, for the edges (common practice)."""
BESIDE = 1e-6
"""F, left to what the rail feeds, at whose pins there is a ceramic too."""
ROUNDED = 0.005
"""By what a published window may be exceeded, since its bounds have two digits."""
DIODE = 0.5
"""V, drop of the freewheel diode for sizes; a Schottky one has less or little more."""


@dataclass(frozen=True)
class Pulses:
    """What a stage pushes through the capacitor at its output in a cycle, at worst."""

    step: float
    """A, from top to bottom."""
    charge: float
    """A s, to and fro."""
    rms: float
    """A."""


@dataclass(frozen=True)
class Held:
    """What holds the output, and the loop with it."""

    entry: Entry
    """The output capacitor."""
    margin: float
    """Phase that the loop has left [°]."""
    lead: float
    """F across the upper leg; nil: none."""


@dataclass(frozen=True)
class SwitchingStage:
    """A switching regulator between a feed and a rail."""

    style: ClassVar[Literal["step-down", "step-up", "inverting"]]
    control: ClassVar[str]
    """How the regulators work whose loop is sized here."""
    leads: ClassVar[Sequence[float]] = ()
    """F across the upper leg that may be tried where the loop is short of phase."""
    holding: ClassVar[Sequence[str]] = ("electrolytic",)
    """Dielectrics of the output capacitor."""

    task: Task
    rail: Output
    """Its nets are named."""
    entry: Entry
    feed: Feed
    trims: bool = False
    """Whether a trimmer may set its voltage where fixed legs are not accurate enough."""
    resistive: bool = True
    """Whether the load takes more of more volts."""
    mains: MainsFront | None = None
    """What feeds it where the input alternates; else it is a direct source behind a fuse."""

    @property
    def carried(self) -> float:
        """Greatest mean current of its switch while it is on [A]."""
        raise NotImplementedError(type(self).__name__)

    def judge(self) -> None:
        """Unserved where current or voltage are beyond it."""
        raise NotImplementedError(type(self).__name__)

    def reaches(self, lowest: float) -> None:
        """Unserved where its duty does not suffice at the lowest voltage ahead of it [V]."""
        raise NotImplementedError(type(self).__name__)

    def stage(self, lost: float) -> Stage:
        """Its coil's job, `lost` before it [V]; Unserved where its duty does not suffice."""
        lowest = self.feed.low - lost
        self.reaches(lowest)
        return Stage(
            self.style,
            (lowest, self.feed.high),
            (self.legs.low, self.legs.high),
            self.drawn,
            spread_of(self.entry, "frequency").low,
            self.switch_drop,
            DIODE,
        )

    def least_inductance(self, stage: Stage) -> float:
        """What its control asks of the coil, beside ripple and window [H]."""
        return 0.0

    def acting(self, coil: Coil, stage: Stage) -> Coil:
        """What a coil of the catalogue does in its place: itself, where there is but one."""
        return coil

    def loss(self, stage: Stage) -> float:
        """Greatest loss of the regulator [W]: conduction, edges, its own current."""
        raise NotImplementedError(type(self).__name__)

    def taken_in_pulses(self, stage: Stage, fit: Fit) -> tuple[float, str]:
        """Effective current through the capacitor at its input [A], and its formula."""
        raise NotImplementedError(type(self).__name__)

    def freewheeling(self) -> tuple[float, float, str]:
        """Mean current [A] and reverse voltage [V] of its diode, and the formula."""
        raise NotImplementedError(type(self).__name__)

    def given(self, stage: Stage, fit: Fit) -> Pulses:
        """What goes through the capacitor at its output."""
        raise NotImplementedError(type(self).__name__)

    @property
    def taken(self) -> float:
        """From what feeds it, at most [A]."""
        raise NotImplementedError(type(self).__name__)

    def margin(self, fit: Fit, capacitor: Entry, lead: float) -> float:
        """Least phase margin over the range, with a lead [F] or none, all else typical [°].

        How far the loop of a type spreads is not published: its windows count beside this.
        """
        raise NotImplementedError(type(self).__name__)

    def alternates(self, fit: Fit, capacitor: Entry) -> float:
        """What a cycle leaves at most of a disturbance that swings to and fro, all else typical."""
        return 0.0

    def misled(self, capacitor: Entry) -> float:
        """How far the ripple across a capacitor at its output may mislead its control; nil: not."""
        return 0.0

    def joined(self, switch: str, out: str) -> tuple[Mapping[str, str], Mapping[str, str]]:
        """Nets of the diode and of the coil."""
        raise NotImplementedError(type(self).__name__)

    def draw_between(self, sheet: Sheet, block: str, switch: str, sized: SizedStage) -> None:
        """What else lies between switch and diode."""

    def told(self, stage: Stage, fit: Fit) -> str:
        """What the coil does, the formula with numbers."""
        raise NotImplementedError(type(self).__name__)

    def sized(self) -> list[SizedStage]:
        """Ways to size it, the best output capacitor and the smallest sink first.

        Unserved where there is none.
        """
        if self.entry.options.get("control") != self.control:
            raise Unserved("its compensation is not sized here")
        with Reaching(1):
            self.judge()
            self._quiet()
            enabling = enabled(self.task, self.entry, self.feed)
        with Reaching(4):
            lost, ahead = self._ahead(self.taken)
        stage = self.stage(lost)
        fit, outputs = self.filtered(stage)
        with Reaching(7):
            inputs, freewheel = self.inputs(stage, fit), self.freewheel()
            if self.mains is None:
                _, ahead = self._ahead(self._effective(stage, fit, inputs[0].entry))
            return [
                SizedStage(self, ahead, stage, fit, inputs, freewheel, output, cooling, enabling)
                for output in outputs[:MOST_SIZES]
                for cooling in self.coolings(stage)[:MOST_SIZES]
            ]

    def _effective(self, stage: Stage, fit: Fit, capacitor: Entry) -> float:
        """Effective current of what stands before it [A], with the pulses past its capacitor.

        These share out by the resistances of the capacitor and of the source; what a cable's coil
        keeps back of them is not counted on.
        """
        pulses, _ = self.taken_in_pulses(stage, fit)
        own = spread_of(capacitor, "esr").high
        return math.hypot(self.taken, pulses * own / (own + self.task.need.input.resistance))

    def _ahead(self, current: float) -> tuple[float, Draw]:
        """What is lost before it [V] at a current, and what draws what stands there."""
        task, feed = self.task, self.feed
        if self.mains is not None:
            return 0.0, self.mains.carrying(current)
        least = max(RESERVOIR, window_of(self.entry, "input_capacitance")[0])
        fused = input_fuse(task, current, least)

        def draw(sheet: Sheet) -> None:
            draw_direct_input(task, sheet, fused, None, feed.net)

        return fuse_drop(task, fused, current), draw

    def _quiet(self) -> None:
        """Unserved where its reference alone makes more noise than is allowed.

        The legs enlarge it as they do its voltage, up to where the loop's gain is one.
        """
        if self.rail.noise is None:
            return
        band = SLOWEST * spread_of(self.entry, "frequency").low
        density = spread_of(self.entry, "noise_voltage").high
        made = density / self.share * (0.5 * math.pi * band) ** 0.5
        if made > self.task.kept * self.rail.noise:
            raise Unserved(
                f"{show(made, 'V')} of noise reach the output at worst, from its reference alone; "
                f"{show(self.rail.noise, 'V')} are allowed",
                reached=4,
            )

    @property
    def out(self) -> str:
        """Net of its output."""
        assert self.rail.nets is not None
        return self.rail.nets.plus

    def held(self) -> Mapping[str, str]:
        """Pins of the capacitor at its output."""
        return {"plus": self.out, "minus": self.feed.ground}

    @property
    def volts(self) -> float:
        """What it gives [V]."""
        return self.rail.voltage.max

    @property
    def settings(self) -> Sequence[float]:
        """Ends of what it gives [V]."""
        return (self.volts,)

    @cached_property
    def legs(self) -> Divider:
        """The divider, as it is or as it is trimmed; Unserved where it cannot be near enough."""
        volts, found = self.volts, self.trimmed
        if found is None:
            return self._fixed
        typical = other_leg(self._pin.reference.typical, 0.0, found.across, volts)
        return Divider(found.across, typical, volts, volts, volts)

    @property
    def share(self) -> float:
        """What a change of its output makes of a change at the feedback pin."""
        return self.legs.across / (self.legs.across + self.legs.other)

    @cached_property
    def trimmed(self) -> AdjustableLeg | None:
        """The leg with a trimmer, where fixed ones are not accurate enough and one may be used."""
        try:
            assert self._fixed
        except Inaccurate:
            if not self.trims:
                raise
        else:
            return None
        low, high = (1.0 - TRIM) * self.volts, (1.0 + TRIM) * self.volts
        return adjustable_leg(
            self._pin,
            low,
            high,
            variables(self.task, self.rail, low, high, BOARD),
            MOST_ACROSS,
            self.task.need.parts.series,
            tolerance_of(self._grade),
            bearing(self.task),
        )

    @cached_property
    def _fixed(self) -> Divider:
        allowed = (self.rail.accuracy or ACCURACY) * self.task.kept
        tolerance, series = tolerance_of(self._grade), self.task.need.parts.series
        return divider(self._pin, self.volts, MOST_ACROSS, series, tolerance, allowed)

    @property
    def _pin(self) -> Pin:
        """Its feedback pin; Unserved where the rail is below its reference."""
        current = spread_of(self.entry, "feedback_current")
        reference = spread_of(self.entry, "reference")
        if self.volts < reference.high:
            raise Unserved(
                f"{show(self.volts, 'V')} are below its reference of up to "
                f"{show(reference.high, 'V')}"
            )
        return Pin(reference, Spread.limits(0.0, current.typical, current.high))

    @property
    def _grade(self) -> Entry:
        reference = spread_of(self.entry, "reference").high
        power = reference * max(self.volts, reference) / (MOST_ACROSS / NARROW)
        tolerance = self.task.need.parts.resistor_tolerance or USUAL_TOLERANCE
        return resistor(self.task, power, tolerance)

    @property
    def resistor(self) -> str:
        """Name of the resistors of its divider."""
        return self._grade.name

    @property
    def drawn(self) -> float:
        """Greatest load [A]."""
        more = max(1.0, self.legs.high / self.volts) if self.resistive else 1.0
        return self.rail.current.max * more

    @property
    def switch_drop(self) -> float:
        """Over the switch at full load, at most [V]."""
        fixed, slope = (
            spread_of(self.entry, name).high for name in ("saturation_voltage", "switch_resistance")
        )
        return fixed + slope * self.carried

    def withstands(self) -> None:
        """Unserved where the input is beyond its supply on either side."""
        entry, highest = self.entry, self.feed.high
        limit = spread_of(entry, "supply_maximum").high
        if highest > self.task.bears(entry, "supply_maximum"):
            raise Unserved(
                f"it would see {show(highest, 'V')}; of its {show(limit, 'V')} "
                f"{show(self.task.share(entry, 'supply_maximum'), '1')} may be used",
                reached=3,
            )
        least = spread_of(entry, "supply_minimum").high
        if self.feed.low < least:
            raise Unserved(
                f"{show(self.feed.low, 'V')} are too little: it works from {show(least, 'V')} on",
                reached=3,
            )

    def beyond(self, duty: float, lowest: float) -> None:
        """Unserved where a duty at the lowest voltage ahead of it [V] is more than it makes."""
        may = spread_of(self.entry, "duty_limit").low * (1.0 - 0.5 * self.task.need.parts.reserve)
        if duty > may:
            raise Unserved(
                f"at {show(lowest, 'V')} in, {show(self.switch_drop, 'V')} over its switch and "
                f"{show(self.legs.high, 'V')} out it would have to be on for {show(duty, '1')} of "
                f"the time; {show(may, '1')} may be used",
                reached=5,
            )

    def filtered(self, stage: Stage) -> tuple[Fit, list[Held]]:
        """The coil with the least ripple beside which there are output capacitors, and those.

        Unserved where there is none.
        """
        refused: list[Unserved] = []
        for load, ratio in self._swings(stage):
            try:
                fit = self.coil(replace(stage, load=load), ratio)
                return fit, self.outputs(fit, stage)
            except Unserved as unserved:
                refused.append(unserved)
        raise max(refused, key=lambda each: each.reached)

    def _swings(self, stage: Stage) -> Iterator[tuple[float, float]]:
        """Loads for which a coil may be sized [A], and its ripple as a share of them."""
        yield from ((stage.load, ratio) for ratio in RIPPLES)
        for share in LIGHT:
            load = share * rated_of(self.entry)
            if load > stage.load:
                yield load, RIPPLES[-1]

    @property
    def most_of_peaks(self) -> float:
        """Peak of the coil's current that may be used [A]."""
        return self.task.kept * spread_of(self.entry, "current_limit").low

    def coil(self, stage: Stage, ratio: float) -> Fit:
        """The least coil that holds a ripple ratio; Unserved where the catalogue has none."""
        low, high = window_of(self.entry, "inductance")
        least = self.least_inductance(stage)
        within = {
            name: entry
            for name, entry in self.task.catalogue.items()
            if entry.kind == "inductor"
            and "inductance" in entry.values
            and low <= spread_of(entry, "inductance").typical <= high
        }
        acting = [self.acting(self._borne(coil), stage) for coil in coils(within)]
        try:
            fit = choose(stage, [coil for coil in acting if coil.inductance >= least], ratio)
        except ValueError as error:
            raise Unserved(
                f"no coil of the catalogue holds a ripple of {show(ratio, '1')} of "
                f"{show(stage.load, 'A')} and bears it",
                reached=6,
            ) from error
        self._lets_act(fit, stage)
        peak = self.most_of_peaks
        if fit.peak > peak:
            raise Unserved(
                f"the coil's peaks of {show(fit.peak, 'A')} come to its limits; {show(peak, 'A')} "
                "may be used",
                reached=6,
            )
        return fit

    def _borne(self, coil: Coil) -> Coil:
        """A coil by what may be used of its ratings."""
        entry, task = self.task.catalogue[coil.name], self.task
        return replace(
            coil,
            saturation_current=task.share(entry, "saturation_current") * coil.saturation_current,
            rated_current=task.share(entry, "rated_current") * coil.rated_current,
        )

    def _lets_act(self, fit: Fit, stage: Stage) -> None:
        """Unserved where its cycles end before what a guard behind it acts on."""
        overload = self.rail.overload
        wanted = 0.0 if overload is None else overload.act_by or 0.0
        peak, limit = fit.peak * wanted / stage.load, spread_of(self.entry, "current_limit").low
        if peak > limit:
            raise Unserved(
                f"a guard behind it acts at up to {show(wanted, 'A')}, where the coil peaks at "
                f"{show(peak, 'A')}; its cycles may end at {show(limit, 'A')}",
                reached=6,
            )

    def coolings(self, stage: Stage) -> list[Cooling]:
        """Ways to keep it cool enough, the smallest first; its tab is its ground: no pad."""
        task, entry = self.task, self.entry
        limit = task.hottest(entry)
        around, loss = task.need.surroundings, self.loss(stage)
        touched = around.touch_limit is not None
        hottest = around.ambient.max
        return coolings(
            task.catalogue, entry, loss, hottest, limit, insulated=False, touched=touched
        )

    def inputs(self, stage: Stage, fit: Fit) -> tuple[Choice, ...]:
        """The capacitor that takes the pulses, and the one for the edges."""
        pulses, formula = self.taken_in_pulses(stage, fit)
        least, highest = window_of(self.entry, "input_capacitance")[0], self.feed.high
        least = max(least, RESERVOIR)
        found = [
            entry
            for entry in of_kind(self.task.catalogue, "capacitor")
            if entry.options.get("dielectric") == "electrolytic"
            and spread_of(entry, "capacitance").typical >= least
            and bears(self.task, entry) >= highest
            and self.task.kept * spread_of(entry, "rated_ripple").low >= pulses
        ]
        if not found:
            raise Unserved(
                f"no electrolytic capacitor that may see {show(highest, 'V')} takes pulses of "
                f"{show(pulses, 'A')}"
            )
        best = min(found, key=lambda e: (price_of(e), spread_of(e, "capacitance").typical))
        promised = spread_of(best, "rated_ripple").low
        why = (
            f"{formula} = {show(pulses, 'A')} of {show(promised, 'A')}; "
            f"{rated_for(self.task, best, highest)}"
        )
        edges = f"{show(EDGES, 'F')} at the pins of the regulator, for the edges (common practice)"
        ceramic = capacitor(self.task, "class-2", EDGES, highest, edges)
        return Choice(best, why), ceramic

    def freewheel(self) -> Choice:
        """The diode; Schottky, since the switch turns on into it."""
        current, reverse, why = self.freewheeling()
        return diode(self.task, current, reverse, why, schottky=True)

    def outputs(self, fit: Fit, stage: Stage) -> list[Held]:
        """Output capacitors that hold ripple and loop, the best first; Unserved without one."""
        low, high = window_of(self.entry, "output_capacitance")
        _, most = window_of(self.entry, "output_series_resistance")
        pulses, kept = self.given(stage, fit), self.task.kept
        allowed = kept * (self.rail.ripple or SHARE * self.volts)
        wanted = self.task.need.parts.phase_reserve
        quiet = []
        for entry in of_kind(self.task.catalogue, "capacitor"):
            if entry.options.get("dielectric") not in self.holding:
                continue
            farads, esr = spread_of(entry, "capacitance"), spread_of(entry, "esr")
            if not low <= farads.typical <= (1.0 + ROUNDED) * high - BESIDE or esr.high > most:
                continue
            ripple = pulses.step * esr.high + pulses.charge / farads.low
            rated = bears(self.task, entry) >= self.legs.high
            promised = entry.values.get("rated_ripple")
            takes = promised is None or pulses.rms <= kept * promised.spread.low
            alike = self.alternates(fit, entry) <= kept
            if ripple <= allowed and rated and takes and alike:
                quiet.append(entry)
        for leads in ((0.0,), self.leads):
            stable = list(filter(None, (self._held(fit, each, leads, wanted) for each in quiet)))
            if stable:
                return sorted(stable, key=self._worth)
        raise Unserved(
            f"no {' or '.join(self.holding)} capacitor of the catalogue within {show(low, 'F')} to "
            f"{show(high, 'F')} holds a ripple of {show(pulses.step, 'A')} to "
            f"{show(allowed, 'V')}, keeps its cycles alike and leaves the loop {wanted:.0f}°",
            reached=7,
        )

    def _worth(self, held: Held) -> tuple[float, int, float]:
        """Place of an output capacitor among others that would do, the best first."""
        return self.misled(held.entry), price_of(held.entry), -held.margin

    def _held(
        self, fit: Fit, capacitor: Entry, leads: Sequence[float], wanted: float
    ) -> Held | None:
        """An output capacitor with the least lead [F] that leaves the loop enough phase [°]."""
        for lead in leads:
            margin = self.margin(fit, capacitor, lead)
            if margin >= wanted:
                return Held(capacitor, margin, lead)
        return None

    def draw_setting(
        self, sheet: Sheet, block: str, out: str, feedback: str
    ) -> tuple[NewTable, ...]:
        """The divider, from the output to the feedback pin and from there to the ground."""
        leg = self.trimmed

        def add(one: str, two: str, ohms: float, why: str) -> None:
            pins, value = {"one": one, "two": two}, show(ohms, "Ω", 4)
            sheet.add("R", "resistor", block, pins, why, use=self.resistor, resistance=value)

        if leg is None:
            add(out, feedback, self.legs.other, self.legs.words)
            add(feedback, self.feed.ground, self.legs.across, self.legs.words)
            return ()
        start = out
        if leg.fixed:
            start = self.task.inner(LEG)
            add(out, start, leg.fixed, "keeps the lower end stop from going further down")
        why = (
            f"trims the output to {show(self.volts, 'V', 6)}: reference and legs are within its "
            f"reach; turned up it may give {show(leg.top, 'V')}"
        )
        pins = {"one": start, "wiper": feedback, "two": feedback}
        ref = sheet.add("RV", "potentiometer", block, pins, why, use=leg.variable.name)
        reference = spread_of(self.entry, "reference")
        told = f"{show(reference.low, 'V')} to {show(reference.high, 'V')} across it"
        add(feedback, self.feed.ground, leg.across, told)
        return (trim(ref, self.rail),)


@dataclass(frozen=True)
class SizedStage:
    """A switching stage whose parts are chosen."""

    own: SwitchingStage
    ahead: Draw
    stage: Stage
    fit: Fit
    inputs: tuple[Choice, ...]
    freewheel: Choice
    output: Held
    cooling: Cooling
    enabling: dict[str, str]

    def draw(self, sheet: Sheet, block: str) -> tuple[NewTable, ...]:
        """All of it, from the input to the output capacitor; the control of its trimmer."""
        own, task, feed = self.own, self.own.task, self.own.feed
        switch, feedback = task.inner(SWITCH), task.inner(FEEDBACK)
        self.ahead(sheet)
        for chosen in self.inputs:
            pins = {"plus": feed.net, "minus": feed.ground}
            sheet.add("C", "capacitor", "input", pins, chosen.why, use=chosen.entry.name)
        tab = task.inner(SWITCHER_TAB)
        case = {"case": tab} if self.cooling.sink is not None else {}
        pins = {"input": feed.net, "switch": switch, "ground": feed.ground, "feedback": feedback}
        pins |= self.enabling | case
        sheet.add("U", own.entry.kind, block, pins, self._regulator, use=own.entry.name)
        diode_ends, coil_ends = own.joined(switch, own.out)
        freewheel = self.freewheel
        sheet.add("D", "diode", block, diode_ends, freewheel.why, use=freewheel.entry.name)
        sheet.add("L", "inductor", block, coil_ends, self._coil, use=self.fit.coil.name)
        own.draw_between(sheet, block, switch, self)
        sheet.add("C", "capacitor", block, own.held(), self._held, use=self.output.entry.name)
        controls = own.draw_setting(sheet, block, own.out, feedback)
        self._draw_lead(sheet, block, own.out, feedback)
        draw_cooling(sheet, self.cooling, tab, tab, block)
        return controls

    def _draw_lead(self, sheet: Sheet, block: str, out: str, feedback: str) -> None:
        """The capacitor across the upper leg, where there is one."""
        lead, own = self.output.lead, self.own
        if not lead:
            return
        corner = 1.0 / (2.0 * math.pi * own.legs.other * lead)
        why = f"lead from {show(corner, 'Hz')} on, for the phase of the loop"
        chosen = capacitor(own.task, "class-1", lead, own.legs.high, why)
        pins = {"plus": out, "minus": feedback}
        sheet.add("C", "capacitor", block, pins, chosen.why, use=chosen.entry.name)

    @property
    def _regulator(self) -> str:
        own, entry = self.own, self.own.entry
        limit = show(spread_of(entry, "current_limit").low, "A")
        return (
            f"{show(own.carried, 'A')} of {show(rated_of(entry), 'A')}; peaks of "
            f"{show(self.fit.peak, 'A')}, cycles end at {limit} at least; loses at most "
            f"{show(own.loss(self.stage), 'W')} (conduction, edges, its own): {self.cooling.why}"
        )

    @property
    def _rests(self) -> str:
        """How much the ripple is, or that the current rests."""
        if not envelope(self.stage, self.fit.coil.inductance).continuous:
            return ", so that its current rests in each period"
        return f", at most {show(self.fit.ripple_ratio, '1')} of its mean"

    @property
    def _coil(self) -> str:
        fit, stage = self.fit, self.stage
        return (
            f"{self.own.told(stage, fit)}{self._rests} (Erickson and Maksimovic); "
            f"{show(fit.rms, 'A')} of {show(fit.coil.rated_current, 'A')}, "
            f"peaks of {show(fit.peak, 'A')} of {show(fit.coil.saturation_current, 'A')}"
        )

    @property
    def _held(self) -> str:
        held, step = self.output, self.own.given(self.stage, self.fit).step
        esr = spread_of(held.entry, "esr").high
        return (
            f"{show(step, 'A')} in at most {show(esr, 'Ω')} make the ripple; its series "
            f"resistance leaves the loop {held.margin:.0f}° (typical)"
        )


def rated_of(entry: Entry) -> float:
    """The current for which a regulator is sold [A]."""
    return spread_of(entry, "rated_current").high
