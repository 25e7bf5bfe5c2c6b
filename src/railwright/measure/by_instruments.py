"""Readings by instruments: a person holds the leads, instruments set, switch and read."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

from railwright.bench.instruments.instrument import BenchSupply, Limits, Multimeter, in_charge
from railwright.bench.instruments.line import Line
from railwright.bench.instruments.profile import standard
from railwright.bench.reading import ReadingError
from railwright.bench.steps import UNPOWERED, Step
from railwright.measure.walk import LEAVE, OVER, SKIP, Asked
from railwright.quantity import parse, show

DIGITS = 7


@dataclass
class Instruments:
    """What of a bench can be asked by itself; all else is asked of a person."""

    person: Asked
    """Asked before each reading of the multimeter: whether its leads are there."""
    meter: Multimeter | None = None
    supply: BenchSupply | None = None
    _powered: str | None = None
    """The stage that is powered."""

    def __call__(self, step: Step) -> str:
        """The reading of a step with its unit, or what the person says instead of taking it."""
        if self.supply is not None and step.stage != UNPOWERED and step.feed is not None:
            self._power(step, self.supply)
            if step.place.quantity == "current":
                return _told(self.supply.read("current"), step)
        said = self.person(step)
        if self.meter is None or said.strip().lower() in (LEAVE, SKIP) or said.strip():
            return said
        return _told(self.meter.read(step.place.quantity), step)

    def _power(self, step: Step, supply: BenchSupply) -> None:
        if self._powered != step.stage:
            assert step.feed is not None
            supply.on(step.feed.volts, step.feed.limit)
            self._powered = step.stage

    def off(self) -> None:
        """Between stages: parts are fitted without power."""
        self._powered = None
        if self.supply is not None:
            self.supply.off()


def _told(value: float, step: Step) -> str:
    if value == float("inf"):
        if step.place.quantity == "resistance":
            return OVER[0]
        raise ReadingError(f"{step.place.told}: the meter is over its range.")
    return show(value, step.place.unit, DIGITS)


@contextmanager
def on_the_bench(
    person: Asked, multimeter: str | None, supply: str | None, most: tuple[str, str]
) -> Iterator[Instruments]:
    """The instruments at VISA addresses, those that are named; the supply is off before and after.

    most: voltage and current that the supply may be set to. InstrumentError where one does not
    answer, QuantityError where `most` is none.
    """
    with ExitStack() as stack:
        meter = source = None
        if multimeter is not None:
            meter = Multimeter(stack.enter_context(Line(multimeter)), standard("multimeter"))
        if supply is not None:
            limits = Limits(parse(most[0], "V"), parse(most[1], "A"))
            line = stack.enter_context(Line(supply))
            source = BenchSupply(line, standard("supply"), limits)
            stack.enter_context(in_charge(source))
        yield Instruments(person, meter, source)
