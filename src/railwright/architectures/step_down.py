"""Step-down switching regulator of one voltage from a direct source."""

from __future__ import annotations

from railwright.architectures.architecture import Task
from railwright.architectures.demands import stays_below, survives
from railwright.architectures.regulator import Feed
from railwright.architectures.step_down_stage import StepDownStage
from railwright.architectures.switching import Switching
from railwright.circuit.need import Output


class StepDown(Switching):
    """Switch, coil and freewheel diode: the voltage falls without becoming heat."""

    name = "step-down"
    gives_up = "ripple and spikes of its switching reach output and input; wants a tight layout"
    kind = "step-down-regulator"
    way = StepDownStage

    def demand(self, task: Task, rail: Output, feed: Feed) -> None:
        stays_below(task, rail, feed.low)
        survives(rail, feed.high)
        super().demand(task, rail, feed)
