"""What pre-regulators share that stay a difference above an adjustable linear post-regulator.

They differ by what feeds them, and by what turns the difference into a voltage at the feedback
pin.
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
from railwright.architectures.mains_input import MainsFront
from railwright.architectures.pre_regulated_linear import PRE, RIPPLE, SteppedFront
from railwright.architectures.regulator import Feed
from railwright.architectures.sizing.choice import of_kind, price_of
from railwright.architectures.sizing.divider import Divider
from railwright.architectures.step_down_stage import StepDownStage
from railwright.architectures.switching_stage import SizedStage
from railwright.circuit.need import Output, Terminals
from railwright.circuit.tables import Range
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import nearest


@dataclass(frozen=True)
class TrackingStage(StepDownStage):
    """A step-down stage whose feedback is what it stays above the output of what it feeds.

    Of a change of that difference the pin sees `lower` over `upper`.
    """

    leads: ClassVar[Sequence[float]] = ()
    lower: ClassVar[float]
    """Ω of the resistor that has the reference across it."""
    uppers: ClassVar[Sequence[float]]
    """Ω near which the other one is tried, the least difference first."""

    upper: float = 0.0
    """Ω."""

    @property
    def difference(self) -> Spread:
        """How far it stays above, at the limits of everything that sets it [V]."""
        raise NotImplementedError(type(self).__name__)

    @property
    def followed(self) -> Output:
        """The rail above which it stays."""
        found = self.task.need.rail(self.rail.name)
        assert found is not None
        return found

    @property
    def settings(self) -> Sequence[float]:
        return (self.legs.low, self.legs.high)

    @cached_property
    def legs(self) -> Divider:
        own, volts = self.difference, self.followed.voltage
        ends = volts.min + own.low, volts.max + own.typical, volts.max + own.high
        return Divider(self.lower, self.upper, *ends)

    @property
    def share(self) -> float:
        return self.lower / self.upper

    @property
    def formula(self) -> str:
        """The difference in words, with its limits."""
        own = self.difference
        legs = f"{show(self.upper, 'Ω')}/{show(self.lower, 'Ω')}"
        return (
            f"Vfb x {legs} = {show(own.typical, 'V')}, {show(own.low, 'V')} to "
            f"{show(own.high, 'V')} at the limits"
        )


class Tracking(Linear):
    """The switcher follows the output up and down: what becomes heat is the same everywhere."""

    means = (ADJUSTABLE,)
    way: ClassVar[type[TrackingStage]]

    def ahead(self, task: Task, rail: Output) -> Sequence[Front]:
        """What may feed the stage, the best first; Unserved where nothing may."""
        front = DirectFront.of(task)
        stays_below(task, rail, front.feed.low)
        return [front]

    def fronts(self, task: Task, rail: Output) -> Sequence[Front]:
        ahead = self.ahead(task, rail)
        if not rail.is_adjustable:
            raise Unserved(
                f"{rail.name} has one voltage, {show(rail.voltage.max, 'V')}: nothing is there to "
                "follow; a fixed voltage between serves it"
            )
        found: list[Front] = []
        refused: list[Unserved] = []
        kinds = sorted(of_kind(task.catalogue, "step-down-regulator"), key=price_of)
        for upper in self.way.uppers:
            ohms = nearest(upper, task.need.parts.series)
            for entry in kinds:
                for front in ahead:
                    stage = self.way(
                        task,
                        rail,
                        entry,
                        front.feed,
                        resistive=False,
                        mains=front if isinstance(front, MainsFront) else None,
                        upper=ohms,
                    )
                    try:
                        found.append(_front(stage))
                    except Unserved as unserved:
                        told = f"{entry.name} ahead: {unserved.reason}"
                        refused.append(Unserved(told, unserved.reached))
                    else:
                        break
        if not found:
            raise max(refused, key=lambda each: each.reached)
        return found


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
