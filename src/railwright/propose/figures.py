"""What a proved candidate is compared by: figures of its proof, and its losses at full load."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from railwright.catalogue.entry import Entry
from railwright.catalogue.price import class_of_all
from railwright.checks import every as every_check
from railwright.circuit.design import Design
from railwright.prove.proof import Finding, Proof
from railwright.quantity import show
from railwright.surveys.depth import QUICK
from railwright.surveys.fixture import SOURCE, Fixture
from railwright.surveys.mains import MainsView, as_fed
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.survey import Survey

JUNCTION = "heat.junction"


@dataclass(frozen=True)
class Power:
    """Typical parts at one point of full load; not-a-number where it was not solved."""

    given: float
    """W to the loads."""
    taken: float
    """W from the source."""

    @property
    def loss(self) -> float:
        """W that become heat."""
        return self.taken - self.given

    @property
    def efficiency(self) -> float:
        """Share of what is taken that reaches the loads."""
        return self.given / self.taken


@dataclass(frozen=True)
class Figures:
    """What a builder compares candidates by."""

    hottest: Finding | None
    """The junction that comes to the highest temperature; None where there is none."""
    sinks: tuple[str, ...]
    """Each heat sink with its resistance."""
    at_nominal: Power
    """Highest setting, full load, nominal input, hottest air."""
    at_worst: Power
    """Lowest setting, full load, highest input, hottest air."""
    least: Finding | None
    """The finding with the least reserve, of questions that want one."""
    parts: int
    price: str
    """Class of price of all parts together."""


def figures_of(design: Design, proof: Proof, catalogue: Mapping[str, Entry]) -> Figures:
    """The figures of a design that was proved."""
    junctions = [f for f in proof.findings if f.id == JUNCTION and f.value is not None]
    survey = Survey(Fixture.of(design), depth=QUICK)
    wanting = {check.id for check in every_check() if check.wanted(survey) > 0}
    judged = [f for f in proof.findings if f.reserve is not None and f.id in wanting]
    parts = design.circuit.parts
    sinks = [part for part in parts if part.kind == "heat-sink"]
    volts = design.need.input.voltage
    return Figures(
        hottest=max(junctions, key=lambda f: f.value or 0.0, default=None),
        sinks=tuple(show(s.values["resistance"].spread.typical, "K/W") for s in sinks),
        at_nominal=_power(survey, volts.nominal, highest=True),
        at_worst=_power(survey, volts.max, highest=False),
        least=min(judged, key=lambda f: f.reserve or 0.0, default=None),
        parts=len(parts),
        price=class_of_all(catalogue[part.use].price for part in parts if part.use in catalogue),
    )


def _power(survey: Survey, input: float, highest: bool) -> Power:
    """What is taken and given at full load, with every rail at one end of its range."""
    need = survey.fixture.design.need
    settings = {o.name: o.voltage.max if highest else o.voltage.min for o in need.output}
    points = Points(
        {name: np.array([volts]) for name, volts in settings.items()},
        {o.name: np.array([o.current.max]) for o in need.output},
        np.array([input]),
        np.array([need.surroundings.ambient.max]),
    )
    view = as_fed(survey, AS_SET).view(survey, points, survey.typical(1), None)
    if not view.solved[0]:
        return Power(np.nan, np.nan)
    loads = {o.name: o.current.max for o in need.output}
    if isinstance(view, MainsView):
        moments = next(view.moments())
        taken = -float(moments.of_course("mean", SOURCE, "power")[0])
        return Power(_given(moments, loads), taken)
    taken = input * abs(float(view.at.of(SOURCE, "current")[0]))
    return Power(_given(view, loads), taken)


def _given(view: View, loads: Mapping[str, float]) -> float:
    """To the loads, whose currents they are [A]; the mean of all lanes of a view [W]."""
    return float(sum(view.output(rail).mean() * current for rail, current in loads.items()))
