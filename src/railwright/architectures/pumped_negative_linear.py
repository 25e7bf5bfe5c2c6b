"""Charge pump with a negative linear regulator: a rail of little current below the return."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.demands import lies_below_input
from railwright.architectures.direct_input import DirectFront
from railwright.architectures.front import LEGS, Draw, Front
from railwright.architectures.linear import Linear
from railwright.architectures.pre_regulated_linear import PRE, RIPPLE
from railwright.architectures.pump_stage import PumpStage, SizedPump, pumps
from railwright.architectures.regulator import Feed, Regulator
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, spread_of
from railwright.architectures.split_linear import NEGATIVE
from railwright.circuit.need import Output
from railwright.quantity import show


@dataclass(frozen=True)
class PumpedFront(Front):
    """A charge pump from a direct source."""

    sized: SizedPump

    def fitted(self, regulator: Regulator) -> Draw:
        most = self.sized.own.current
        if regulator.taken > most:
            raise Unserved(
                f"{show(regulator.taken, 'A')} are taken of {show(most, 'A')} for which the pump "
                "was sized"
            )
        series = self.sized.series(regulator.headroom(0.0))

        def draw(sheet: Sheet) -> None:
            self.sized.draw(sheet, "pre-regulator", self.feed.net, series)

        return draw


class PumpedNegativeLinear(Linear):
    """The pump makes nearly the input below its return, the regulator holds what is wanted."""

    name = "charge pump with linear"
    gives_up = "gives milliamperes; all that the input is above the output becomes heat"
    means = NEGATIVE

    def fronts(self, task: Task, rail: Output) -> Sequence[Front]:
        feed = DirectFront.of(task).feed
        lies_below_input(task, rail)
        found: list[Front] = []
        refused: list[Unserved] = []
        for beside in _beside(task):
            current = rail.current.max * (1.0 + (rail.accuracy or 0.0)) + beside
            for entry in pumps(task):
                allowed = RIPPLE * rail.voltage.max
                try:
                    sized = PumpStage(task, entry, feed, current, allowed).sized()
                except Unserved as unserved:
                    told = f"{entry.name} ahead: {unserved.reason}"
                    refused.append(Unserved(told, unserved.reached))
                else:
                    found.append(_front(task, sized))
        if not found:
            raise max(refused, key=lambda each: each.reached)
        return found


def _beside(task: Task) -> list[float]:
    """Currents beside the load for which a pump is sized, the least first [A].

    What each type takes for itself, and what the legs of adjustable ones take.
    """
    own = {
        spread_of(entry, "quiescent_current").high
        for means in NEGATIVE
        for entry in of_kind(task.catalogue, *means.kinds)
        if "quiescent_current" in entry.values
    }
    return sorted({*own, LEGS})


def _front(task: Task, sized: SizedPump) -> PumpedFront:
    feed = sized.own.feed
    own = Feed(task.inner(PRE), feed.ground, sized.lowest, feed.nominal, feed.high, feed.high)
    return PumpedFront(own, sized)
