"""Events for the pages that are open: from any thread to every one that listens."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from threading import Lock

MOST_WAITING = 256
"""Events that one page may be behind; one that is further behind has to ask anew."""
QUIET = 15.0
"""Seconds after which a silent line is told to be alive."""


class Channel:
    """Server-sent events (WHATWG HTML, section 9.2)."""

    def __init__(self) -> None:
        self._turn = Lock()
        self._listeners: dict[asyncio.Queue[str | None], asyncio.AbstractEventLoop] = {}

    def tell(self, event: str, data: object) -> None:
        """Hand an event to everybody who listens."""
        text = f"event: {event}\ndata: {json.dumps(data, allow_nan=False)}\n\n"
        with self._turn:
            for queue, loop in list(self._listeners.items()):
                if not loop.is_closed():
                    loop.call_soon_threadsafe(_put, queue, text)

    def end(self) -> None:
        """Let all lines end."""
        with self._turn:
            for queue, loop in self._listeners.items():
                if not loop.is_closed():
                    loop.call_soon_threadsafe(_put, queue, None)

    async def lines(self) -> AsyncIterator[str]:
        """What is told from now on, as one page's line."""
        queue: asyncio.Queue[str | None] = asyncio.Queue(MOST_WAITING)
        with self._turn:
            self._listeners[queue] = asyncio.get_running_loop()
        try:
            yield ": listening\n\n"
            while True:
                try:
                    text = await asyncio.wait_for(queue.get(), QUIET)
                except TimeoutError:
                    yield ": still here\n\n"
                    continue
                if text is None:
                    return
                yield text
        finally:
            with self._turn:
                del self._listeners[queue]


def _put(queue: asyncio.Queue[str | None], text: str | None) -> None:
    """One that is too far behind is cut off: its page asks for everything anew."""
    if queue.full():
        while not queue.empty():
            queue.get_nowait()
        text = None
    queue.put_nowait(text)
