"""Instruments on loopback, each at an address of VISA, and the trouble they make on demand."""

from __future__ import annotations

import contextlib
import socket
import socketserver
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal, Protocol

from railwright.bench.simulated.scpi import Answer

POLL = 0.02
"""s between two looks whether a server is to end."""
KINDS = ("late", "silent", "wrong", "stale", "hangs up")


class Answering(Protocol):
    """What stands behind an address."""

    def answer(self, message: str) -> Answer:
        """Do what a message says; what it answers."""
        ...


@dataclass
class Trouble:
    """Something that goes wrong when a message comes."""

    kind: Literal["late", "silent", "wrong", "stale", "hangs up"]
    """late: after some seconds. silent: never. wrong: another text. stale: what was answered to
    the message before. hangs up: the line is closed before the message is done."""
    at: str
    """The message begins with this; any does where it is empty."""
    seconds: float = 0.0
    text: str = ""
    after: int = 0
    """Such messages that go well before."""
    times: float = 1
    """How often it goes wrong then."""

    def strikes(self, message: str) -> bool:
        """Whether it does at this message; counts it."""
        if not message.upper().startswith(self.at.upper()) or self.times <= 0:
            return False
        self.after -= 1
        if self.after >= 0:
            return False
        self.times -= 1
        return True


class Troubled:
    """An instrument with trouble before it."""

    def __init__(self, instrument: Answering, *troubles: Trouble) -> None:
        self.instrument, self.troubles = instrument, list(troubles)
        self.said: list[str] = []
        """Every message that came."""
        self._before: Answer = None

    def answer(self, message: str) -> Answer:
        """As the instrument, unless something goes wrong. ConnectionAbortedError: it hangs up."""
        self.said.append(message)
        trouble = next((each for each in self.troubles if each.strikes(message)), None)
        kind = trouble.kind if trouble else ""
        if trouble is not None and kind == "hangs up":
            raise ConnectionAbortedError(message)
        if trouble is not None and kind == "late":
            time.sleep(trouble.seconds)
        before, self._before = self._before, self.instrument.answer(message)
        if self._before is None or trouble is None:
            return self._before
        return {"silent": None, "wrong": trouble.text, "stale": before}.get(kind, self._before)


class _Handler(socketserver.StreamRequestHandler):
    def handle(self) -> None:
        server = self.server
        assert isinstance(server, _Server)
        for line in self.rfile:
            try:
                said = server.instrument.answer(line.decode("latin-1").strip())
                if said is not None:
                    self.wfile.write(_sent(said))
            except OSError:  # it hangs up, or who asked is gone
                with contextlib.suppress(OSError):
                    self.request.shutdown(socket.SHUT_RDWR)
                return


def _sent(said: str | bytes) -> bytes:
    """An answer as it goes over the line: a block has its length ahead (IEEE 488.2)."""
    if isinstance(said, str):
        return f"{said}\n".encode("latin-1")
    size = str(len(said))
    return f"#{len(size)}{size}".encode("latin-1") + said + b"\n"


class _Server(socketserver.ThreadingTCPServer):
    daemon_threads = True
    instrument: Answering


@contextmanager
def serving(instrument: Answering) -> Iterator[str]:
    """The VISA address of an instrument, while it stands there."""
    with _Server(("127.0.0.1", 0), _Handler) as server:
        server.instrument = instrument
        thread = threading.Thread(target=server.serve_forever, args=(POLL,), daemon=True)
        thread.start()
        try:
            yield f"TCPIP::127.0.0.1::{server.server_address[1]}::SOCKET"
        finally:
            server.shutdown()
            thread.join()
