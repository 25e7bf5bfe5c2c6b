"""A step-down stage of one voltage: switch, coil, freewheel diode, capacitors, sized from limits.

What feeds it may be the input of the supply or a rail before it, and so what it feeds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial

from railwright.architectures.architecture import (
    Task,
    Unserved,
)
from railwright.architectures.direct_input import (
    draw_direct_input,
    fuse_drop,
    input_fuse,
)
from railwright.architectures.enabling import enabled
from railwright.architectures.legs import BOARD, bears, may_take, trim, variables
from railwright.architectures.reaching import Reaching
from railwright.architectures.regulator import ACCURACY, Feed
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import SPARE_VOLTAGE, capacitor, window_of
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.cooling import Cooling, coolings, hottest_allowed
from railwright.architectures.sizing.diodes import diode
from railwright.architectures.sizing.divider import (
    AdjustableLeg,
    Divider,
    Inaccurate,
    Pin,
    adjustable_leg,
    divider,
    other_leg,
)
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor, tolerance_of
from railwright.architectures.sizing.step_down_loop import Compensation, Filter, phase_margin
from railwright.catalogue.coils import coils
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable
from railwright.quantity import Spread, show
from railwright.standards.stages import Fit, Point, Stage, choose, envelope, waveform

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
RIPPLES = 0.4, 0.8, 1.6
"""Of the full load, peak to peak, is the ripple of the coil at most: the first where there is a
coil for it and a capacitor beside that (common practice), else the next; up to 2 the conduction
stays continuous."""
SHARE = 0.01
"""Of the output, peak to peak, where the need says nothing of ripple (common practice)."""
EDGES = 1e-6
"""F, ceramic, at the pins of the regulator, for the edges (common practice)."""
DIODE = 0.5
"""V, drop of the freewheel diode for sizes; a Schottky one has less or little more."""
LARGE = 1.0
"""H, of a coil without a ripple to speak of."""
FULL_EFFICIENCY = 0.7
"""Of what is taken reaches the load at least, for the fuse; its own sheet judges (common
practice)."""


@dataclass(frozen=True)
class StepDownStage:
    """A step-down regulator between a feed and a rail."""

    task: Task
    rail: Output
    """Its nets are named."""
    entry: Entry
    feed: Feed
    trims: bool = False
    """Whether a trimmer may set its voltage where fixed legs are not accurate enough."""

    def sized(self) -> list[SizedStepDown]:
        """Ways to size it, the best output capacitor and the smallest sink first.

        Unserved where there is none.
        """
        if self.entry.options.get("control") != "voltage-mode":
            raise Unserved("its compensation is not sized here")
        with Reaching(1):
            self.judge()
            enabling = enabled(self.task, self.entry, self.feed)
        with Reaching(4):
            least = window_of(self.entry, "input_capacitance")[0]
            fused = input_fuse(self.task, self.taken, least)
        stage = self.stage(fuse_drop(self.task, fused, self.taken))
        fit, outputs = self.filtered(stage)
        with Reaching(7):
            inputs, freewheel = self.inputs(), self.freewheel()
            return [
                SizedStepDown(self, fused, stage, fit, inputs, freewheel, output, cooling, enabling)
                for output in outputs[:MOST_SIZES]
                for cooling in self.coolings(stage)[:MOST_SIZES]
            ]

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
            partial(bears, self.task),
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
        power = self.volts**2 / (4.0 * MOST_ACROSS / 3.0)
        tolerance = self.task.need.parts.resistor_tolerance or USUAL_TOLERANCE
        return resistor(self.task.catalogue, power, tolerance, may_take(self.task))

    @property
    def resistor(self) -> str:
        """Name of the resistors of its divider."""
        return self._grade.name

    @property
    def drawn(self) -> float:
        """Greatest load [A]; a resistive one takes more of more volts."""
        return self.rail.current.max * max(1.0, self.legs.high / self.volts)

    @property
    def switch_drop(self) -> float:
        """Over the switch at full load, at most [V]."""
        fixed, slope = (
            spread_of(self.entry, name).high for name in ("saturation_voltage", "switch_resistance")
        )
        return fixed + slope * self.drawn

    @property
    def taken(self) -> float:
        """From what feeds it, at most [A]."""
        return self.legs.high * self.drawn / (FULL_EFFICIENCY * self.feed.low)

    def judge(self) -> None:
        """Unserved where current or voltage are beyond it."""
        task, entry, highest = self.task, self.entry, self.feed.high
        may = task.allowed("regulator", "output current") * _rated(entry)
        if self.drawn > may:
            raise Unserved(
                f"{show(self.drawn, 'A')} flow; of its {show(_rated(entry), 'A')} "
                f"{show(may, 'A')} may be used",
                reached=2,
            )
        limit = spread_of(entry, "supply_maximum").high
        if highest > task.kept * limit:
            raise Unserved(
                f"it would see {show(highest, 'V')}; of its {show(limit, 'V')} "
                f"{show(task.kept, '1')} may be used",
                reached=3,
            )
        least = spread_of(entry, "supply_minimum").high
        if self.feed.low < least:
            raise Unserved(
                f"{show(self.feed.low, 'V')} are too little: it works from {show(least, 'V')} on",
                reached=3,
            )

    def stage(self, lost: float) -> Stage:
        """Its coil's job, `lost` before it [V]; Unserved where its duty does not suffice."""
        lowest, out = self.feed.low - lost, self.legs.high
        full = lowest - self.switch_drop
        duty = (out + DIODE) / (full + DIODE) if full > 0 else math.inf
        may = spread_of(self.entry, "duty_limit").low * (1.0 - 0.5 * self.task.need.parts.reserve)
        if duty > may:
            raise Unserved(
                f"at {show(lowest, 'V')} in, {show(self.switch_drop, 'V')} over its switch and "
                f"{show(out, 'V')} out it would have to be on for {show(duty, '1')} of the time; "
                f"{show(may, '1')} may be used",
                reached=5,
            )
        return Stage(
            "step-down",
            (lowest, self.feed.high),
            (self.legs.low, self.legs.high),
            self.drawn,
            spread_of(self.entry, "frequency").low,
            self.switch_drop,
            DIODE,
        )

    def filtered(self, stage: Stage) -> tuple[Fit, list[tuple[Entry, float]]]:
        """The coil with the least ripple beside which there are output capacitors, and those.

        Unserved where there is none.
        """
        refused: list[Unserved] = []
        for ratio in RIPPLES:
            try:
                fit = self.coil(stage, ratio)
                return fit, self.outputs(fit, stage)
            except Unserved as unserved:
                refused.append(unserved)
        raise max(refused, key=lambda each: each.reached)

    def coil(self, stage: Stage, ratio: float) -> Fit:
        """The least coil that holds a ripple ratio; Unserved where the catalogue has none."""
        low, high = window_of(self.entry, "inductance")
        within = {
            name: entry
            for name, entry in self.task.catalogue.items()
            if entry.kind == "inductor"
            and "inductance" in entry.values
            and low <= spread_of(entry, "inductance").typical <= high
        }
        try:
            fit = choose(stage, coils(within), ratio)
        except ValueError as error:
            raise Unserved(
                f"no coil of the catalogue holds a ripple of {show(ratio, '1')} of "
                f"{show(self.drawn, 'A')} and bears it",
                reached=6,
            ) from error
        peak = self.task.kept * spread_of(self.entry, "current_limit").low
        if fit.peak > peak:
            raise Unserved(
                f"the coil's peaks of {show(fit.peak, 'A')} come to its limit; {show(peak, 'A')} "
                "may be used",
                reached=6,
            )
        return fit

    def loss(self, stage: Stage) -> float:
        """Greatest loss of the regulator [W]: conduction, edges, its own current."""
        entry = self.entry
        edge = spread_of(entry, "transition_time").high * spread_of(entry, "frequency").high
        own = spread_of(entry, "quiescent_current").high
        return max(
            waveform(stage, Point(volts, out), LARGE).duty * self.drawn * self.switch_drop
            + edge * volts * self.drawn
            + own * volts
            for volts in stage.input
            for out in self.settings
        )

    def coolings(self, stage: Stage) -> list[Cooling]:
        """Ways to keep it cool enough, the smallest first; its tab is its ground: no pad."""
        task, entry = self.task, self.entry
        limit = hottest_allowed(
            spread_of(entry, "junction_limit").high,
            task.derating.junction("regulator"),
            task.need.parts.junction_reserve,
        )
        hottest = task.need.surroundings.ambient.max
        loss = self.loss(stage)
        return coolings(task.catalogue, entry, loss, hottest, limit, insulated=False)

    def inputs(self) -> tuple[Choice, ...]:
        """The capacitor that takes the pulses, and the one for the edges."""
        least, most = self.legs.low / self.feed.high, self.legs.high / self.feed.low
        worst = min(max(0.5, least), most)  # the duty nearest to a half
        pulses = self.drawn * math.sqrt(worst * (1.0 - worst))
        least, highest = window_of(self.entry, "input_capacitance")[0], self.feed.high
        found = [
            entry
            for entry in of_kind(self.task.catalogue, "capacitor")
            if entry.options.get("dielectric") == "electrolytic"
            and spread_of(entry, "capacitance").typical >= least
            and spread_of(entry, "rated_voltage").high >= SPARE_VOLTAGE * highest
            and self.task.kept * spread_of(entry, "rated_ripple").low >= pulses
        ]
        if not found:
            raise Unserved(
                f"no electrolytic capacitor of {show(SPARE_VOLTAGE * highest, 'V')} takes pulses "
                f"of {show(pulses, 'A')}"
            )
        best = min(found, key=lambda e: (price_of(e), spread_of(e, "capacitance").typical))
        bears = spread_of(best, "rated_ripple").low
        why = (
            f"I x sqrt(D (1 - D)) = {show(pulses, 'A')} of {show(bears, 'A')}; "
            f"{show(spread_of(best, 'rated_voltage').high, 'V')} on at most {show(highest, 'V')}"
        )
        edges = f"{show(EDGES, 'F')} at the pins of the regulator, for the edges (common practice)"
        ceramic = capacitor(self.task.catalogue, "class-2", EDGES, highest, edges)
        return Choice(best, why), ceramic

    def freewheel(self) -> Choice:
        """The freewheel diode; Schottky, since the switch turns on into it."""
        task = self.task
        shares = (
            task.allowed("diode", "forward current"),
            task.allowed("diode", "reverse voltage"),
        )
        current = self.drawn * (1.0 - self.legs.low / self.feed.high)
        why = "carries the coil's current while the switch is off, in the mean I (1 - D)"
        return diode(task.catalogue, current, self.feed.high, shares, why, schottky=True)

    def outputs(self, fit: Fit, stage: Stage) -> list[tuple[Entry, float]]:
        """Output capacitors that hold ripple and loop, with their phase margin [°], best first."""
        low, high = window_of(self.entry, "output_capacitance")
        swing = envelope(stage, fit.coil.inductance).ripple
        allowed = self.task.kept * (self.rail.ripple or SHARE * self.volts)
        wanted = self.task.need.parts.phase_reserve
        found = []
        for entry in of_kind(self.task.catalogue, "capacitor"):
            if entry.options.get("dielectric") != "electrolytic":
                continue
            farads, esr = spread_of(entry, "capacitance"), spread_of(entry, "esr")
            margin = self._margin(fit, entry)
            quiet = swing * (esr.high + 1.0 / (8.0 * stage.frequency * farads.low)) <= allowed
            rated = spread_of(entry, "rated_voltage").high >= SPARE_VOLTAGE * self.legs.high
            bears = swing / math.sqrt(12.0) <= self.task.kept * spread_of(entry, "rated_ripple").low
            if low <= farads.typical <= high and quiet and rated and bears and margin >= wanted:
                found.append((entry, margin))
        if not found:
            raise Unserved(
                f"no electrolytic capacitor of the catalogue within {show(low, 'F')} to "
                f"{show(high, 'F')} holds a ripple of {show(swing, 'A')} to {show(allowed, 'V')} "
                f"and leaves the loop {wanted:.0f}°",
                reached=7,
            )
        return sorted(found, key=lambda each: (price_of(each[0]), -each[1]))

    def _margin(self, fit: Fit, capacitor: Entry) -> float:
        """The least phase margin over the input, all else typical [°].

        How far the loop of a type spreads is not published: its windows count beside this.
        """
        amplifier = Compensation(
            *(
                spread_of(self.entry, name).typical
                for name in ("gain", "compensation_pole", "compensation_zero")
            )
        )
        coil = self.task.catalogue[fit.coil.name]
        stages = [
            Filter(
                spread_of(coil, "inductance").typical,
                spread_of(coil, "winding_resistance").typical
                + spread_of(self.entry, "switch_resistance").typical,
                spread_of(capacitor, "capacitance").typical,
                spread_of(capacitor, "esr").typical,
                volts / self.drawn,
            )
            for volts in self.settings
        ]
        return min(
            phase_margin(amplifier, source, self.share, stage)
            for source in (self.feed.low, self.feed.high)
            for stage in stages
        )

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


def _rated(entry: Entry) -> float:
    return spread_of(entry, "rated_current").high


@dataclass(frozen=True)
class SizedStepDown:
    """A step-down stage whose parts are chosen."""

    own: StepDownStage
    fused: Choice
    stage: Stage
    fit: Fit
    inputs: tuple[Choice, ...]
    freewheel: Choice
    output: tuple[Entry, float]
    """Its capacitor, and the phase that the loop has left with it [°]."""
    cooling: Cooling
    enabling: dict[str, str]

    def draw(self, sheet: Sheet, block: str) -> tuple[NewTable, ...]:
        """All of it, from the fuse to the output capacitor; the control of its trimmer."""
        own, task, feed = self.own, self.own.task, self.own.feed
        nets = own.rail.nets
        assert nets is not None
        switch, feedback = task.inner(SWITCH), task.inner(FEEDBACK)
        draw_direct_input(task, sheet, self.fused, None, feed.net)
        for chosen in self.inputs:
            pins = {"plus": feed.net, "minus": feed.ground}
            sheet.add("C", "capacitor", "input", pins, chosen.why, use=chosen.entry.name)
        tab = task.inner(SWITCHER_TAB)
        case = {"case": tab} if self.cooling.sink is not None else {}
        pins = {"input": feed.net, "switch": switch, "ground": feed.ground, "feedback": feedback}
        pins |= self.enabling | case
        sheet.add("U", own.entry.kind, block, pins, self._regulator, use=own.entry.name)
        pins = {"anode": feed.ground, "cathode": switch}
        freewheel = self.freewheel
        sheet.add("D", "diode", block, pins, freewheel.why, use=freewheel.entry.name)
        pins = {"one": switch, "two": nets.plus}
        sheet.add("L", "inductor", block, pins, self._coil, use=self.fit.coil.name)
        pins = {"plus": nets.plus, "minus": feed.ground}
        sheet.add("C", "capacitor", block, pins, self._held, use=self.output[0].name)
        controls = own.draw_setting(sheet, block, nets.plus, feedback)
        draw_cooling(sheet, self.cooling, tab, tab, block)
        return controls

    @property
    def _most(self) -> float:
        """Ripple of the coil at the highest input [A]."""
        point = Point(self.stage.input[1], self.stage.output[1])
        return waveform(self.stage, point, self.fit.coil.inductance).ripple

    @property
    def _regulator(self) -> str:
        own, entry = self.own, self.own.entry
        limit = show(spread_of(entry, "current_limit").low, "A")
        return (
            f"{show(own.drawn, 'A')} of {show(_rated(entry), 'A')}; peaks of "
            f"{show(self.fit.peak, 'A')}, cycles end at {limit} at least; loses at most "
            f"{show(own.loss(self.stage), 'W')} (conduction, edges, its own): {self.cooling.why}"
        )

    @property
    def _coil(self) -> str:
        fit, stage = self.fit, self.stage
        return (
            f"E T / L: ripple of {show(self._most, 'A')} at {show(stage.input[1], 'V')} and "
            f"{show(stage.frequency, 'Hz')}, at most {show(fit.ripple_ratio, '1')} of the load "
            f"(Erickson and Maksimovic); {show(fit.rms, 'A')} of "
            f"{show(fit.coil.rated_current, 'A')}, peaks of {show(fit.peak, 'A')} of "
            f"{show(fit.coil.saturation_current, 'A')}"
        )

    @property
    def _held(self) -> str:
        held, margin = self.output
        return (
            f"{show(self._most, 'A')} in at most {show(spread_of(held, 'esr').high, 'Ω')} make the "
            f"ripple; its series resistance leaves the loop {margin:.0f}° (typical)"
        )
