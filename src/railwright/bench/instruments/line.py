"""The line to an instrument: messages that end in a line feed (IEEE 488.2), over VISA.

Whatever goes wrong is one kind of error with the instrument's name in it. After a time-out the next
answer on the line would be the late one, so the line is closed and opened anew before anything else
is asked.
"""

from __future__ import annotations

import contextlib
from types import TracebackType
from typing import Any, Self

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
        try:
            return float(said)
        except ValueError as error:
            self._again()
            raise InstrumentError(
                f"{self.address}: it answered {said!r} to {message}, where a number is due. Is it "
                "the right instrument?"
            ) from error

    def _tried(self, do: Any, message: str) -> Any:
        if self._resource is None:
            self._open()
        try:
            return do()
        except Exception as error:
            self._again()
            raise InstrumentError(
                f"{self.address}: no answer to {message}: {error}. Look at its cable and its "
                "display."
            ) from error

    def _again(self) -> None:
        """Close the line, so that a late answer is nobody's; it is opened when it is wanted."""
        self.close()
