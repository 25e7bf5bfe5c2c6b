"""Mend: suspects with their probabilities after the readings of a stage, and what to read next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from threading import Lock
from typing import Any

from starlette.routing import Route

from railwright.bench.reading import Meter, Place, Reading, ReadingError
from railwright.bench.steps import fitted_at
from railwright.circuit.design import Design
from railwright.desk.answers import Refused, answering, text
from railwright.desk.bench_view import logged, meter_of
from railwright.desk.desk import Desk
from railwright.desk.shown import Data
from railwright.mend.diagnosis import Diagnosis, Finder
from railwright.mend.predicted import Supply
from railwright.mend.told import precautions
from railwright.quantity import QuantityError, parse, show

Sent = Mapping[str, Any]
SHOWN = 12
"""Suspects that are shown."""


def routes(desk: Desk) -> list[Route]:
    """All that may be asked here."""
    mending = _Mending(desk)
    return [
        Route("/api/mend", answering(mending.whole)),
        Route("/api/mend/reading", answering(mending.take), methods=["POST"]),
    ]


class _Mending:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._turn = Lock()
        self._known: tuple[Design, str, Finder] | None = None

    def whole(self, _: Sent) -> Data:
        """What is suspected now."""
        design = self.desk.opened.state().design
        if design.is_need_only:
            raise Refused("There is no circuit that could be broken, the file has a need alone.")
        readings = self._readings()
        finder = self._finder(design, readings[-1].stage if readings else "")
        return _told(finder.diagnose(readings, Meter()), finder.supply, readings)

    def take(self, sent: Sent) -> Data:
        """Keep one more reading at the stage of the last one."""
        readings = self._readings()
        place = Place("voltage", text(sent, "red"), text(sent, "black"))
        if sent.get("quantity") == "current":
            place = Place("current", place.red, place.black)
        try:
            meter = meter_of(sent)
            value = parse(text(sent, "said").strip(), place.unit)
        except (ReadingError, QuantityError) as error:
            raise Refused(str(error)) from error
        stage = readings[-1].stage if readings else ""
        with logged(self.desk) as log:
            log.accept(Reading(stage, place, value, meter.error(value), meter.name))
        return self.whole(sent)

    def _readings(self) -> list[Reading]:
        """Those of the stage that was measured last; of one place the last."""
        with logged(self.desk) as log:
            known = [r for r in log.readings() if r.place.quantity != "resistance"]
        stage = known[-1].stage if known else ""
        return list({r.place: r for r in known if r.stage == stage}.values())

    def _finder(self, design: Design, stage: str) -> Finder:
        with self._turn:
            if self._known is None or (self._known[0], self._known[1]) != (design, stage):
                supply = Supply(design, fitted_at(design, stage) if stage else ())
                finder = Finder(supply, plain=True)
                self._known = design, stage, finder
            return self._known[2]


def _told(found: Diagnosis, supply: Supply, readings: Sequence[Reading]) -> Data:
    following = found.next
    return {
        "readings": [
            {"place": r.place.told, "value": show(r.value, r.place.unit, 4)} for r in readings
        ],
        "stage": readings[-1].stage if readings else "",
        "suspects": [
            {"words": each.words, "probability": each.probability, "because": each.because}
            for each in found.ranked[:SHOWN]
        ],
        "alike": [suspect.words for suspect in found.group[1:]],
        "unjudged": found.unjudged,
        "next": None
        if following is None
        else {
            "quantity": following.quantity,
            "red": following.red,
            "black": following.black,
            "place": following.told,
            "information": found.information,
            "before": list(precautions(found, supply, following)),
        },
    }
