"""What an instrument does with a message: headers, parameters and the error queue.

Headers in short or long form, queries and numbers after SCPI-99, volume 1; common commands after
IEEE 488.2; error numbers of SCPI-99, volume 2, chapter 21 (from memory).
"""

from __future__ import annotations

import re
import threading
from collections import deque
from collections.abc import Callable, Iterator
from functools import cache

Answer = str | bytes | None
"""A line of text, a block of bytes, or nothing where nothing is due."""
Do = Callable[[str], Answer]
"""Takes the parameters as they were sent."""
UNDEFINED, WRONG_TYPE, OUT_OF_RANGE = (
    '-113,"Undefined header"',
    '-104,"Data type error"',
    '-222,"Data out of range"',
)
NO_ERROR = '0,"No error"'
MOST_ERRORS = 20


class Refused(ValueError):
    """A message that an instrument does not take: what goes into its error queue."""


class Speaker:
    """An instrument that speaks SCPI; its commands are added by what it is."""

    def __init__(self, identity: str, turn: threading.Lock | None = None) -> None:
        """turn: of those that are on one supply; one message is done at a time."""
        self.identity = identity
        self._turn = turn or threading.Lock()
        self.errors: deque[str] = deque(maxlen=MOST_ERRORS)
        self._commands: list[tuple[re.Pattern[str], Do]] = []
        self.on("*IDN?", lambda _: self.identity)
        self.on("*CLS", lambda _: self.errors.clear())
        self.on("*RST", lambda _: self.reset())
        self.on("*OPC?", lambda _: "1")
        self.on(
            "SYSTem:ERRor[:NEXT]?", lambda _: self.errors.popleft() if self.errors else NO_ERROR
        )

    def reset(self) -> None:
        """To the state in which it is switched on."""

    def on(self, header: str, do: Do) -> None:
        """Take a command, its header written as the standard does: `[SOURce:]VOLTage[:LEVel]?`."""
        self._commands.append((_pattern(header), do))

    def answer(self, message: str) -> Answer:
        """Do what a message says; what it answers."""
        header, _, parameters = message.strip().partition(" ")
        for pattern, do in self._commands:
            if pattern.fullmatch(header):
                try:
                    with self._turn:
                        return do(parameters.strip())
                except Refused as refusal:
                    self.errors.append(str(refusal))
                    return None
        self.errors.append(UNDEFINED)
        return None


def number(text: str, least: float, most: float) -> float:
    """A parameter that is a number within bounds."""
    try:
        found = float(text)
    except ValueError:
        raise Refused(WRONG_TYPE) from None
    if not least <= found <= most:
        raise Refused(OUT_OF_RANGE)
    return found


def boolean(text: str) -> bool:
    """A parameter that is ON or OFF, 1 or 0."""
    try:
        return {"ON": True, "1": True, "OFF": False, "0": False}[text.upper()]
    except KeyError:
        raise Refused(WRONG_TYPE) from None


def real(value: float) -> str:
    """A number as it is answered (NR3); infinite ones as SCPI has them."""
    if value != value:
        return "9.91E+37"
    return f"{max(-9.9e37, min(9.9e37, value)):.6E}"


@cache
def _pattern(header: str) -> re.Pattern[str]:
    """Matches a header in short and long form, optional words left out or not."""
    return re.compile(":?" + "".join(_pieces(header)), re.IGNORECASE)


def _pieces(header: str) -> Iterator[str]:
    for piece in re.findall(r"\[|\]|[*:?]|[A-Za-z]+|\d+", header):
        if piece == "[":
            yield "(?:"
        elif piece == "]":
            yield ")?"
        elif piece in "*?:" or piece.isdigit():
            yield re.escape(piece)
        else:
            short = "".join(letter for letter in piece if letter.isupper())
            yield f"(?:{piece}|{short})"
