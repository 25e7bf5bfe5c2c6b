"""Proofs beside the page: the map first, then the proof; a newer revision ends an older one."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from threading import Condition, Event, Thread
from time import monotonic

from railwright.circuit.design import Design
from railwright.desk.memory import give_back
from railwright.desk.opened import State
from railwright.prove.at_point import AtPoint, at_point
from railwright.prove.proof import Proof
from railwright.prove.remedy import remedied
from railwright.prove.run import NothingToProve, Progress, prove
from railwright.prove.typical import Array, Asked, Slopes, slopes, typical_margins
from railwright.surveys.depth import DEFAULT, FINE, Depth
from railwright.surveys.operating_range import Choice

TOLD_EVERY = 0.1
"""Seconds between two words of progress."""

Tell = Callable[[str, Mapping[str, object]], None]
Show = Callable[[State, Proof, Depth], None]


class _Superseded(Exception):
    """Nobody waits for this proof any more."""


class Proving:
    """One thread that proves the newest revision, at depth map and then at depth default."""

    def __init__(self, tell: Tell, show: Show) -> None:
        """tell: event and data, for progress and what ended; show: a proof that is done."""
        self._tell, self._show = tell, show
        self._wanted = Condition()
        self._next: State | None = None
        self._newest: State | None = None
        self._remedy: tuple[State, Proof] | None = None
        self._stop = Event()
        """Set for what runs to end."""
        self._closed = False
        self._thread = Thread(target=self._run, name="proving", daemon=True)
        self._thread.start()

    def ask(self, state: State) -> None:
        """Prove this revision; what still runs for an older one ends."""
        with self._wanted:
            if self._newest is not None and state.design is self._newest.design:
                return
            self._newest = self._next = state
            self._remedy = None
            self._stop.set()
            self._wanted.notify()

    def ask_remedies(self, state: State, proof: Proof) -> None:
        """Seek changes that mend what falls short in a proof at depth default."""
        with self._wanted:
            self._remedy = state, proof
            self._wanted.notify()

    def cancel(self) -> None:
        """End what runs; what was shown stays."""
        with self._wanted:
            self._next = self._remedy = None
            self._stop.set()

    def close(self) -> None:
        """End the thread."""
        with self._wanted:
            self._closed, self._next, self._remedy = True, None, None
            self._stop.set()
            self._wanted.notify()
        self._thread.join()

    def _run(self) -> None:
        while True:
            with self._wanted:
                self._wanted.wait_for(lambda: self._closed or self._next or self._remedy)
                if self._closed:
                    return
                state, self._next = self._next, None
                mend, self._remedy = self._remedy, None
                self._stop.clear()
            if state is not None:
                for depth in (FINE, DEFAULT):
                    if not self._shown(state, depth, partial(_proved, state, depth)):
                        break
            elif mend is not None:
                self._shown(mend[0], DEFAULT, partial(_mended, *mend))
            give_back()

    def _shown(self, state: State, depth: Depth, work: Callable[[Progress], Proof]) -> bool:
        """Whether it came to an end that is wanted."""
        about = {"revision": state.revision, "depth": depth.name}
        try:
            proof = work(_Progress(self._tell, self._stop, about).tell)
            if self._stop.is_set():
                return False
            self._show(state, proof, depth)
        except NothingToProve:
            return False
        except _Superseded:
            self._tell("ended", about)
            return False
        except Exception as error:
            traceback.print_exc()
            words = f"The fault is Railwright's own: {type(error).__name__}: {error}"
            self._tell("failed", {**about, "words": words})
            return False
        return True


def _proved(state: State, depth: Depth, progress: Progress) -> Proof:
    whole = depth is DEFAULT
    return prove(
        state.design,
        depth=depth,
        suspecting=whole,
        nets=Choice() if whole else None,
        progress=progress,
    )


def _mended(state: State, proof: Proof, progress: Progress) -> Proof:
    return remedied(state.design, state.text, proof, DEFAULT, progress)


class _Progress:
    """Hands progress on now and then, and ends what nobody waits for."""

    def __init__(self, tell: Tell, stop: Event, about: Mapping[str, object]) -> None:
        self._tell, self._stop, self._about = tell, stop, about
        self._last = 0.0

    def tell(self, stage: str, share: float) -> None:
        """As `prove` asks for it."""
        if self._stop.is_set():
            raise _Superseded
        if monotonic() - self._last >= TOLD_EVERY:
            self._last = monotonic()
            self._tell("progress", {**self._about, "stage": stage, "share": share})


class Moving:
    """How values move the margins of the newest design; what was found once is kept."""

    def __init__(self) -> None:
        # One thread for all: the engine's scratch memory belongs to the thread that it is used in.
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="moving")
        self._design: Design | None = None
        self._margins: Mapping[Asked, Array] = {}
        self._found: dict[tuple[str, str], Slopes] = {}

    def slopes(self, design: Design, ref: str, value: str) -> Slopes:
        """As `prove.typical.slopes`."""
        return self._pool.submit(self._slopes, design, ref, value).result()

    def at_point(self, design: Design, choice: Choice) -> AtPoint:
        """As `prove.at_point`."""
        return self._pool.submit(at_point, design, choice).result()

    def close(self) -> None:
        """End the thread."""
        self._pool.shutdown(cancel_futures=True)

    def _slopes(self, design: Design, ref: str, value: str) -> Slopes:
        if self._design is not design:
            self._design, self._found = design, {}
            self._margins = typical_margins(design)
        if (ref, value) not in self._found:
            self._found[ref, value] = slopes(design, self._margins, ref, value)
        return self._found[ref, value]
