"""What is found out once and wanted by many, some of them at the same time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable
from threading import Lock, RLock
from typing import Any


class Known:
    """By key, what was found out; whoever asks while it is sought waits for it."""

    def __init__(self) -> None:
        self._turn = Lock()
        self._turns: defaultdict[Hashable, Any] = defaultdict(RLock)
        self._found: dict[Hashable, Any] = {}

    def once(self, key: Hashable, find: Callable[[], Any]) -> Any:
        """What `find` finds; it may ask for other keys."""
        with self._turn:
            turn = self._turns[key]
        with turn:
            if key not in self._found:
                self._found[key] = find()
            return self._found[key]
