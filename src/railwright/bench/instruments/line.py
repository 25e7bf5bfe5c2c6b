"""The line to an instrument: messages that end in a line feed (IEEE 488.2), over VISA.

Whatever goes wrong is one kind of error with the instrument's name in it. After a time-out, or an
interrupt, the next answer on the line would be the late one, so the line is closed and opened anew
before anything else is asked. On the new line the instrument first has to say who it is: what keeps
late answers beyond that, or is another instrument by now, is found out before it is believed.

Tried over TCP sockets. USB, GPIB and serial lines are opened by the same calls; without hardware
they cannot be tried, and were not.
"""

from __future__ import annotations

import contextlib
import math
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

IDENTIFY = "*IDN?"
"""Every instrument answers it (IEEE 488.2)."""
END = "\n"
TIMEOUT = 2.0
"""s within which an instrument has to answer."""


class InstrumentError(RuntimeError):
    """An instrument that does not answer, or not as it should: which, what, what to do."""


class Line:
    """One instrument at an address of VISA, such as `TCPIP::192.0.2.1::5025::SOCKET`."""

    def __init__(self, address: str, timeout: float = TIMEOUT) -> None:
        """Open the line. InstrumentError where nobody is there."""
        self.address, self.timeout = address, timeout
        self._resource: Any = None
        self._identity = ""
        self._open()

    def _open(self) -> None:
        import pyvisa

        try:
            self._resource = pyvisa.ResourceManager("@py").open_resource(
                self.address,
                read_termination=END,
                write_termination=END,
                open_timeout=int(1000 * self.timeout),
            )
            self._resource.timeout = int(1000 * self.timeout)
        except Exception as error:  # the back end raises what it likes
            raise InstrumentError(
                f"{self.address}: it cannot be opened: {error}. Look at its address, its cable and "
                "whether it is switched on."
            ) from error

    @property
    def identity(self) -> str:
        """As the instrument identifies itself: maker, type, number, version.

        InstrumentError where it does not, or by what is none.
        """
        if not self._identity:
            self._identity = self._identified()
        return self._identity

    def _identified(self) -> str:
        said = str(self._tried(lambda: self._resource.query(IDENTIFY), IDENTIFY)).strip()
        if _is_number(said) or not said:
            self._again()
            raise InstrumentError(
                f"{self.address}: it answered {said!r} to {IDENTIFY}, where its name is due. "
                "Switch it off and on again, so that it forgets late answers."
            )
        return said

    def close(self) -> None:
        """Let go of the line; never an error."""
        if self._resource is not None:
            with contextlib.suppress(Exception):
                self._resource.close()
            self._resource = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def write(self, message: str) -> None:
        """Send a message that has no answer. InstrumentError where it cannot be sent."""
        self._tried(lambda: self._resource.write(message), message)

    def ask(self, message: str) -> str:
        """The answer to a message. InstrumentError where there is none in time."""
        found = self._tried(lambda: self._resource.query(message), message)
        return str(found).strip()

    def number(self, message: str) -> float:
        """The answer to a message as a number. InstrumentError where it is none."""
        said = self.ask(message)
        if not _is_number(said):
            self._again()
            raise InstrumentError(
                f"{self.address}: it answered {said!r} to {message}, where a number is due. Is it "
                "the right instrument?"
            )
        return float(said)

    def block(self, message: str) -> NDArray[np.float64]:
        """The answer to a message as numbers: a block of 4 bytes each, the highest first.

        Block: definite length, IEEE 488.2; numbers: REAL,32 of SCPI-99. InstrumentError where it
        is none.
        """

        def ask() -> Any:
            return self._resource.query_binary_values(
                message, datatype="f", is_big_endian=True, container=np.array
            )

        return np.asarray(self._tried(ask, message), np.float64)

    def _tried(self, do: Any, message: str) -> Any:
        if self._resource is None:
            self._open()
            if self._identity and message != IDENTIFY:
                self._same()
        try:
            return do()
        except Exception as error:
            self._again()
            raise InstrumentError(
                f"{self.address}: no answer to {message}: {error}. Look at its cable and its "
                "display."
            ) from error
        except BaseException:  # an interrupt: its answer is still to come
            self._again()
            raise

    def _same(self) -> None:
        """Make sure that a line that was opened anew leads to the same instrument."""
        found = self._identified()
        if found != self._identity:
            self._again()
            raise InstrumentError(
                f"{self.address}: it says it is {found!r} and was {self._identity!r} before. Look "
                "at its address and its cable."
            )

    def _again(self) -> None:
        """Close the line, so that a late answer is nobody's; it is opened when it is wanted."""
        self.close()


def _is_number(text: str) -> bool:
    try:
        return not math.isnan(float(text))
    except ValueError:
        return False
