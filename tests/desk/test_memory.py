"""What is freed is given back: the process is as small afterwards as before."""

from __future__ import annotations

import sys
import threading
from pathlib import Path

import numpy as np

from railwright.desk.memory import give_back

STATUS = Path("/proc/self/status")
BLOCKS = 20_000


def resident() -> float:
    """MB."""
    lines = STATUS.read_text(encoding="ascii").splitlines()
    return next(float(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


def test_giving_back_is_harmless_anywhere() -> None:
    give_back()


def test_what_threads_have_freed_goes_back() -> None:
    if sys.platform != "linux" or not STATUS.exists():
        return  # the C library gives it back by itself, or does not tell

    def use() -> None:
        kept = [np.ones(500) for _ in range(BLOCKS)]  # small ones come from the thread's own heap
        del kept[::2]
        del kept[:]

    before = resident()
    several = [threading.Thread(target=use) for _ in range(4)]
    for each in several:
        each.start()
    for each in several:
        each.join()
    give_back()
    assert resident() - before < 0.25 * 4 * BLOCKS * 4000 / 1e6
