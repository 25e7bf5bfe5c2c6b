"""Bench: what to do, what to read, whether it is right; readings go into the log at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from threading import Lock
from typing import Any

from starlette.routing import Route

from railwright.bench.log import Log, LogError, log_of, opened
from railwright.bench.reading import USUAL, Meter, ReadingError
from railwright.bench.steps import Course, Step, course
from railwright.circuit.design import Design
from railwright.desk.answers import Refused, answering, text
from railwright.desk.desk import Desk
from railwright.desk.shown import Data
from railwright.measure.walk import dangerous, read
from railwright.pages import wording
from railwright.prove.unasked import cautions

Sent = Mapping[str, Any]


def routes(desk: Desk) -> list[Route]:
    """All that may be asked here."""
    bench = _Bench(desk)
    return [
        Route("/api/bench", answering(bench.whole)),
        Route("/api/reading", answering(bench.take), methods=["POST"]),
    ]


class _Bench:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._turn = Lock()
        self._known: tuple[Design, Course] | None = None

    def whole(self, _: Sent) -> Data:
        """All steps with what was read, and cautions first."""
        design = self.desk.opened.state().design
        steps = self._steps(design)
        with logged(self.desk) as log:
            told = [_told(step, log) for step in steps.steps]
        return {
            "cautions": cautions(design),
            "meter": USUAL,
            "steps": told,
            "refused": steps.refused,
        }

    def take(self, sent: Sent) -> Data:
        """Judge a reading, and keep it."""
        design = self.desk.opened.state().design
        steps = self._steps(design).steps
        number = sent.get("step")
        if not isinstance(number, int) or not 0 <= number < len(steps):
            raise Refused(f"there is no step {number}.")
        step = steps[number]
        try:
            reading = read(step, text(sent, "said").strip(), meter_of(sent))
        except ReadingError as error:
            raise Refused(str(error)) from error
        with logged(self.desk) as log:
            log.accept(reading)
            told = _told(step, log)
        verdict = step.judged(reading)
        return {**told, "danger": dangerous(step, reading, verdict)}

    def _steps(self, design: Design) -> Course:
        if design.is_need_only:
            raise Refused("There is no circuit on the bench yet, the file has a need alone.")
        with self._turn:
            if self._known is None or self._known[0] is not design:
                self._known = design, course(design)
            return self._known[1]


def meter_of(sent: Sent) -> Meter:
    """The meter that was used. ReadingError where its accuracy is none."""
    return Meter.of_words(str(sent.get("meter") or USUAL))


@contextmanager
def logged(desk: Desk) -> Iterator[Log]:
    """The log of the supply that is open. Refused where that file is something else."""
    state = desk.opened.state()
    try:
        with opened(log_of(desk.opened.path), state.design.title) as log:
            yield log
    except LogError as error:
        raise Refused(str(error)) from error


def _told(step: Step, log: Log) -> Data:
    reading = log.last(step.stage, step.place)
    return {
        "stage": step.stage,
        "place": step.place.told,
        "red": step.place.red,
        "black": step.place.black,
        "unit": step.place.unit,
        "window": step.told,
        "todo": list(step.todo),
        "read": None if reading is None else wording.quantity(reading.value, step.place.unit, 4),
        "verdict": None if reading is None else step.judged(reading),
    }
