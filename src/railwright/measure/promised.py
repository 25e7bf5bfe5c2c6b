"""What a built supply is promised to do while it is characterised, and what that needs at most."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.checks.output import allowed_off
from railwright.circuit.design import Design
from railwright.circuit.need import Output
from railwright.engine.model import ROOM
from railwright.engine.solutions import OperatingPoints
from railwright.prove.proof import Proof
from railwright.prove.run import prove
from railwright.quantity import show
from railwright.surveys.depth import QUICK
from railwright.surveys.fixture import SOURCE, Fixture
from railwright.surveys.operating_range import LEAST_SETTING, Points
from railwright.surveys.situations import Held
from railwright.surveys.stages import LIMIT_OVER
from railwright.surveys.survey import Survey
from railwright.surveys.windows import Window, windows

Array = NDArray[np.float64]
SHARES = (0.0, 0.5, 1.0)
"""Places between the ends of a setting and of a load that are measured."""
DANGEROUS = ("heat", "stress", "wiring")
"""Families of questions of which none may fall short before a supply is loaded."""
LEAST = 1e-3
"""A; a load of less draws no more when it is turned up."""
BEYOND = 1.1
"""Times the current at which an overload must be dealt with, to which a load is turned up."""


class NotReady(ValueError):
    """Why a supply is not characterised: what was found, what to do."""


@dataclass(frozen=True)
class Point:
    """A place at which a rail is measured."""

    rail: str
    volts: float
    """To which it is set."""
    amperes: float

    @property
    def told(self) -> str:
        """In words."""
        return f"{self.rail} at {show(self.volts, 'V')}, {show(self.amperes, 'A')}"


@dataclass(frozen=True)
class Bounds:
    """The most that source and load have to be allowed."""

    volts: float
    amperes: float
    """Of the source, and its power [W]."""
    load_volts: float
    load_amperes: float
    load_watts: float

    @property
    def watts(self) -> float:
        """Of the source."""
        return self.volts * self.amperes


@dataclass(frozen=True)
class Promised:
    """Windows of all places, and what has to be allowed for them."""

    points: tuple[Point, ...]
    volts: Mapping[Point, Window]
    """At the terminals, the rail being set at half load."""
    source: Mapping[Point, Window]
    """A of the bench source."""
    bounds: Bounds
    band: Mapping[str, float]
    """By how much each rail may be off its highest setting, to count as settled [V]."""


def promised(design: Design) -> Promised:
    """What is promised over the parts' spread, at nominal input and room temperature.

    NotReady where the input alternates, where the proof says that something is overloaded, or
    where a place has no operating point.
    """
    if Fixture.of(design).alternating:
        raise NotReady(
            "its input alternates, and a bench source does not. Load it by hand, and give the "
            "readings of the multimeter as a file."
        )
    _refuse_overloaded(prove(design, depth=QUICK))
    survey = Survey(Fixture.of(design))
    points = tuple(each for rail in survey.fixture.rails.values() for each in _points(rail))
    found = {point: _windows(survey, point) for point in points}
    volts = {point: pair[0] for point, pair in found.items()}
    source = {point: pair[1] for point, pair in found.items()}
    rails = survey.fixture.rails
    band = {
        rail: float(allowed_off(survey, rail, each.voltage.max)) for rail, each in rails.items()
    }
    return Promised(points, volts, source, _bounds(design, source), band)


def _refuse_overloaded(proof: Proof) -> None:
    short = [
        f"{finding.id} of {finding.subject}: {finding.because}"
        for finding in proof.ledger
        if finding.verdict == "falls short" and finding.id.partition(".")[0] in DANGEROUS
    ]
    if short:
        raise NotReady(f"the proof falls short where it would be loaded. {short[0]}")


def _points(output: Output) -> list[Point]:
    """Settings times loads, the least load first."""
    volts, amperes = output.voltage, output.current
    least = max(volts.min, LEAST_SETTING * volts.max)
    settings = dict.fromkeys(least + share * (volts.max - least) for share in SHARES)
    loads = dict.fromkeys(amperes.min + share * (amperes.max - amperes.min) for share in SHARES)
    return [Point(output.name, setting, load) for setting in settings for load in loads]


def _windows(survey: Survey, point: Point) -> tuple[Window, Window]:
    """At the terminals [V], and of the source [A]."""
    middle = survey.range.middle()

    def solve(actual: Array, _: NDArray[np.intp]) -> OperatingPoints:
        same = np.ones(actual.shape[1])
        others = {rail: axis[0] * same for rail, axis in middle.loads.items()}
        points = Points(
            {rail: axis[0] * same for rail, axis in middle.settings.items()}
            | {point.rail: point.volts * same},
            others | {point.rail: point.amperes * same},
            survey.range.nominal_input * same,
            ROOM * same,
        )
        return Held().view(survey, points, actual, None).at

    found = windows(
        survey.spread,
        solve,
        {
            "volts": lambda at: survey.rail_voltage(at, point.rail),
            "amperes": lambda at: at.of(SOURCE, "current"),
        },
    )
    if found.unsolved:
        raise NotReady(f"{point.told}: {found.unsolved} lanes have no operating point. Prove it.")
    return found.of["volts"], found.of["amperes"]


def _bounds(design: Design, source: Mapping[Point, Window]) -> Bounds:
    need = design.need
    rails = {output.name: output for output in need.output}
    # What is drawn while a load is turned up beyond its range grows with it.
    amperes = LIMIT_OVER * max(
        window.high * max(1.0, _most(rails[point.rail]) / max(point.amperes, LEAST))
        for point, window in source.items()
        if point.amperes == rails[point.rail].current.max
    )
    if need.input.limit is not None:
        amperes = min(amperes, need.input.limit.current)
    most = max(_most(output) for output in need.output)
    return Bounds(
        need.input.voltage.nominal,
        amperes,
        max(output.never_above or output.voltage.max for output in need.output),
        most,
        max(_most(output) * output.voltage.max for output in need.output),
    )


def _most(output: Output) -> float:
    """What a load takes of a rail at most [A]: turned up until the overload is dealt with."""
    over = output.overload
    if over is None or over.act_by is None:
        step = 0.0 if output.load_step is None else output.load_step.to
        return max(output.current.max, step)
    return BEYOND * over.act_by
