"""Inverting pre-regulator with a negative linear post-regulator: a rail below the return."""

from __future__ import annotations

from railwright.architectures.architecture import Task
from railwright.architectures.demands import lies_below_input
from railwright.architectures.inverting_stage import InvertingStage
from railwright.architectures.pre_regulated_linear import PRE, PreRegulatedLinear
from railwright.architectures.regulator import Feed
from railwright.architectures.split_linear import NEGATIVE
from railwright.circuit.need import Output, Terminals


class InvertingLinear(PreRegulatedLinear):
    """The switcher makes a voltage below the return of a positive one, the linear one quiets it."""

    name = "inverting with linear"
    gives_up = (
        "takes its input in pulses; two stages; the switching still reaches the output in part"
    )
    means = NEGATIVE
    kind = "inverting-regulator"
    way = InvertingStage

    def demand(self, task: Task, rail: Output, feed: Feed) -> None:
        lies_below_input(task, rail)

    def inner(self, task: Task, feed: Feed) -> Terminals:
        return Terminals(feed.ground, task.inner(PRE))
