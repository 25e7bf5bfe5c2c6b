"""Limiting: a current limit that takes over, judged by what it lets through into heavy loads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from railwright.checks.check import Check, Worst, at_least, at_most, least
from railwright.checks.overload import band_of
from railwright.engine.ladders import scaled, thermal
from railwright.engine.model import Lanes, chosen
from railwright.engine.solutions import OperatingPoints
from railwright.quantity import show
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import load_ref
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import Array, Situation, View, Which, knobs
from railwright.surveys.survey import Survey

STYLES = ("constant-current", "foldback")
LEVELS = (1.2, 2.0, 4.0, 100.0)
"""Heavy loads, as shares of the current by which the limit must act. Under the first the output
stands near its setting still, the third leaves a quarter of it; the last is next to a short."""
WARMING = (0.01, 0.5, 1.0)
"""Shares of all thermal resistances on the way from cold parts to warm ones."""


def limited_rails(survey: Survey) -> list[str]:
    """Rails of which the need wants a current limit that takes over, with its band."""
    return [
        name
        for name, rail in survey.fixture.rails.items()
        if rail.overload is not None
        and rail.overload.style in STYLES
        and np.isfinite(band_of(survey, name)).all()
    ]


class Overloaded(Situation):
    """Controls stay as they were set at full load, and one rail after the other is overloaded."""

    name = "overloaded"

    def applies(self, survey: Survey) -> bool:
        return bool(limited_rails(survey))

    def points(self, survey: Survey) -> Points:
        return survey.range_at_full("load").grid()

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        stay: dict[tuple[str, str], Array | float] = {}
        known = near.at if near is not None else survey.states.start
        if survey.controls_of_role("set"):
            lanes = survey.lanes(points, actual) | survey.aimed(points)
            known = survey.solve(lanes, points.count, known, survey.states.working)
            stay = dict(knobs(survey, known))
        beside = {}
        for rail in limited_rails(survey):
            _, act_by = band_of(survey, rail)
            at: OperatingPoints | None = known
            limited = np.ones(points.count, bool)
            for level in LEVELS:
                loads = {**points.loads, rail: np.full(points.count, level * act_by)}
                lanes = survey.lanes(replace(points, loads=loads), actual) | stay
                name = f"{rail} {level:g}"
                # From the lighter load on: a hotter state may stand beside, which nothing reaches.
                at = survey.solve(lanes, points.count, at, survey.states.working)
                if not survey.rough:
                    lost = limited & (at.of(load_ref(rail), "current") > act_by)
                    at = _warmed(survey, lanes, at, np.flatnonzero(at.solved & lost))
                    limited = at.of(load_ref(rail), "current") <= act_by
                beside[name] = at
        return View(survey, points, next(iter(beside.values())), beside)


def _warmed(survey: Survey, lanes: Lanes, at: OperatingPoints, which: Which) -> OperatingPoints:
    """Solutions at a load; those that it takes out of the limit sought again, from cold parts on.

    Parts warm up after the load has come: a transistor that is too hot to be turned off is in a
    state that lasts, but is reached only where there is none with cooler parts.
    """
    if not which.size:
        return at
    found = at.take(which)
    for share in WARMING:
        own = chosen(lanes, which)
        own |= scaled(survey.model, own, thermal, share)
        found = survey.engine(own, which.size, found, "all" if share == WARMING[0] else "near")
        kept = np.flatnonzero(found.solved)
        which, found = which[kept], found.take(kept)
    return at.replaced(which, found)


OVERLOADED = Overloaded()


class _LimitCheck(Check):
    """A question about the current that a limit lets through."""

    unit = "A"
    situation = OVERLOADED

    def subjects(self, survey: Survey) -> Sequence[str]:
        return limited_rails(survey)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        carry, act_by = band_of(survey, subject)
        return act_by - carry


def _current(view: View, rail: str, level: float) -> Array:
    """What a rail gives into a heavy load [A]."""
    return view.beside[f"{rail} {level:g}"].of(load_ref(rail), "current")


class LimitCarries(_LimitCheck):
    """What the limit lets through into a load somewhat too heavy, against the current to carry."""

    id = "overload.limit-carries"
    question = "Does the current limit leave alone what must be carried?"
    source = "need.output.overload.carry"
    analysis = (
        "The rail is loaded with a resistance that would take 1.2 times the current by which the "
        "limit must act; controls stay as they were set. Margin: the current through it less the "
        "current to carry. Reserve: over the width of the band."
    )
    example = (
        "A limit at 2.5 V across 3.3 Ω lets `2.5 V / 3.3 Ω = 0.758 A` through; of 0.7 A to carry "
        "that leaves `0.758 A - 0.7 A = 0.058 A`."
    )

    def answer(self, view: View, subject: str) -> Answer:
        carry, _ = band_of(view.survey, subject)
        return at_least(_current(view, subject, LEVELS[0]), carry)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"The limit can hold {subject} at {show(worst.value, 'A')} already; "
            f"{show(worst.limit, 'A')} must be carried ({worst.place})."
        )


class LimitActs(_LimitCheck):
    """The most that the limit lets through into any heavy load, against where it must act."""

    id = "overload.limit-acts"
    question = "Does the current limit hold every heavier load to what is allowed?"
    source = "need.output.overload.act_by"
    analysis = (
        "The rail is loaded with resistances that would take 1.2, 2 and 4 times the current by "
        "which the limit must act, one after the other. Margin: that current less the most that "
        "flows. Reserve: over the width of the band."
    )
    example = (
        "A limit at 2.5 V across 3.3 Ω lets `2.5 V / 3.3 Ω = 0.758 A` through; where it must act "
        "by 1 A that leaves `1 A - 0.758 A = 0.242 A`."
    )

    def answer(self, view: View, subject: str) -> Answer:
        _, act_by = band_of(view.survey, subject)
        return least([at_most(_current(view, subject, level), act_by) for level in LEVELS])

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"The limit lets {show(worst.value, 'A')} through; "
            f"{show(worst.limit, 'A')} is allowed ({worst.place})."
        )
