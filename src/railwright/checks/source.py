"""Source: what the supply asks of its source while that comes up, against what the source gives."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault, parts_that_observe
from railwright.circuit.circuit import Part
from railwright.circuit.need import SourceLimit
from railwright.quantity import show
from railwright.surveys.courses import source_limit
from railwright.surveys.depth import DEFAULT
from railwright.surveys.fixture import SOURCE
from railwright.surveys.operating_range import OperatingRange, Points
from railwright.surveys.samples import quasi_random
from railwright.surveys.situations import AS_SET, knobs
from railwright.surveys.survey import Survey

PLACES = 5
"""Voltages of the source that are looked at between where a converter starts and the highest."""
UNLIMITED = 1e3
"""A; a limit of the source that nothing meets."""
SAMPLES = 8
"""Drawn from the whole spread, beside typical parts."""


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
    source = "need.input.limit against what is drawn from where a converter starts"
    analysis = (
        "From where each switching regulator without soft start may begin to work up to the "
        "highest input, at full load, with typical parts and with some drawn from the spread, the "
        "current drawn from a source without limit is solved. Where the most of it exceeds the "
        "source's limit, both can rest with the input held down."
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
        limit = source_limit(survey)
        subjects = [part for part in _converters(survey) if not _soft_start(part)]
        if limit is None or not subjects:
            return WiringAnswer([], [])
        drawn = list(_drawn(survey, min(_starts_at(part) for part in subjects)))
        faults = [
            fault
            for part in subjects
            if (fault := self._fault(survey, part, limit, drawn)) is not None
        ]
        return WiringAnswer([part.ref for part in subjects], faults)

    def _fault(
        self, survey: Survey, part: Part, limit: SourceLimit, drawn: Sequence[tuple[float, float]]
    ) -> WiringFault | None:
        own = [(current, volts) for volts, current in drawn if volts >= _starts_at(part)]
        if not own:
            text = (
                f"{part.ref} begins to work from {show(_starts_at(part), 'V')} on, which "
                f"the source does not reach: it brings {show(float(survey.range.input[-1]), 'V')}."
            )
            return WiringFault(part.ref, text, proven=False)
        current, volts = max(own)
        if np.isnan([each for each, _ in own]).any():
            text = f"Not every voltage of the source could be solved from where {part.ref} starts."
            return WiringFault(part.ref, text, proven=False)
        if current <= limit.current and limit.style != "foldback":
            return None
        if current <= limit.current:
            text = (
                f"{part.ref} draws {show(current, 'A')} at {show(volts, 'V')}; what a source that "
                "folds back gives there is not known."
            )
            return WiringFault(part.ref, text, proven=False)
        text = (
            f"{part.ref} begins to work from {show(_starts_at(part), 'V')} on. At "
            f"{show(volts, 'V')} the supply then draws {show(current, 'A')}, and the source "
            f"gives {show(limit.current, 'A')}: while it comes up it can stay in its limit, with "
            "its voltage held down."
        )
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

    At full load, with controls where they bring the highest output at nominal input, by typical
    parts and some drawn ones; not-a-number where it was not solved.
    """
    places, spread = _places(survey), survey.spread
    drawn = spread.draw(quasi_random(spread.size, SAMPLES, 1))
    several = np.concatenate([survey.typical(1), drawn], axis=1)
    points = places.take(np.repeat(np.arange(places.count), several.shape[1]))
    actual = np.tile(several, places.count)
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
    """Full load and the hottest air, at the highest outputs, which take the most power."""
    axes = OperatingRange.of(survey.fixture.design.need, full="load")
    highest = {rail: axis[-1:] for rail, axis in axes.settings.items()}
    nominal = np.array([axes.nominal_input])
    return replace(axes, settings=highest, input=nominal, ambient=axes.ambient[-1:]).grid()
