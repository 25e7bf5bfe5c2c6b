"""Transformer with a step-down pre-regulator that follows the output of an adjustable linear one.

The step-down takes less current than it gives, so that transformer and reservoir are smaller than
those of a linear supply.
"""

from __future__ import annotations

from collections.abc import Sequence

from railwright.architectures.amplified_tracking import AmplifiedTracking
from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.front import Front, sized_for
from railwright.architectures.mains_input import kept_apart, mains_fronts
from railwright.circuit.need import Output

OF_LOAD = (0.5, 0.63, 0.8, 1.0)
"""Times the load is what may be taken of the reservoir: with these, transformers are sought."""


class TransformerTracking(AmplifiedTracking):
    """Apart from the mains by a transformer, and cool at every setting."""

    name = "transformer with tracking step-down and linear"
    gives_up = (
        "three stages: the transformer is heavy, and the switching reaches the output in part"
    )

    def ahead(self, task: Task, rail: Output) -> Sequence[Front]:
        kept_apart(rail)
        found: list[Front] = []
        refused: list[Unserved] = []
        for share in OF_LOAD:
            cheapest: dict[float, Front] = {}
            try:
                for front in mains_fronts(task, rail, current=share * sized_for(rail)):
                    cheapest.setdefault(round(front.winding.ratio("typical"), 1), front)
            except Unserved as unserved:
                refused.append(unserved)
            found += cheapest.values()
        if not found:
            raise refused[-1]
        return found
