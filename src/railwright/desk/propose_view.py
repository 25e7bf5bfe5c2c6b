"""Propose: a need as text, candidates side by side, one of them taken."""

from __future__ import annotations

import traceback
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from threading import Lock, Thread
from typing import Any

from starlette.routing import Route

from railwright.circuit.design import Design, read_text
from railwright.circuit.writer import save
from railwright.desk.answers import Refused, answering, text
from railwright.desk.desk import Desk
from railwright.desk.opened import within
from railwright.desk.shown import Data, proposal_as_data, state_as_data
from railwright.propose.candidates import Proposal, propose
from railwright.surveys.depth import DEFAULT, QUICK, Depth

Sent = Mapping[str, Any]


def routes(desk: Desk) -> list[Route]:
    """All that may be asked here."""
    proposing = _Proposing(desk)
    return [
        Route("/api/propose", answering(proposing.ask), methods=["POST"]),
        Route("/api/proposal", answering(proposing.whole)),
        Route("/api/choose", answering(proposing.choose), methods=["POST"]),
    ]


class _Superseded(Exception):
    """Another need was asked for meanwhile."""


class _Proposing:
    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._turn = Lock()
        self._number = 0
        self._found: Proposal | None = None
        self._running = False

    def ask(self, sent: Sent) -> Data:
        """Begin to work out candidates; progress and the end are told on the line."""
        need = text(sent, "need")
        design = read_text(need, "need")
        if not design.is_need_only:
            raise Refused("The need has parts already: a need alone is wanted, without [[part]].")
        depth = QUICK if sent.get("quick") is True else DEFAULT
        with self._turn:
            self._number += 1
            self._found, self._running = None, True
            work = partial(self._run, self._number, design, need, depth)
        Thread(target=work, name="proposing", daemon=True).start()
        return {"running": True}

    def _run(self, number: int, design: Design, need: str, depth: Depth) -> None:
        def progress(stage: str, share: float) -> None:
            if number != self._number:
                raise _Superseded
            self.desk.channel.tell("proposing", {"stage": stage, "share": share})

        try:
            found = propose(design, need, depth=depth, progress=progress)
        except _Superseded:
            return
        except Exception as error:
            traceback.print_exc()
            with self._turn:
                self._running = False
            self.desk.channel.tell("proposed", {"failed": f"{type(error).__name__}: {error}"})
            return
        with self._turn:
            if number != self._number:
                return
            self._found, self._running = found, False
        self.desk.channel.tell("proposed", {})

    def whole(self, _: Sent) -> Data:
        """The candidates that were found last."""
        with self._turn:
            found = None if self._found is None else proposal_as_data(self._found)
            return {"running": self._running, "proposal": found}

    def choose(self, sent: Sent) -> Data:
        """Write a candidate into a new file, and open it."""
        number, name = sent.get("number"), text(sent, "file").strip()
        with self._turn:
            found = self._found
        if found is None or not isinstance(number, int) or not 0 <= number < len(found.candidates):
            raise Refused(f"there is no candidate {number}.")
        if not name.endswith(".toml"):
            raise Refused(f'"{name}" is no name for a design file. Write one that ends in .toml.')
        path = within(self.desk.folder, Path(name))
        if path.exists():
            raise Refused(f"{name} is there already. Name another file.")
        save(path, found.candidates[number].text)
        return state_as_data(self.desk.open(path))
