"""Step-up switching regulator of one voltage from a direct source."""

from __future__ import annotations

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.demands import UNGUARDED, joined_to_input
from railwright.architectures.regulator import Feed
from railwright.architectures.step_up_stage import StepUpStage
from railwright.architectures.switching import Switching
from railwright.circuit.need import Output
from railwright.quantity import show


class StepUp(Switching):
    """Coil, switch and diode: more voltage than comes in."""

    name = "step-up"
    gives_up = "a shorted output is fed past the switch: the fuse alone holds it; takes pulses"
    kind = "step-up-regulator"
    way = StepUpStage

    def demand(self, task: Task, rail: Output, feed: Feed) -> None:
        joined_to_input(task, rail)
        if rail.voltage.min <= feed.high:
            raise Unserved(
                f"{rail.name} wants {show(rail.voltage.min, 'V')} of an input that goes up to "
                f"{show(feed.high, 'V')}; this only adds voltage"
            )
        if rail.never_above is not None:
            raise Unserved(
                f"with its feedback open the output rises on; the load survives "
                f"{show(rail.never_above, 'V')}, and this has no guard against that",
                reached=UNGUARDED,
            )
        super().demand(task, rail, feed)
