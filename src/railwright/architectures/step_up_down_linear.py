"""Step-up/step-down pre-regulator with a linear one: for an input that crosses the output."""

from __future__ import annotations

from railwright.architectures.architecture import Task
from railwright.architectures.coupled_stage import CoupledStage
from railwright.architectures.demands import joined_to_input
from railwright.architectures.pre_regulated_linear import PreRegulatedLinear
from railwright.architectures.regulator import Feed
from railwright.architectures.step_up_down import crosses
from railwright.circuit.need import Output


class StepUpDownLinear(PreRegulatedLinear):
    """A little above the output, wherever the input is; then down to it."""

    name = "step-up/step-down with linear"
    gives_up = "two stages, two coils; the switching still reaches the output in part"
    kind = "step-up-regulator"
    way = CoupledStage

    def demand(self, task: Task, rail: Output, feed: Feed) -> None:
        joined_to_input(task, rail)
        crosses(rail, feed)
