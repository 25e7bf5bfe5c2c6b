"""What a proved candidate is compared by: figures of its proof, and its losses at full load."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from railwright.catalogue.entry import Entry
from railwright.catalogue.price import class_of_all
from railwright.checks import every as every_check
from railwright.circuit.design import Design
from railwright.propose.power import Power, PowerMap, points_of, power_at, power_map
from railwright.prove.proof import Finding, Proof
from railwright.quantity import show
from railwright.standards.hand_soldering import hardest
from railwright.surveys.depth import QUICK
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey

JUNCTION, NOISE = "heat.junction", "noise.output"
RIPPLE = "ripple.output", "ripple.mains"
"""What switching leaves at the terminals, and what the mains do."""


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
    over_range: PowerMap
    ripple: Finding | None
    """The output with the greatest ripple; None where the proof did not look at any."""
    noise: Finding | None
    """The output with the greatest noise; None where the proof did not look at any."""
    least: Finding | None
    """The finding with the least reserve, of questions that want one."""
    parts: int
    price: str
    """Class of price of all parts together."""
    assembly: tuple[str, int]
    """How hard the hardest packages are to solder by hand, and how many there are."""


def figures_of(design: Design, proof: Proof, catalogue: Mapping[str, Entry]) -> Figures:
    """The figures of a design that was proved."""
    survey = Survey(Fixture.of(design), depth=QUICK)
    parts = design.circuit.parts
    sinks = [part for part in parts if part.kind == "heat-sink"]
    bought = bought_of(design, catalogue)
    volts, ends = design.need.input.voltage, np.array([1.0, 0.0])
    points = points_of(design.need, ends, np.ones(2), np.array([volts.nominal, volts.max]))
    given, taken = power_at(survey, points)
    at_nominal, at_worst = (Power(float(given[n]), float(taken[n])) for n in range(2))
    return Figures(
        hottest=_value(proof, JUNCTION),
        sinks=tuple(show(s.values["resistance"].spread.typical, "K/W") for s in sinks),
        at_nominal=at_nominal,
        at_worst=at_worst,
        over_range=power_map(survey),
        ripple=_value(proof, *RIPPLE),
        noise=_value(proof, NOISE),
        least=min((f for f, _ in judged(survey, proof)), key=_reserve, default=None),
        parts=len(parts),
        price=class_of_all(entry.price for entry in bought),
        assembly=hardest(entry.package for entry in bought),
    )


def judged(survey: Survey, proof: Proof) -> list[tuple[Finding, float]]:
    """The findings of questions that want a reserve, with that reserve."""
    wanted = {check.id: check.wanted(survey) for check in every_check()}
    return [
        (f, wanted[f.id])
        for f in proof.findings
        if f.reserve is not None and wanted.get(f.id, 0.0) > 0.0
    ]


def bought_of(design: Design, catalogue: Mapping[str, Entry]) -> list[Entry]:
    """The parts of a design that come from the catalogue."""
    return [catalogue[p.use] for p in design.circuit.parts if p.use in catalogue]


def _reserve(finding: Finding) -> float:
    return finding.reserve or 0.0


def _value(proof: Proof, *ids: str) -> Finding | None:
    """The worst answer to questions of one quantity."""
    found = [f for f in proof.findings if f.id in ids and f.value is not None]
    return max(found, key=lambda f: f.value or 0.0, default=None)
