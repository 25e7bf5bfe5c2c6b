"""Measured against predicted: every reading beside what a sound supply reads at the same place."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby

import numpy as np

from railwright.bench.expected import DEPTH, Asked, Expected, expected
from railwright.bench.reading import At, Place, Quantity, Reading, verdict
from railwright.checks import every
from railwright.checks.check import Check
from railwright.circuit.design import Design
from railwright.circuit.need import Output
from railwright.prove.run import looked_past
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import Fixture, terminals
from railwright.surveys.mains import as_fed
from railwright.surveys.situations import HELD, View
from railwright.surveys.survey import Survey

VOLTAGE = "output.voltage"
"""What the terminals of a rail read that nobody sets: no question of the proof, but what several
are made of."""
TOLD_BY: Mapping[Quantity, tuple[str, ...]] = {
    "ripple": ("ripple.output", "ripple.mains"),
    "noise": ("noise.output",),
    "deviation": ("transient.load-step",),
    "settling": ("transient.settle",),
    "trip current": (
        "overload.carries",
        "overload.acts",
        "overload.limit-carries",
        "overload.limit-acts",
    ),
}
"""What is read -> the questions of the proof whose value it is, where they are put to a rail."""
SAME = 1e-3
"""Share by which places may differ that are the same on one axis."""


_NOWHERE = Place("voltage", "", "")


@dataclass(frozen=True)
class Observed:
    """A value of a rail as some question has it, from one reading or from two."""

    id: str
    rail: str
    unit: str
    at: At
    value: float
    error: float
    """By how much it may be off [unit]."""
    meter: str
    taken: str


@dataclass(frozen=True)
class Compared:
    """What was measured beside what was predicted."""

    observed: Observed
    expected: Expected | None
    why: str = ""
    """Why nothing is predicted; empty where something is."""

    @property
    def verdict(self) -> str:
        """inside, doubtful (the meter may be off by so much), outside, or not predicted."""
        if self.expected is None:
            return "not predicted"
        as_read = Reading("", _NOWHERE, self.observed.value, self.observed.error)
        return verdict(as_read, self.expected.low, self.expected.high)

    @property
    def margin(self) -> float | None:
        """How far what was measured is from the need's limit, positive is good; None where the
        need has none."""
        if self.expected is None or self.expected.limit is None:
            return None
        left = self.expected.limit - self.observed.value
        return left if self.expected.at_most else -left

    @property
    def is_kept(self) -> bool | None:
        """Whether it keeps the limit; None where there is none, or the meter's error decides."""
        if self.margin is None or abs(self.margin) <= self.observed.error:
            return None
        return self.margin > 0.0


def compared(design: Design, readings: Sequence[Reading]) -> list[Compared]:
    """Every reading that says where it was read, and what follows of several, beside what a
    sound supply has there."""
    survey = looked_past(Survey(Fixture.of(design), depth=DEPTH))
    checks = {check.id: check for check in every()}
    observed = sorted(_observed(survey, readings), key=_question)
    found = []
    for (name, rail), group in groupby(observed, _question):
        several = list(group)
        asked = _asked(survey, checks, name, rail)
        if isinstance(asked, str):
            found += [Compared(each, None, asked) for each in several]
            continue
        told = expected(survey, asked, rail, [each.at for each in several])
        found += [
            Compared(each, None, there) if isinstance(there, str) else Compared(each, there)
            for each, there in zip(several, told, strict=True)
        ]
    return found


def left_out(design: Design, readings: Sequence[Reading]) -> list[Reading]:
    """Readings that are at no rail's terminals, or do not say where in its range."""
    rails = design.need.output
    return [each for each in readings if not any(_counts(each, output) for output in rails)]


def _counts(reading: Reading, output: Output) -> bool:
    nets, place = terminals(output), reading.place
    if (place.red, place.black) != (nets.plus, nets.minus) or not np.isfinite(reading.value):
        return False
    return place.quantity in TOLD_BY or (place.quantity == "voltage" and reading.at != At())


def exit_status(found: Sequence[Compared]) -> int:
    """0 all is as predicted and keeps its limit, 1 something is not or does not, 3 nothing was
    compared."""
    if any(each.verdict == "outside" or each.is_kept is False for each in found):
        return 1
    return 0 if any(each.expected is not None for each in found) else 3


def _question(observed: Observed) -> tuple[str, str]:
    return observed.id, observed.rail


def _asked(survey: Survey, checks: Mapping[str, Check], name: str, rail: str) -> Asked | str:
    """How a quantity is predicted; where it is not, why."""
    if name == VOLTAGE:
        return Asked(as_fed(survey, HELD), partial(_terminals, rail=rail))
    check = checks[name]
    if why := check.missing(survey, rail):
        return why
    return Asked(as_fed(survey, check.situation), partial(check.answer, subject=rail))


def _terminals(view: View, rail: str) -> Answer:
    volts = view.output(rail)
    return Answer(volts, volts, np.full(volts.shape, np.nan))


def _observed(survey: Survey, readings: Sequence[Reading]) -> Iterator[Observed]:
    checks = {check.id: check for check in every()}
    for rail, output in survey.fixture.rails.items():
        own = [reading for reading in readings if _counts(reading, output)]

        def is_asked(name: str, rail: str = rail) -> bool:
            return name in checks and rail in checks[name].subjects(survey)

        for reading in own:
            for name in TOLD_BY.get(reading.place.quantity, ()):
                if is_asked(name):
                    yield _seen(name, rail, reading)
        volts = [reading for reading in own if reading.place.quantity == "voltage"]
        yield from _of_volts(survey, rail, volts, is_asked)


def _seen(name: str, rail: str, reading: Reading) -> Observed:
    at, unit = reading.at, reading.place.unit
    taken = reading.taken
    return Observed(name, rail, unit, at, reading.value, reading.error, reading.meter, taken)


def _of_volts(
    survey: Survey, rail: str, volts: Sequence[Reading], is_asked: Callable[[str], bool]
) -> Iterator[Observed]:
    """Voltages, and by how far they are off, or move from one to the other."""
    is_set = rail in survey.controls_of_role("set").values()
    for reading in volts:
        if not is_set:  # else it is what the person made it, at a load that nobody wrote down
            yield _seen(VOLTAGE, rail, reading)
        if is_asked("output.accuracy"):
            setting = float(survey.range.settings[rail][0])
            yield _moved("output.accuracy", rail, reading, setting, 0.0)
        for name, beside in (
            ("output.load-regulation", _beside(survey, rail, reading, volts, "load")),
            ("output.line-regulation", _beside(survey, rail, reading, volts, "input")),
        ):
            if beside is not None and is_asked(name):
                yield _moved(name, rail, reading, beside.value, beside.error)


def _moved(name: str, rail: str, reading: Reading, since: float, error: float) -> Observed:
    away = abs(reading.value - since)
    own, meter, taken = reading.error + error, reading.meter, reading.taken
    return Observed(name, rail, reading.place.unit, reading.at, away, own, meter, taken)


def _beside(
    survey: Survey, rail: str, reading: Reading, volts: Sequence[Reading], axis: str
) -> Reading | None:
    """The last reading at the least load, or at nominal input, with all else the same; None where
    there is none, or where this is it."""
    least, nominal = float(survey.range.loads[rail][0]), survey.range.nominal_input
    wanted = {"load": least, "input": nominal}[axis]
    own = getattr(reading.at, axis)
    if own is None or _is_same(own, wanted):
        return None
    others = [name for name in ("setting", "load", "input", "ambient") if name != axis]
    found = [
        other
        for other in volts
        if (there := getattr(other.at, axis)) is not None
        and _is_same(there, wanted)
        and all(_agree(getattr(reading.at, name), getattr(other.at, name)) for name in others)
    ]
    return found[-1] if found else None


def _agree(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return _is_same(one, other)


def _is_same(one: float, other: float) -> bool:
    return abs(one - other) <= SAME * max(abs(one), abs(other), 1e-3)
