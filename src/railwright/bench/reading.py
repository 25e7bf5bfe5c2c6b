"""Readings, and how well a meter reads."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Quantity = Literal[
    "voltage", "current", "resistance", "ripple", "noise", "deviation", "settling", "trip current"
]
"""What is read. Ripple is from peak to peak, noise rms. Deviation and settling are of a load step
as the need has it, a trip current is the load's at which an overload acts."""
UNITS: Mapping[Quantity, str] = {
    "voltage": "V",
    "current": "A",
    "resistance": "Ω",
    "ripple": "V",
    "noise": "V",
    "deviation": "V",
    "settling": "s",
    "trip current": "A",
}
Condition = Literal["cold", "settled"]
"""Right after switching on, or once it has come to rest."""
Verdict = Literal["inside", "outside", "doubtful"]
_ACCURACY = re.compile(
    r"\s*(\d+(?:\.\d+)?)\s*%\s*(?:\+\s*(\d+)\s*(?:digits?|counts?)\s*(?:of\s*(\d+))?)?\s*"
)


USUAL = "1 % + 2 digits of 2000"
"""Accuracy of a meter of which nothing else is said (common practice, no source)."""


class ReadingError(ValueError):
    """Something that is no reading: what was found, what is wanted."""


@dataclass(frozen=True)
class Meter:
    """How far a meter may be off: a share of the reading and some counts of its range."""

    name: str = "multimeter"
    share: float = 0.01
    counts: float = 2.0
    of: float = 2000.0
    """Counts of a full range."""

    @classmethod
    def of_words(cls, text: str, name: str = "multimeter") -> Meter:
        """A meter of its accuracy in words. ReadingError where they are none.

        >>> Meter.of_words("0.5 % + 3 digits of 4000")
        Meter(name='multimeter', share=0.005, counts=3.0, of=4000.0)
        """
        found = _ACCURACY.fullmatch(text)
        if found is None:
            raise ReadingError(
                f'"{text}" is no accuracy. Write "1 %", or "0.5 % + 3 digits of 4000".'
            )
        counts = float(found[2] or 0.0)
        return cls(name, float(found[1]) / 100.0, counts, float(found[3] or cls.of))

    def error(self, value: float) -> float:
        """By how much a reading may be off, at most; ranges go up in decades of two.

        >>> round(Meter(share=0.01, counts=2, of=2000).error(5.0), 3)
        0.07
        """
        return self.share * abs(value) + self.counts * self.range(value) / self.of

    def range(self, value: float) -> float:
        """The least of the ranges 0.2, 2, 20 ... that takes a value."""
        full = 0.2
        while abs(value) >= full:
            full *= 10.0
        return full


ALONE = " alone"
"""After the ref of a part: one of its leads is lifted, and what is read is that part."""


@dataclass(frozen=True)
class Place:
    """What was read, and where."""

    quantity: Quantity
    red: str
    """Net of the red lead; of a current, of the plus of the bench source."""
    black: str
    under: str = ""
    """What is otherwise than at bringing up: "load", where one is connected; "R4 alone", where a
    lead of R4 is lifted and the meter is across it."""

    @property
    def unit(self) -> str:
        """Of its readings."""
        return UNITS[self.quantity]

    @property
    def told(self) -> str:
        """As a person is asked for it."""
        if self.under.endswith(ALONE):
            return f"{self.quantity} of {self.under}, one of its leads lifted"
        under = f" under {self.under}" if self.under else ""
        if self.quantity == "current":
            return f"current from {self.red}{under}"
        return f"{self.quantity} of {self.red} from {self.black}{under}"


@dataclass(frozen=True)
class At:
    """Where in the operating range something was read, as far as anybody said."""

    setting: float | None = None
    """What the rail is set to [V]."""
    load: float | None = None
    """What the rail's load takes [A]."""
    input: float | None = None
    """[V]."""
    ambient: float | None = None
    """Air [K]."""


@dataclass(frozen=True)
class Reading:
    """One value that was read at a stage."""

    stage: str
    place: Place
    value: float
    """In the unit of the place; infinite where the meter shows overrange."""
    error: float
    """By how much it may be off [same unit]."""
    meter: str = ""
    condition: Condition = "settled"
    at: At = At()
    taken: str = ""
    """When the log accepted it (ISO 8601); empty where it is not from a log."""


def verdict(reading: Reading, low: float, high: float) -> Verdict:
    """Where a reading is of a window: outside only where no error of the meter explains it.

    >>> place = Place("voltage", "OUT", "GND")
    >>> verdict(Reading("all", place, 5.02, 0.07), 4.9, 5.1)
    'inside'
    >>> verdict(Reading("all", place, 5.12, 0.07), 4.9, 5.1)
    'doubtful'
    >>> verdict(Reading("all", place, 5.2, 0.07), 4.9, 5.1)
    'outside'
    """
    if low <= reading.value <= high:
        return "inside"
    nearest = low if reading.value < low else high
    return "doubtful" if abs(reading.value - nearest) <= reading.error else "outside"
