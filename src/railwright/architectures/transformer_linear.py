"""Transformer, rectifier and reservoir with one linear regulator."""

from __future__ import annotations

from collections.abc import Sequence

from railwright.architectures.adjustable_linear import ADJUSTABLE
from railwright.architectures.architecture import Task
from railwright.architectures.fixed_linear import FIXED
from railwright.architectures.front import Front
from railwright.architectures.linear import Linear
from railwright.architectures.mains_input import kept_apart, mains_fronts
from railwright.circuit.need import Output


class TransformerLinear(Linear):
    """A regulator of one voltage or an adjustable one, apart from the mains by a transformer."""

    name = "transformer with linear"
    gives_up = "heavy, and hums; the reserve for the lowest mains becomes heat at the highest"
    means = (FIXED, ADJUSTABLE)

    def fronts(self, task: Task, rail: Output) -> Sequence[Front]:
        kept_apart(rail)
        return mains_fronts(task, rail)
