"""A walk that is killed again and again: what its log has is held against what it told."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from railwright.bench.capture import Capture
from railwright.bench.log import LogError, opened
from railwright.bench.reading import Meter, Place
from railwright.bench.steps import Course, Step
from railwright.measure.walk import walk
from railwright.surveys.windows import Window

TITLE = "Killed again and again"
STEPS, EVERY = 150, 10
"""Readings of a walk, and every how many there is a capture too."""
MOST_LINES, LONGEST = 60, 0.01
"""What a program tells at most before it is killed, and s from the last of it to the kill."""
SAMPLES = 20_000
STEP = 1e-6
COURSE = Course(
    tuple(
        Step("all", Place("voltage", f"N{n}", "GND"), (Window(n, n, n + 1.0),))
        for n in range(STEPS)
    )
)
LOOKS = {b"o": "opening", b"r": "reading", b"c": "capturing", b"d": "done"}


def value(step: Step) -> float:
    """What is read there."""
    return float(step.place.red[1:]) + 0.5


def program(path: Path, tell: Callable[[bytes], object]) -> None:
    """The walk; tells `r` and a number once a reading is accepted, `a` when it asks for one."""
    tell(b"o\n")
    with opened(path, TITLE) as log:

        def asked(step: Step) -> str:
            number = int(step.place.red[1:])
            tell(b"a%d\n" % number)
            if number % EVERY == 0:
                tell(b"c\n")
                log.keep_capture("all", Capture(0.0, STEP, {"OUT": np.full(SAMPLES, number)}))
            return f"{value(step)} V"

        def told(text: str) -> None:
            if text.startswith("voltage of N"):
                tell(b"r%d\n" % int(text.split(" ")[2][1:]))

        tell(b"r\n")
        walk(COURSE, log, asked, told, Meter(share=0.0, counts=0.0))
        tell(b"d\n")


def _run(path: Path, lines: int, wait: float) -> bytes:
    """All that a program told before it was killed: so many lines, and some seconds, or all."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        status = 1
        try:
            program(path, lambda text: os.write(write, text))
            status = 0
        finally:
            os._exit(status)
    os.close(write)
    with os.fdopen(read, "rb") as pipe:
        told = b"".join(pipe.readline() for _ in range(lines))
        time.sleep(wait)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return told + pipe.read()


def killed(folder: Path, kills: int, rng: random.Random) -> dict[str, Any]:
    """Counts of so many kills; see benchmarks/kills.py."""
    counts: Counter[str] = Counter()
    looks: Counter[str] = Counter()
    accepted: set[int] = set()
    path = folder / "0.readings"
    while looks.total() < kills:
        before = frozenset(accepted)
        lines = _run(
            path, int(MOST_LINES * rng.random() ** 2), rng.uniform(0.0, LONGEST)
        ).splitlines()
        numbers = [int(line[1:]) for line in lines if line[:1] == b"r" and line[1:]]
        counts["twice"] += sum(int(line[1:]) in before for line in lines if line[:1] == b"a")
        counts["readings"] += len(numbers)
        accepted.update(numbers)
        through = bool(lines) and lines[-1] == b"d"
        looks[_doing(lines)] += 1
        if path.exists():
            _judge(path, accepted, counts)
        if through:
            counts["logs"] += 1
            path, accepted = folder / f"{counts['logs']}.readings", set()
    whole = {k: counts[k] for k in ("logs", "readings", "lost", "wrong", "twice", "broken")}
    return {"kills": looks.total(), "while": dict(looks), **whole}


def _doing(lines: list[bytes]) -> str:
    """What a program was at when it was killed, by what it told last."""
    marks = [line[:1] for line in lines if line[:1] in LOOKS]
    return LOOKS[marks[-1]] if marks else "starting"


def _judge(path: Path, accepted: set[int], counts: Counter[str]) -> None:
    """Hold a log against what was told to be accepted."""
    try:
        with opened(path, TITLE) as log:
            known = {int(r.place.red[1:]): r.value for r in log.readings()}
            captures = log.captures("all")
        with sqlite3.connect(path) as data:
            sound = data.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        data.close()
    except LogError:
        counts["broken"] += 1
        return
    counts["broken"] += not sound
    counts["broken"] += sum(c.count != SAMPLES for c in captures)
    counts["lost"] += len(accepted - known.keys())
    counts["wrong"] += sum(value != number + 0.5 for number, value in known.items())
