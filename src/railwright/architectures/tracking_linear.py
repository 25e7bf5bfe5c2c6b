"""Step-down pre-regulator that stays a difference above an adjustable linear post-regulator.

A pnp transistor has its base at the output and its emitter, over R1, at the net between both; its
collector gives R2 the feedback: difference = Veb + Vfb R1/R2. The loop passes R2/R1 of the net
between on, more than a divider would.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import ClassVar

from railwright.architectures.adjustable_linear import ADJUSTABLE
from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.demands import stays_below
from railwright.architectures.direct_input import DirectFront
from railwright.architectures.front import Front, sized_for
from railwright.architectures.linear import Linear
from railwright.architectures.pre_regulated_linear import PRE, RIPPLE, SteppedFront
from railwright.architectures.regulator import Feed
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.base_voltage import base_voltage
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.divider import Divider
from railwright.architectures.sizing.resistors import tolerance_of
from railwright.architectures.step_down_stage import StepDownStage
from railwright.architectures.switching_stage import SizedStage
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output, Terminals
from railwright.circuit.tables import Range
from railwright.circuit.writer import NewTable
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import nearest

SHIFT = "SHIFT"
"""Net at the transistor's emitter."""
LOWER = 1e3
"""Ω of R2: a milliampere through the transistor (common practice, no source)."""
UPPERS = (680.0, 1e3, 1.2e3, 1.5e3, 1.8e3, 2.2e3, 2.7e3, 3.3e3)
"""Ω of R1, near which they are tried: from a volt and a half of difference to five."""
WARMER = 15.0
"""K above the hottest air is a small transistor on the board (common practice, no source)."""


@dataclass(frozen=True)
class TrackingStage(StepDownStage):
    """A step-down stage whose feedback is a level shift from the output of what it feeds."""

    leads: ClassVar[Sequence[float]] = ()

    shift: Entry | None = None
    """The transistor."""
    upper: float = 0.0
    """R1 [Ω]."""
    followed: Output | None = None
    """The rail above which it stays."""

    @property
    def settings(self) -> Sequence[float]:
        return (self.legs.low, self.legs.high)

    @cached_property
    def difference(self) -> Spread:
        """How far it stays above, at the limits of reference, resistors, transistor, warmth [V]."""
        assert self.shift is not None
        reference, base = spread_of(self.entry, "reference"), self._base
        off = tolerance_of(self._grade)
        off = (1.0 + off) / (1.0 - off)
        ratio = self.upper / LOWER
        gain = 1.0 + 1.0 / spread_of(self.shift, "current_gain").low
        return Spread.limits(
            base.low + reference.low * ratio / off,
            base.typical + reference.typical * ratio,
            base.high + reference.high * ratio * off * gain,
        )

    @property
    def _base(self) -> Spread:
        """Voltage of its base at the current of R2, over the ambient [V]."""
        assert self.shift is not None
        current = spread_of(self.entry, "reference").typical / LOWER
        ambient = self.task.need.surroundings.ambient
        return base_voltage(self.shift, current, ambient.min, ambient.max + WARMER)

    @cached_property
    def legs(self) -> Divider:
        assert self.followed is not None
        own, volts = self.difference, self.followed.voltage
        return Divider(
            LOWER, self.upper, volts.min + own.low, volts.max + own.typical, volts.max + own.high
        )

    @property
    def share(self) -> float:
        return LOWER / self.upper

    def draw_setting(
        self, sheet: Sheet, block: str, out: str, feedback: str
    ) -> tuple[NewTable, ...]:
        assert self.shift is not None
        assert self.followed is not None
        own, at = self.difference, self.task.inner(SHIFT)
        legs = f"{show(self.upper, 'Ω')}/{show(LOWER, 'Ω')}"
        why = (
            f"difference = Veb + Vfb x {legs} = {show(own.typical, 'V')}, {show(own.low, 'V')} to "
            f"{show(own.high, 'V')} at the limits"
        )

        def add(one: str, two: str, ohms: float, told: str) -> None:
            pins, value = {"one": one, "two": two}, show(ohms, "Ω", 4)
            sheet.add("R", "resistor", block, pins, told, use=self.resistor, resistance=value)

        add(out, at, self.upper, why)
        base = self.task.terminals(self.followed.name).plus
        pins = {"emitter": at, "base": base, "collector": feedback}
        told = "turns the difference above the output into a voltage against the return"
        sheet.add("Q", self.shift.kind, block, pins, told, use=self.shift.name)
        current = show(spread_of(self.entry, "reference").typical / LOWER, "A")
        add(feedback, self.feed.ground, LOWER, f"{current} through the transistor")
        return ()


class TrackingLinear(Linear):
    """The switcher follows the output up and down: what becomes heat is the same everywhere."""

    name = "tracking step-down with linear"
    gives_up = "two loops, one around the other; below a volt the first one no longer follows"
    means = (ADJUSTABLE,)

    def fronts(self, task: Task, rail: Output) -> Sequence[Front]:
        feed = DirectFront.of(task).feed
        stays_below(task, rail, feed.low)
        if not rail.is_adjustable:
            raise Unserved(
                f"{rail.name} has one voltage, {show(rail.voltage.max, 'V')}: nothing is there to "
                "follow; a fixed voltage between serves it"
            )
        shift = _shift(task, feed.high)
        found: list[Front] = []
        refused: list[Unserved] = []
        kinds = sorted(of_kind(task.catalogue, "step-down-regulator"), key=price_of)
        for upper in UPPERS:
            ohms = nearest(upper, task.need.parts.series)
            for entry in kinds:
                stage = TrackingStage(
                    task, rail, entry, feed, resistive=False, shift=shift, upper=ohms, followed=rail
                )
                try:
                    found.append(_front(stage))
                except Unserved as unserved:
                    told = f"{entry.name} ahead: {unserved.reason}"
                    refused.append(Unserved(told, unserved.reached))
        if not found:
            raise max(refused, key=lambda each: each.reached)
        return found


def _shift(task: Task, highest: float) -> Entry:
    """The cheapest small pnp transistor that stands the input [V]; Unserved where there is none."""
    may = task.allowed("transistor", "voltage")
    found = [
        entry
        for entry in of_kind(task.catalogue, "bipolar-transistor")
        if entry.options.get("polarity") == "pnp"
        and "case" not in entry.pins
        and may * spread_of(entry, "collector_emitter_voltage").high >= highest
    ]
    if not found:
        raise Unserved(f"no small pnp transistor of the catalogue stands {show(highest, 'V')}")
    return min(found, key=price_of)


def _front(bare: TrackingStage) -> SteppedFront:
    """A stage sized for the net between, as what feeds the regulator; Unserved if there is none."""
    task, rail, feed, own = bare.task, bare.rail, bare.feed, bare.difference
    low, high = rail.voltage.min + own.low, rail.voltage.max + own.high
    ripple = RIPPLE * low
    between = replace(
        rail,
        voltage=Range(low, high),
        current=Range(0.0, sized_for(rail)),
        ripple=ripple,
        noise=None,
        nets=Terminals(task.inner(PRE), feed.ground),
    )
    sized: SizedStage = replace(bare, rail=between).sized()[0]
    top = rail.voltage.max
    net = Feed(
        task.inner(PRE),
        feed.ground,
        top + own.low - 0.5 * ripple,
        top + own.typical,
        feed.high,
        top + own.high,
        follows=own.high,
    )
    return SteppedFront(net, sized)
