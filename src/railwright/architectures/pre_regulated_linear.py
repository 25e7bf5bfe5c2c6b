"""Step-down pre-regulator of one voltage with a linear post-regulator."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from railwright.architectures.adjustable_linear import ADJUSTABLE
from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.demands import stays_below
from railwright.architectures.direct_input import DirectFront
from railwright.architectures.fixed_linear import FIXED
from railwright.architectures.front import Draw, Front, sized_for
from railwright.architectures.linear import Linear
from railwright.architectures.low_dropout_linear import LOW_DROPOUT
from railwright.architectures.regulator import Feed, Means, Regulator
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of
from railwright.architectures.step_down_stage import StepDownStage
from railwright.architectures.switching_stage import SizedStage, SwitchingStage
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output, Terminals
from railwright.circuit.tables import Range
from railwright.quantity import show

PRE = "PRE"
"""Net between both."""
DIFFERENCES = (1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0)
"""V, what the pre-regulator leaves to the post-regulator, the least first."""
OWN = 0.067
"""Of the load, that a post-regulator of low dropout may take for itself (datasheets of the larger
types with a PNP pass element)."""
ACCURACY = 0.1
"""Of the voltage between: what a divider makes of a reference of 4 % without a trimmer."""
RIPPLE = 0.03
"""Of the voltage between, peak to peak: the post-regulator is there to take it away (common
practice, no source)."""


@dataclass(frozen=True)
class SteppedFront(Front):
    """A switching stage from a direct source."""

    sized: SizedStage

    def fitted(self, regulator: Regulator) -> Draw:
        most = self.sized.own.rail.current.max
        if regulator.taken > most:
            raise Unserved(
                f"{show(regulator.taken, 'A')} are taken of {show(most, 'A')} for which the "
                "pre-regulator was sized"
            )
        regulator.headroom(0.0)

        def draw(sheet: Sheet) -> None:
            self.sized.draw(sheet, "pre-regulator")

        return draw


class PreRegulatedLinear(Linear):
    """The switcher takes away most of the voltage, the linear one what is left, and the ripple."""

    name = "step-down with linear"
    gives_up = "two stages; the switching still reaches the output in part, above 100 kHz most"
    means: ClassVar[tuple[Means, ...]] = (LOW_DROPOUT, FIXED, ADJUSTABLE)
    kind: ClassVar[str] = "step-down-regulator"
    """Of the regulators ahead that it may use."""
    way: ClassVar[type[SwitchingStage]] = StepDownStage

    def demand(self, task: Task, rail: Output, feed: Feed) -> None:
        """Unserved where a rail is not for this kind, whichever the regulators."""
        stays_below(task, rail, feed.low)

    def between(self, rail: Output, feed: Feed) -> Sequence[float]:
        """Voltages between both stages that are tried, the least first [V]."""
        return [rail.voltage.max + difference for difference in DIFFERENCES]

    def inner(self, task: Task, feed: Feed) -> Terminals:
        """Nets of the rail between both stages."""
        return Terminals(task.inner(PRE), feed.ground)

    def fronts(self, task: Task, rail: Output) -> Sequence[Front]:
        feed = DirectFront.of(task).feed
        self.demand(task, rail, feed)
        found: list[Front] = []
        refused: list[Unserved] = []
        kinds = sorted(of_kind(task.catalogue, self.kind), key=price_of)
        nets = self.inner(task, feed)
        for volts in self.between(rail, feed):
            for entry in kinds:
                between = _between(rail, volts, _ahead(task, rail, entry), nets)
                try:
                    sized = self.way(task, between, entry, feed, resistive=False).sized()
                except Unserved as unserved:
                    told = f"{entry.name} ahead: {unserved.reason}"
                    refused.append(Unserved(told, unserved.reached))
                else:
                    found.append(_front(sized[0], feed))
        if not found:
            raise max(refused, key=lambda each: each.reached)
        return found


def _ahead(task: Task, rail: Output, entry: Entry) -> float:
    """What a stage ahead is sized for: all that may be taken, or as much as it can give [A]."""
    may = task.bears(entry, "rated_current")
    return min(sized_for(rail) + OWN * rail.current.max, max(may, rail.current.max))


def _between(rail: Output, volts: float, current: float, nets: Terminals) -> Output:
    """The rail between both stages, as a demand on the first one."""
    return replace(
        rail,
        voltage=Range(volts, volts),
        current=Range(0.0, current),
        accuracy=ACCURACY,
        ripple=RIPPLE * volts,
        noise=None,
        nets=nets,
    )


def _front(sized: SizedStage, feed: Feed) -> SteppedFront:
    legs = sized.own.legs
    own = Feed(sized.own.out, feed.ground, legs.low, legs.typical, legs.high, legs.high)
    return SteppedFront(own, sized)
