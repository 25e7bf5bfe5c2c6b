"""Supply, multimeter and load, as measuring uses them.

What gives or takes power is switched off when it is taken over, and when it is let go, whatever
ends it: an error, an interrupt, the end of the program. Nothing is switched on that was not set
within the limits it was given, and read back as set.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterator
from dataclasses import dataclass

from railwright.bench.instruments.line import InstrumentError, Line
from railwright.bench.instruments.profile import Profile
from railwright.quantity import show

OVERRANGE = 9.0e37
"""SCPI's infinity is 9.9E37 and its not-a-number 9.91E37; some instruments answer less."""
AS_SET = 0.02
"""Share by which what a supply says of itself may be off from what it was set to."""
ON = ("1", "ON", "+1")


@dataclass(frozen=True)
class Limits:
    """What an instrument must not go beyond here."""

    volts: float
    amperes: float


class _Instrument:
    def __init__(self, line: Line, profile: Profile) -> None:
        self.line, self.profile = line, profile

    @property
    def name(self) -> str:
        """As it identifies itself: maker, type, number, version (IEEE 488.2)."""
        return self.line.ask(self.profile["identify"])

    def complain(self) -> None:
        """InstrumentError where its error queue is not empty; it is then."""
        said = self.line.ask(self.profile["error"])
        number = said.partition(",")[0].strip()
        if number.lstrip("+-") != "0":
            self.line.write(self.profile["clear"])
            raise InstrumentError(f"{self.line.address}: it complains: {said}.")

    def _do(self, what: str) -> None:
        self.line.write(self.profile[what])

    def _set(self, what: str, value: float) -> None:
        self.line.write(self.profile.with_value(what, value))

    def _read(self, what: str) -> float:
        found = self.line.number(self.profile[what])
        return math.inf if abs(found) >= OVERRANGE else found


class Multimeter(_Instrument):
    """A meter that takes readings."""

    def read(self, quantity: str) -> float:
        """A voltage [V], current [A] or resistance [Ω]; infinite over its range."""
        return self._read(f"read_{quantity}")


class _Switched(_Instrument):
    """What is switched on and off."""

    def off(self) -> None:
        """Switch off, and make sure. InstrumentError where it is not sure."""
        self._do("off")
        if self.is_on:
            raise InstrumentError(f"{self.line.address}: it stays on. Switch it off by hand, now.")

    @property
    def is_on(self) -> bool:
        """Whether its output or input is on."""
        return self.line.ask(self.profile["is_on"]).upper() in ON


class BenchSupply(_Switched):
    """A bench source."""

    def __init__(self, line: Line, profile: Profile, limits: Limits) -> None:
        super().__init__(line, profile)
        self.limits = limits

    def on(self, volts: float, amperes: float) -> None:
        """Set voltage and current limit, read them back, switch on.

        InstrumentError before anything is switched on where they are beyond the limits, or where it
        did not take them.
        """
        if not (0 <= volts <= self.limits.volts and 0 < amperes <= self.limits.amperes):
            raise InstrumentError(
                f"{self.line.address}: {show(volts, 'V')} with {show(amperes, 'A')} is beyond what "
                f"it was allowed here: {show(self.limits.volts, 'V')}, "
                f"{show(self.limits.amperes, 'A')}."
            )
        self.off()
        self._set("set_current", amperes)
        self._set("set_voltage", volts)
        self.complain()
        self._do("on")
        self.complain()

    def read(self, quantity: str) -> float:
        """Voltage [V] or current [A] at its terminals."""
        return self._read(f"read_{quantity}")


class BenchLoad(_Switched):
    """An electronic load, at constant current."""

    def __init__(self, line: Line, profile: Profile, limits: Limits) -> None:
        super().__init__(line, profile)
        self.limits = limits

    def take(self, amperes: float) -> None:
        """Take a current. InstrumentError where that is beyond the limits."""
        if not 0 <= amperes <= self.limits.amperes:
            raise InstrumentError(
                f"{self.line.address}: {show(amperes, 'A')} is beyond what it was allowed here: "
                f"{show(self.limits.amperes, 'A')}."
            )
        self._do("constant_current")
        self._set("set_current", amperes)
        self.complain()
        self._do("on")

    def read(self, quantity: str) -> float:
        """Voltage [V] or current [A] at its terminals."""
        return self._read(f"read_{quantity}")


@contextlib.contextmanager
def in_charge(*several: _Switched) -> Iterator[None]:
    """While instruments are used: off before, and off after, whatever happens.

    All are switched off, even where one of them cannot be; that one's error is told then.
    """
    try:
        for instrument in several:
            instrument.off()
        yield
    finally:
        failed: list[InstrumentError] = []
        for instrument in several:
            try:
                instrument.off()
            except InstrumentError as error:
                failed.append(error)
        if failed:
            raise failed[0]
