"""Serves the page on loopback, to whoever has the printed address."""

from __future__ import annotations

import secrets
import socket
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import uvicorn

from railwright.desk.app import application
from railwright.desk.desk import Desk
from railwright.desk.guard import Guard

LOOPBACK = "127.0.0.1"
TOKEN_BYTES = 24


def serve(folder: Path, file: Path | None, port: int, tell: Callable[[str], None]) -> None:
    """Serve until interrupted. port: 0 for any that is free. OSError where it is taken.

    FileError, Outside where the file cannot be opened: before anything listens.
    """
    desk = Desk(folder, file)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with socket.create_server((LOOPBACK, port)) as listening:
        bound: int = listening.getsockname()[1]
        guarded = Guard(application(desk), bound, token)
        config = uvicorn.Config(
            guarded,
            log_level="critical",  # what goes wrong in us, the application tells
            access_log=False,
            server_header=False,
            date_header=False,
            timeout_graceful_shutdown=2,
        )
        tell(f"http://{LOOPBACK}:{bound}/?token={token}")
        _Server(config, desk).run([listening])


class _Server(uvicorn.Server):
    """Lets the lines to the pages end first: they would hold up the end otherwise."""

    def __init__(self, config: uvicorn.Config, desk: Desk) -> None:
        super().__init__(config)
        self._desk = desk

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Asked to end by a signal."""
        self._desk.channel.end()
        super().handle_exit(sig, frame)
