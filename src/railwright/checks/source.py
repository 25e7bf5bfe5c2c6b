"""Source: what the supply asks of its source while that comes up, against what the source gives."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault, parts_that_observe
from railwright.circuit.circuit import Part
from railwright.quantity import show
from railwright.surveys.depth import DEFAULT
from railwright.surveys.fixture import SOURCE
from railwright.surveys.operating_range import OperatingRange, Points
from railwright.surveys.situations import AS_SET, knobs
from railwright.surveys.survey import Survey

PLACES = 9
"""Voltages of the source that are looked at between where a converter starts and the highest."""
UNLIMITED = 1e3
"""A; a limit of the source that nothing meets."""


class SourceOverload(WiringCheck):
    """Current that a converter asks of the source, from where it begins to work upward.

    A converter passes power on: the lower its input, the more current it takes. Where that is
    more than the source gives, both rest there: the source in its limit, the input held down.
    With a soft start it depends on which of the two is slower, so that is left to transients.
    Source: Erickson and Maksimovic, Fundamentals of Power Electronics, chapter 10 (the input of
    a regulated converter as a negative resistance).
    """

    id = "overload.source"
    question = "Can the source carry every converter from where it starts, or may it stay down?"
    source = "need.input.limit against what is drawn from where a converter starts; typical parts"
    analysis = (
        "From where each switching regulator without soft start may begin to work up to the "
        "highest input, at full load and with typical parts, the current drawn from a source "
        "without limit is solved. Where the most of it, with the wanted reserve on top, exceeds "
        "the source's limit, both can rest with the input held down."
    )
    example = (
        "12 V and 1 A through a converter of 90 % that begins at 4.5 V ask `12 W / (90 % × 4.5 V) "
        "= 2.96 A` there, of a brick that gives 2.5 A: falls short. One that begins at 8 V asks "
        "`12 W / (90 % × 8 V) = 1.67 A`."
    )
    good = "From where its converters start, the supply draws less than the source can give."
    order = 12
    since = DEFAULT

    def look(self, survey: Survey) -> WiringAnswer:
        limit = survey.fixture.design.need.input.limit
        subjects = [part for part in _converters(survey) if not _soft_start(part)]
        if limit is None or survey.fixture.alternating or not subjects:
            return WiringAnswer([], [])
        drawn = list(_drawn(survey, min(_starts_at(part) for part in subjects)))
        faults = [
            fault
            for part in subjects
            if (fault := self._fault(survey, part, limit.current, drawn)) is not None
        ]
        return WiringAnswer([part.ref for part in subjects], faults)

    def _fault(
        self, survey: Survey, part: Part, limit: float, drawn: Sequence[tuple[float, float]]
    ) -> WiringFault | None:
        own = [(current, volts) for volts, current in drawn if volts >= _starts_at(part)]
        current, volts = max(own, default=(0.0, np.nan))
        if np.isnan([each for each, _ in own]).any():
            text = f"Not every voltage of the source could be solved from where {part.ref} starts."
            return WiringFault(part.ref, text, proven=False)
        reserve = survey.fixture.design.need.parts.reserve
        if current * (1.0 + reserve) <= limit:
            return None
        text = (
            f"{part.ref} begins to work from {show(_starts_at(part), 'V')} on. At "
            f"{show(volts, 'V')} the supply then draws {show(current, 'A')}, and the source "
            f"gives {show(limit, 'A')}: "
        )
        if current <= limit:
            text += "with typical parts that is just enough, and the spread may take it away."
            return WiringFault(part.ref, text, proven=False)
        text += "while it comes up it can stay in its limit, with its voltage held down."
        return WiringFault(part.ref, text, [(part.ref, "supply_minimum")])


def _converters(survey: Survey) -> list[Part]:
    """Switching regulators, which ask the more of their source the lower it is."""
    return parts_that_observe(survey, "demanded_duty", "supply_voltage")


def _starts_at(part: Part) -> float:
    """The lowest input voltage at which a converter may begin to work [V]."""
    return part.values["supply_minimum"].spread.low


def _soft_start(part: Part) -> bool:
    return part.values["soft_start_time"].spread.high > 0


def _drawn(survey: Survey, lowest: float) -> Iterator[tuple[float, float]]:
    """Voltages of a source without a limit, falling, and the most current drawn there [A].

    At full load, with controls where they bring the lowest and the highest output at nominal
    input; not-a-number where it was not solved.
    """
    points = _places(survey)
    actual = survey.typical(points.count)
    before = AS_SET.view(survey, points, actual, None).at
    turned = knobs(survey, before)
    top = float(survey.range.input[-1])
    for volts in np.linspace(top, min(lowest, top), PLACES):
        here = replace(points, input=np.full(points.count, volts))
        lanes = survey.lanes(here, actual) | turned
        lanes[SOURCE, "current_limit"] = UNLIMITED
        at = survey.solve(lanes, points.count, before)
        yield float(volts), float(np.max(at.of(SOURCE, "current")))
        before = before.replaced(np.flatnonzero(at.solved), at.take(np.flatnonzero(at.solved)))


def _places(survey: Survey) -> Points:
    """Full load and the hottest air, at the lowest and at the highest outputs."""
    axes = OperatingRange.of(survey.fixture.design.need, full="load")
    ends = {rail: np.unique(axis[[0, -1]]) for rail, axis in axes.settings.items()}
    nominal = np.array([axes.nominal_input])
    return replace(axes, settings=ends, input=nominal, ambient=axes.ambient[-1:]).grid()
