"""Readings by instruments: a person holds the leads, instruments set, switch and read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from railwright.bench.instruments.instrument import (
    BenchLoad,
    BenchSupply,
    Limits,
    Multimeter,
    Oscilloscope,
    in_charge,
)
from railwright.bench.instruments.line import TIMEOUT, InstrumentError, Line
from railwright.bench.instruments.profile import Kind, Profile, profile_of
from railwright.bench.reading import ReadingError
from railwright.bench.steps import UNPOWERED, Step
from railwright.measure.walk import LEAVE, OVER, SKIP, Asked
from railwright.quantity import parse, show

if TYPE_CHECKING:
    from railwright.bench.simulated.bench import Hands

DIGITS = 7
WORDS = (LEAVE, SKIP)


@dataclass
class Instruments:
    """What of a bench can be asked by itself; all else is asked of a person."""

    person: Asked
    """Asked before each reading of the multimeter: whether its leads are there."""
    ready: Asked
    """Asked before a stage is powered: whether all is fitted and connected. Nothing is switched
    on before that was answered."""
    meter: Multimeter | None = None
    supply: BenchSupply | None = None
    load: BenchLoad | None = None
    oscilloscope: Oscilloscope | None = None
    hands: Hands | None = None
    """Of a simulated bench: they do what else a person does."""
    _powered: str | None = None
    """The stage that is powered."""

    def __call__(self, step: Step) -> str:
        """The reading of a step with its unit, or what the person says instead of taking it."""
        if self.supply is not None and step.stage != UNPOWERED and step.feed is not None:
            said = self._power(step, self.supply)
            if said in WORDS:
                return said
            if step.place.quantity == "current":
                return _told(self.supply.read("current"), step)
        said = self.person(step)
        if self.meter is None or said.strip():
            return said
        return _told(self.meter.read(step.place.quantity), step)

    def _power(self, step: Step, supply: BenchSupply) -> str:
        """Power a stage once its parts are fitted; what the person says."""
        if self._powered == step.stage:
            return ""
        said = self.ready(step).strip().lower()
        if said not in WORDS:
            assert step.feed is not None
            supply.on(step.feed.volts, step.feed.limit)
            self._powered = step.stage
        return said

    def off(self) -> None:
        """Between stages: parts are fitted without power."""
        self._powered = None
        for instrument in (self.supply, self.load):
            if instrument is not None:
                instrument.off()


def _told(value: float, step: Step) -> str:
    if value == float("inf"):
        if step.place.quantity == "resistance":
            return OVER[0]
        raise ReadingError(f"{step.place.told}: the meter is over its range.")
    return show(value, step.place.unit, DIGITS)


@contextmanager
def on_the_bench(
    person: Asked,
    ready: Asked,
    addresses: Mapping[Kind, str],
    most: tuple[str, str],
    load_most: tuple[str, str, str] = ("0 V", "0 A", "0 W"),
    *,
    profiles: Mapping[Kind, Path] | None = None,
    timeout: float = TIMEOUT,
) -> Iterator[Instruments]:
    """The instruments at VISA addresses; source and load are off before and after.

    most: voltage and current that the source may be set to. load_most: voltage, current and power
    that the load may have.
    profiles: files with commands of their own. timeout: within which each has to answer [s].
    InstrumentError where one does not answer or two are one, ProfileError of a profile,
    QuantityError where `most` is none.
    """
    limits = Limits(parse(most[0], "V"), parse(most[1], "A"))
    load = Limits(*(parse(text, unit) for text, unit in zip(load_most, "VAW", strict=True)))
    with ExitStack() as stack:

        def opened(kind: Kind) -> tuple[Line, Profile]:
            line = stack.enter_context(Line(addresses[kind], timeout))
            line.identity  # noqa: B018  who it is comes first, before anything is set
            return line, profile_of(kind, (profiles or {}).get(kind))

        _refuse_doubles(addresses)
        found = Instruments(person, ready)
        if "supply" in addresses:
            found.supply = BenchSupply(*opened("supply"), limits)
        if "load" in addresses:
            found.load = BenchLoad(*opened("load"), load)
        stack.enter_context(in_charge(*filter(None, (found.supply, found.load))))
        if "multimeter" in addresses:
            found.meter = Multimeter(*opened("multimeter"))
        if "oscilloscope" in addresses:
            found.oscilloscope = Oscilloscope(*opened("oscilloscope"))
        yield found


def _refuse_doubles(addresses: Mapping[Kind, str]) -> None:
    """Two instruments at one address are one that would be told two things."""
    kinds = {address: kind for kind, address in addresses.items()}
    for kind, address in addresses.items():
        if kinds[address] != kind:
            raise InstrumentError(
                f"{address} is named for {kind} and for {kinds[address]}. Look at both addresses."
            )
