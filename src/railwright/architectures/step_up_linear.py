"""Step-up pre-regulator with a linear post-regulator: for an input that crosses the output."""

from __future__ import annotations

from collections.abc import Sequence

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.demands import joined_to_input
from railwright.architectures.pre_regulated_linear import PreRegulatedLinear
from railwright.architectures.regulator import Feed
from railwright.architectures.step_up_stage import StepUpStage
from railwright.circuit.need import Output
from railwright.quantity import show

ABOVE = 1.02, 1.04, 1.06, 1.08, 1.1, 1.12, 1.15
"""Times the highest input is the voltage between at least: what its divider may be off, the input
would pass straight through."""
MOST_TIMES = 2.0
"""Times the output that the voltage between may be where the input is above the output as a rule:
beyond it more than half of all becomes heat."""

ENOUGH = 2.5
"""V across it, with which every linear type regulates (datasheets of the 78xx and 317 types)."""


class StepUpLinear(PreRegulatedLinear):
    """Above the highest input first, then down to the output: whichever is higher, it stays."""

    name = "step-up with linear"
    gives_up = "two stages; all that the input may be above the output becomes heat"
    kind = "step-up-regulator"
    way = StepUpStage

    def demand(self, task: Task, rail: Output, feed: Feed) -> None:
        joined_to_input(task, rail)
        most = rail.voltage.max + ENOUGH
        if feed.low >= most:
            raise Unserved(
                f"{rail.name} wants {show(rail.voltage.max, 'V')} of an input that stays above "
                f"{show(feed.low, 'V')}; a regulator without a step-up serves it"
            )
        between = ABOVE[0] * feed.high
        if feed.nominal >= most and between > MOST_TIMES * rail.voltage.max:
            burnt = (between - rail.voltage.max) * rail.current.max
            raise Unserved(
                f"the input is at {show(feed.nominal, 'V')} most of the time, far above "
                f"{rail.name} of {show(rail.voltage.max, 'V')}; with {show(between, 'V')} between "
                f"both the linear regulator would always burn {show(burnt, 'W')}, more than the "
                "load has"
            )

    def between(self, rail: Output, feed: Feed) -> Sequence[float]:
        above = [times * feed.high for times in ABOVE]
        ahead = (*super().between(rail, feed), *above)
        return sorted({volts for volts in ahead if volts >= above[0]})
