"""Step-up/step-down regulator of one voltage: for an input that crosses the output."""

from __future__ import annotations

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.coupled_stage import CoupledStage
from railwright.architectures.demands import joined_to_input
from railwright.architectures.regulator import Feed
from railwright.architectures.step_up_linear import ENOUGH
from railwright.architectures.switching import Switching
from railwright.circuit.need import Output
from railwright.quantity import show


def crosses(rail: Output, feed: Feed) -> None:
    """Unserved where a direct input stays on one side of the output."""
    if feed.high < rail.voltage.min:
        raise Unserved(
            f"{rail.name} wants {show(rail.voltage.min, 'V')} of an input that stays below, up to "
            f"{show(feed.high, 'V')}; a step-up serves it with one coil"
        )
    if feed.low > rail.voltage.max + ENOUGH:
        raise Unserved(
            f"{rail.name} wants {show(rail.voltage.max, 'V')} of an input that stays above "
            f"{show(feed.low, 'V')}; a step-down serves it with one coil"
        )


class StepUpDown(Switching):
    """Two coils and a capacitor between them: more voltage than comes in, or less."""

    name = "step-up/step-down"
    gives_up = "two coils, and a capacitor that carries the whole load's current; ripples more"
    kind = "step-up-regulator"
    way = CoupledStage

    def demand(self, task: Task, rail: Output, feed: Feed) -> None:
        joined_to_input(task, rail)
        crosses(rail, feed)
        if rail.never_above is not None:
            raise Unserved(
                f"with its feedback open the output rises on; the load survives "
                f"{show(rail.never_above, 'V')}, and this has no guard against that"
            )
        super().demand(task, rail, feed)
