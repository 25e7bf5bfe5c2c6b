"""What a latch lives on: what feeds the supply, or a follower of that, and its rail for logic.

It stays when the supply is off. Of a direct source that is the input behind fuse and diode; behind
a transformer it is the reservoir, which is known when a sketch is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from railwright.architectures.architecture import Rectified, Task, Unserved
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import Spread, show

COMPARATOR = "391 type"
FIVE = 5.0
"""V for the latch: enough for every disable pin, and there long before a supply works."""
AWAKE = 0.8
"""Of the least input, at which the latch is let go (common practice, no source)."""
CLEAR = 1.1
"""Times the input at which the rail for logic is all there, at least."""
ON_THE_WAY = 1.0
"""V that fuse and diode ahead of the supply take at most (datasheets of Schottky diodes)."""
ZENERS = "zener 15 V 0.5 W", "zener 13 V 0.5 W", "zener 12 V 0.5 W", "zener 10 V 0.5 W"
"""For a latch whose parts do not stand the input: it lives on a follower of one of these."""
LEAST_LEFT = 1.0
"""V of the least input above a zener diode: for the resistor that feeds it."""
MOST_BASE = 0.8
"""V from base to emitter of a follower, at most."""
SMALL = 0.2
"""A of the regulator of that rail, at most."""
TAKES = 20e-3
"""A that it draws from a reservoir beside the load, at most: reference, logic, and the zener of a
follower (common practice, no source)."""


@dataclass(frozen=True)
class Aside:
    """What feeds the supply, and what is made of it for a latch."""

    task: Task
    raw: tuple[float, float]
    """V, least and most."""

    @classmethod
    def behind(cls, task: Task, raw: Rectified) -> Aside:
        """That of a reservoir behind a transformer."""
        return cls(task, (raw.low, raw.high))

    @cached_property
    def five(self) -> Entry:
        """The regulator of the rail for logic with the least dropout.

        Unserved where the input is too low or too high for it.
        """
        low, high = self.raw[0], self.fed[1]
        if self.follows:
            assert self.zener
            assert self.follower
        found = [
            entry
            for entry in _small_regulators(self.task)
            if high <= self.task.bears(entry, "supply_maximum")
        ]
        best = min(found, key=lambda e: (spread_of(e, "dropout").high, price_of(e)))
        if AWAKE * low < CLEAR * there_from(best):
            raise Unserved(
                f"its latch wants {show(CLEAR * there_from(best), 'V')} long before the input is "
                f"all there; that goes down to {show(low, 'V')}"
            )
        return best

    @cached_property
    def follows(self) -> bool:
        """Whether the input is more than what the latch is made of stands."""
        small = _small_regulators(self.task)
        regulator = max(self.task.bears(entry, "supply_maximum") for entry in small)
        comparator = self.task.bears(self.task.catalogue[COMPARATOR], "supply_maximum")
        return self.raw[1] > min(comparator, regulator)

    @property
    def fed(self) -> tuple[float, float]:
        """What feeds the latch, least and most [V]: what feeds the supply, or its follower."""
        if not self.follows:
            return self.raw
        volts = spread_of(self.zener, "zener_voltage")
        return volts.low - MOST_BASE, volts.high

    @cached_property
    def zener(self) -> Entry:
        """Of a follower, the highest that the least input feeds; Unserved where that feeds none."""
        low = self.raw[0] - LEAST_LEFT
        for name in ZENERS:
            entry = self.task.catalogue[name]
            if spread_of(entry, "zener_voltage").high <= low:
                return entry
        raise Unserved(
            f"what feeds the supply moves from {show(self.raw[0], 'V')} to "
            f"{show(self.raw[1], 'V')}: its latch does not stand that, and no follower is fed"
        )

    @cached_property
    def follower(self) -> Entry:
        """The cheapest npn transistor that stands the input; Unserved where none does."""
        high = self.raw[1]
        found = [
            entry
            for entry in of_kind(self.task.catalogue, "bipolar-transistor")
            if entry.options.get("polarity") == "npn"
            and self.task.bears(entry, "collector_emitter_voltage") >= high
        ]
        if not found:
            raise Unserved(f"no npn transistor of the catalogue stands {show(high, 'V')}")
        return min(found, key=lambda e: (price_of(e), spread_of(e, "collector_current").high))


def raw_of(task: Task) -> tuple[float, float]:
    """What a direct source feeds the supply with, least and most [V]."""
    source = task.need.input
    drawn = sum(output.current.max for output in task.need.output)
    return source.voltage.min - source.resistance * drawn - ON_THE_WAY, source.voltage.max


def five_of(task: Task) -> Spread:
    """What any regulator gives that the rail for logic may have [V]."""
    if task.need.input.kind != "ac":
        return spread_of(Aside(task, raw_of(task)).five, "output_voltage")
    each = [spread_of(entry, "output_voltage") for entry in _small_regulators(task)]
    return Spread.limits(min(e.low for e in each), FIVE, max(e.high for e in each))


def there_from(entry: Entry) -> float:
    """V at its input from which on a regulator gives all of its voltage."""
    return spread_of(entry, "output_voltage").high + spread_of(entry, "dropout").high


def _small_regulators(task: Task) -> list[Entry]:
    return [
        entry
        for entry in of_kind(task.catalogue, "low-dropout-regulator", "fixed-regulator")
        if "output_voltage" in entry.values
        and spread_of(entry, "output_voltage").typical == FIVE
        and spread_of(entry, "rated_current").typical <= SMALL
    ]
