"""What proofs have used and let go of goes back to the machine."""

from __future__ import annotations

import ctypes
import sys
from functools import cache
from typing import Any


def give_back() -> None:
    """Give freed memory back, where the C library keeps it otherwise (glibc, `malloc_trim(3)`).

    Every thread has its own share of the heap there: after some hundred proofs they hold gigabytes
    that nobody uses.
    """
    trim = _trim()
    if trim is not None:
        trim(0)


@cache
def _trim() -> Any:
    return getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
