"""Supply, multimeter, load and oscilloscope, as measuring uses them.

What gives or takes power is switched off when it is taken over, and when it is let go, whatever
ends it: an error, an interrupt, the end of the program. Nothing is switched on that was not set
within the limits it was given, and read back as set.
"""

from __future__ import annotations

import contextlib
import math
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from types import FrameType
from typing import Any

import numpy as np

from railwright.bench.capture import Capture
from railwright.bench.instruments.line import InstrumentError, Line
from railwright.bench.instruments.profile import Profile
from railwright.quantity import show

OVERRANGE, NO_NUMBER = 9.0e37, 9.91e37
"""SCPI's infinity is 9.9E37, some instruments answer less; the other is its not-a-number."""
MOST = {"voltage": 1500.0, "current": 1000.0, "resistance": 1e12}
"""V, A and Ω beyond which no meter here reads: such a number is none (a need has these bounds)."""
AS_SET = 0.02
"""Share by which what a supply says of itself may be off from what it was set to."""
LEAST_SET = 5e-3
"""V or A by which it may be off at any rate: a step of usual instruments (common practice)."""
ON, OFF = ("1", "ON", "+1"), ("0", "OFF", "+0", "-0")
TINIEST = 1e-6
"""A; a source whose current limit is less gives nothing: that was not meant."""
TRIES = 3
"""Times that switching off is tried before it is given up."""

ENDING = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)


@dataclass(frozen=True)
class Limits:
    """What an instrument must not go beyond here."""

    volts: float
    amperes: float
    watts: float = math.inf


class _Instrument:
    def __init__(self, line: Line, profile: Profile) -> None:
        self.line, self.profile = line, profile

    @property
    def name(self) -> str:
        """As it identifies itself: maker, type, number, version (IEEE 488.2)."""
        return self.line.identity

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

    def _read(self, quantity: str) -> float:
        """A reading; infinite beyond its range. InstrumentError where it cannot be one."""
        found = self.line.number(self.profile[f"read_{quantity}"])
        if OVERRANGE <= abs(found) < NO_NUMBER:
            return math.copysign(math.inf, found)
        if abs(found) > MOST[quantity]:
            raise InstrumentError(
                f"{self.line.address}: it read {found:g} for a {quantity}, which none can be. Look "
                "at what it is connected to, and take the reading by hand."
            )
        return found


class Multimeter(_Instrument):
    """A meter that takes readings."""

    def read(self, quantity: str) -> float:
        """A voltage [V], current [A] or resistance [Ω]; infinite over its range."""
        return self._read(quantity)


class _Switched(_Instrument):
    """What is switched on and off, within limits."""

    def __init__(self, line: Line, profile: Profile, limits: Limits) -> None:
        super().__init__(line, profile)
        self.limits = limits

    def off(self) -> None:
        """Switch off, and make sure. InstrumentError where it is not sure."""
        self._do("off")
        if self.is_on:
            raise InstrumentError(f"{self.line.address}: it stays on. Switch it off by hand, now.")

    @property
    def is_on(self) -> bool:
        """Whether its output or input is on. InstrumentError where it does not say."""
        said = self.line.ask(self.profile["is_on"]).upper()
        if said not in (*ON, *OFF):
            raise InstrumentError(
                f"{self.line.address}: it answered {said!r} when asked whether it is on. Switch it "
                "off by hand, now."
            )
        return said in ON

    def _within(self, volts: float, amperes: float, least: float = 0.0) -> None:
        """InstrumentError, before anything is sent, where that is beyond the limits."""
        most = self.limits
        if not (
            0 <= volts <= most.volts
            and least <= amperes <= most.amperes
            and volts * amperes <= most.watts
        ):
            power = "" if math.isinf(most.watts) else f", {show(most.watts, 'W')}"
            raise InstrumentError(
                f"{self.line.address}: {show(volts, 'V')} with {show(amperes, 'A')} is beyond what "
                f"it was allowed here: {show(most.volts, 'V')}, {show(most.amperes, 'A')}{power}."
            )

    def _taken(self, what: str, wanted: float) -> None:
        """InstrumentError where it is not set to what it was told."""
        found = self.line.number(self.profile[what])
        if not abs(found - wanted) <= max(AS_SET * abs(wanted), LEAST_SET):
            raise InstrumentError(
                f"{self.line.address}: it was set to {wanted:g} and says {found:g}. It stays off; "
                "look at its own limits."
            )


class BenchSupply(_Switched):
    """A bench source."""

    def on(self, volts: float, amperes: float) -> None:
        """Set voltage and current limit, read them back, switch on.

        InstrumentError before anything is switched on where they are beyond the limits, or where it
        did not take them.
        """
        self._within(volts, amperes, least=TINIEST)
        self.off()
        self._set("set_current", amperes)
        self._set("set_voltage", volts)
        self.complain()
        self._taken("current_set", amperes)
        self._taken("voltage_set", volts)
        self._do("on")
        self.complain()

    def read(self, quantity: str) -> float:
        """Voltage [V] or current [A] at its terminals."""
        return self._read(quantity)


class BenchLoad(_Switched):
    """An electronic load, at constant current."""

    def take(self, amperes: float, volts: float = 0.0) -> None:
        """Take a current at about such a voltage. InstrumentError where it is beyond the limits."""
        self._within(volts, amperes)
        self._do("constant_current")
        self._set("set_current", amperes)
        self.complain()
        self._taken("current_set", amperes)
        self._do("on")

    def read(self, quantity: str) -> float:
        """Voltage [V] or current [A] at its terminals."""
        return self._read(quantity)


class NotTriggered(InstrumentError):
    """What an oscilloscope waited for did not come."""


class Oscilloscope(_Instrument):
    """What takes captures."""

    def set_up(self, span: float, samples: int, before: float = 0.0, band: float = 20e6) -> None:
        """How long it takes [s], how many samples, how much of it before the trigger [s].

        band: of its input [Hz].
        """
        self._do("form")
        self._do("order")
        for what, value in (
            ("band", band),
            ("span", span),
            ("samples", float(samples)),
            ("begin", -before),
        ):
            self._set(what, value)
        self.before = before
        self.complain()

    def see(self, middle: float, height: float) -> None:
        """What it shows: volts about a middle."""
        self._set("range", height)
        self._set("middle", middle)
        self.complain()

    def arm(self, level: float | None = None, *, rising: bool = True) -> None:
        """Wait for an edge through a level [V], or take a capture at once where none is said."""
        if level is None:
            self._do("at_once")
        else:
            self._do("on_edge")
            self._set("level", level)
            self._do("rising" if rising else "falling")
        self.complain()
        self._do("arm")

    def capture(self, channel: str = "channel 1") -> Capture:
        """What it took. NotTriggered where it took nothing, InstrumentError where it cannot be."""
        step = self.line.number(self.profile["step"])
        volts = self.line.block(self.profile["data"])
        if not volts.size:
            self._do("stop")
            raise NotTriggered(
                f"{self.line.address}: it took nothing: its trigger did not come. Look at "
                "its level."
            )
        if not (step > 0 and np.isfinite(volts).all() and np.abs(volts).max() <= MOST["voltage"]):
            raise InstrumentError(
                f"{self.line.address}: what it took cannot be volts over time. Is it the right "
                "instrument?"
            )
        return Capture(-self.before, step, {channel: volts})


class Ended(SystemExit):
    """A signal that ends the program; status as a shell tells of it."""


@contextlib.contextmanager
def in_charge(*several: _Switched) -> Iterator[None]:
    """While instruments are used: off before, and off after, whatever happens.

    Signals that end a program end what is done here first. All are switched off, even where one
    of them cannot be; that one's error is told then. What kills the program at once leaves them
    as they are, within their limits: the next program switches them off first.
    """
    with _signals(_ending()):
        try:
            for instrument in several:
                instrument.off()
            yield
        finally:
            _all_off(several)


def _all_off(several: Sequence[_Switched]) -> None:
    """Switch all off, undisturbed; the first that is not sure to be off is told then."""
    ended: BaseException | None = None
    failed: list[InstrumentError] | None = None
    while failed is None:
        try:
            with _signals(signal.SIG_IGN):
                failed = [error for each in several if (error := _tried_off(each))]
        except (KeyboardInterrupt, Ended) as signalled:  # it came before signals were ignored
            ended = signalled
    if failed:
        raise failed[0]
    if ended is not None:
        raise ended


def _tried_off(instrument: _Switched) -> InstrumentError | None:
    """Switch off, in several tries; what was said last where it is not sure."""
    error = None
    for _ in range(TRIES):
        try:
            instrument.off()
        except InstrumentError as again:
            error = again
        else:
            return None
    address = instrument.line.address
    return InstrumentError(f"{address}: SWITCH IT OFF BY HAND, NOW: it may still be on. {error}")


def _ending() -> Callable[[int, FrameType | None], None]:
    """A handler of signals that ends what is done, once: impatience does not keep it from off."""
    told: list[int] = []

    def end(number: int, _: FrameType | None) -> None:
        if told:
            return
        told.append(number)
        if number == signal.SIGINT:
            raise KeyboardInterrupt
        raise Ended(128 + number)

    return end


@contextlib.contextmanager
def _signals(handler: Callable[[int, FrameType | None], Any] | signal.Handlers) -> Iterator[None]:
    """Signals that end a program are handled so; only the main thread can say how."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {number: signal.signal(number, handler) for number in ENDING}
    try:
        yield
    finally:
        for number, old in before.items():
            signal.signal(number, old if old is not None else signal.SIG_DFL)
