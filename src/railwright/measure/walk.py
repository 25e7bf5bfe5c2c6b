"""The walk through bring-up: one step at a time, each reading judged at once and kept.

What is read already is not asked for again, so that a walk can be left and gone on with. It ends
where it would be dangerous to go on, and at a stage of which a reading is outside its window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from railwright.bench.log import Log
from railwright.bench.reading import Meter, Place, Reading, ReadingError
from railwright.bench.steps import UNPOWERED, Course, Step, consistent
from railwright.quantity import QuantityError, parse, show

OVER = ("ol", "o.l", "overrange", "over", "open", "inf", "∞")
"""What meters show beyond their range."""
LEAVE, SKIP = "leave", "skip"
"""Answers that leave the walk, and a step."""
FAR = 1.1
"""Times the end of its window above which a voltage is one to switch off at."""


Asked = Callable[[Step], str]
"""Who takes the readings: gives a value with its unit, or one of the words above."""
Tell = Callable[[str], None]


@dataclass
class Outcome:
    """How far a walk came."""

    read: list[tuple[Step, Reading, str]] = field(default_factory=list)
    """Every step with its reading and verdict, those of earlier walks among them."""
    left_open: list[Step] = field(default_factory=list)
    ended: str = ""
    """Why it ended before the last step; empty where it did not."""

    @property
    def outside(self) -> list[tuple[Step, Reading]]:
        """Readings that no error of the meter explains."""
        return [(step, reading) for step, reading, verdict in self.read if verdict == "outside"]

    @property
    def status(self) -> int:
        """0 all is inside its window, 1 something is outside, 3 something was not read."""
        if self.outside:
            return 1
        return 3 if self.left_open else 0


def walk(
    course: Course,
    log: Log,
    asked: Asked,
    tell: Tell,
    meter: Meter,
    between: Callable[[], None] = lambda: None,
) -> Outcome:
    """Go through all steps that are not read yet; between stages something may be done first."""
    outcome = Outcome()
    stages = [(name, list(steps)) for name, steps in groupby(course.steps, lambda s: s.stage)]
    for name, steps in stages:
        if outcome.ended:
            outcome.left_open += steps
            continue
        between()
        _stage(name, steps, log, asked, tell, meter, outcome)
    if course.refused and not outcome.ended:
        outcome.ended = course.refused
    return outcome


def _stage(
    name: str,
    steps: Sequence[Step],
    log: Log,
    asked: Asked,
    tell: Tell,
    meter: Meter,
    outcome: Outcome,
) -> None:
    todo = next((step.todo for step in steps if step.todo), ())
    known = [log.last(name, step.place) for step in steps]
    if not all(known):
        tell(f"Stage: {name}")
        for text in todo:
            tell(text)
    for place, (step, before) in enumerate(zip(steps, known, strict=True)):
        reading = before or _taken(step, log, asked, tell, meter)
        if reading is None:
            outcome.ended = "left by you; go on with the same command"
            outcome.left_open += steps[place:]
            return
        if isinstance(reading, str):
            outcome.left_open.append(step)
            continue
        verdict = step.judged(reading)
        outcome.read.append((step, reading, verdict))
        if before is None:
            tell(f"{_value(reading)}: {verdict} ({step.told})")
        if why := dangerous(step, reading, verdict):
            tell(why)
            outcome.ended = why
            outcome.left_open += steps[place + 1 :]
            return
    outcome.ended = _not_on(name, steps, outcome)


def _taken(step: Step, log: Log, asked: Asked, tell: Tell, meter: Meter) -> Reading | str | None:
    """A reading, kept; `skip`, or None where the walk is left."""
    while True:
        said = asked(step).strip()
        if said.lower() in (LEAVE, SKIP):
            return None if said.lower() == LEAVE else SKIP
        try:
            reading = read(step, said, meter)
        except ReadingError as error:
            tell(str(error))
            continue
        log.accept(reading)
        return reading


def read(step: Step, said: str, meter: Meter) -> Reading:
    """What was said as a reading. ReadingError where it is none."""
    place = step.place
    if said.lower() in OVER and place.quantity == "resistance":
        return Reading(step.stage, place, float("inf"), 0.0, meter.name)
    try:
        value = parse(said, place.unit)
    except QuantityError as error:
        raise ReadingError(f"{error} {_wanted(place)}") from error
    return Reading(step.stage, place, value, meter.error(value), meter.name)


def _wanted(place: Place) -> str:
    more = " OL stands for more than the meter shows." if place.quantity == "resistance" else ""
    return f"Or write {SKIP}, or {LEAVE}.{more}"


def _value(reading: Reading) -> str:
    return f"{reading.place.told} {show(reading.value, reading.place.unit, 4)}"


def dangerous(step: Step, reading: Reading, verdict: str) -> str:
    """Why it would be dangerous to go on; empty where it is not."""
    if verdict != "outside":
        return ""
    place = step.place
    if place.quantity == "resistance":
        return f"{place.red} is as good as shorted: do not connect a source before it is found."
    if place.quantity == "current":
        return "Switch off: more is drawn than any sound part would take. Feel what got warm."
    high = max(window.high for window in step.windows)
    if high > 0 and reading.value > FAR * high + reading.error:
        return (
            f"Switch off: {place.red} is far above its window, and what it feeds may not bear it."
        )
    return ""


def _not_on(name: str, steps: Sequence[Step], outcome: Outcome) -> str:
    """Why the next stage is not asked for; empty where it is."""
    own = [(step, reading) for step, reading in outcome.outside if step.stage == name]
    if own:
        nets = ", ".join(step.place.red for step, _ in own)
        return f"{name}: {nets} outside: find that before the next stage is fitted"
    readings = [reading for step, reading, _ in outcome.read if step.stage == name]
    if name != UNPOWERED and readings and not consistent(steps, readings):
        return f"{name}: each reading fits some state, but no state fits all of them"
    return ""


def from_rows(rows: Iterator[dict[str, str]]) -> Asked:
    """Readings of a file: by stage, quantity and nets; what it lacks is skipped."""
    known = {
        (row.get("stage", ""), row.get("quantity", "voltage"), row.get("red", "")): _cell(row)
        for row in rows
    }

    def asked(step: Step) -> str:
        place = step.place
        keys = [(step.stage, place.quantity, place.red), ("", place.quantity, place.red)]
        return next((known[key] for key in keys if key in known), SKIP)

    return asked


def _cell(row: dict[str, str]) -> str:
    value, unit = row.get("value", "").strip(), row.get("unit", "").strip()
    return value if not unit or value.lower() in OVER else f"{value} {unit}"
