"""What all views of the page share: the open design, its proofs, and the line to the pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

from railwright.desk.channel import Channel
from railwright.desk.opened import Opened, State
from railwright.desk.proving import Moving, Proving
from railwright.desk.shown import Data, map_as_data, proof_as_data, rows_of, state_as_data
from railwright.prove.proof import Proof
from railwright.prove.typical import Asked
from railwright.surveys.depth import FINE, Depth


class NothingOpen(Exception):
    """No design file is open."""


@dataclass(frozen=True)
class Mapped:
    """What the rows of the map are of, and how many points each has; the proof it is from."""

    state: State
    asked: list[Asked]
    points: int
    proof: Proof


class Desk:
    """One desk: at most one design is open, for all pages that show it."""

    def __init__(self, folder: Path, path: Path | None = None) -> None:
        self.folder = folder.resolve()
        self.channel = Channel()
        self.moving = Moving()
        self._opened: Opened | None = None
        self._turn = Lock()
        self._map: Data | None = None
        self._proof: Data | None = None
        self._mapped: Mapped | None = None
        self.proved: tuple[State, Proof] | None = None
        """The newest proof at depth default, and what was proved."""
        self._proving = Proving(self.channel.tell, self._show)
        if path is not None:
            self.open(path)

    def open(self, path: Path) -> State:
        """Open another design file; FileError, Outside as `Opened`."""
        opened = Opened(self.folder, path)
        with self._turn:
            self._opened, self._map, self._mapped = opened, None, None
            self._proof = self.proved = None
        return self._took_up(opened.state())

    @property
    def opened(self) -> Opened:
        """What is open. NothingOpen where nothing is."""
        if self._opened is None:
            raise NothingOpen
        return self._opened

    def change(self, change: Callable[[Opened], State]) -> State:
        """Change what is open; the pages are told, and the proof begins."""
        before = self.opened.state()
        after = change(self.opened)
        return self._took_up(after) if after != before else after

    def look(self) -> None:
        """Take up what was changed on disk."""
        if self._opened is not None and self._opened.look():
            self._took_up(self._opened.state())

    def _took_up(self, state: State) -> State:
        self._proving.ask(state)
        self.channel.tell("state", {"revision": state.revision})
        return state

    def _show(self, state: State, proof: Proof, depth: Depth) -> None:
        with self._turn:
            if self._opened is None or self._opened.path != state.design.path:
                return
            self._proof = proof_as_data(state.revision, proof, depth.name)
            if depth is FINE:
                self._map = map_as_data(state.revision, proof)
                self._mapped = Mapped(state, *rows_of(proof), proof)
            else:
                self.proved = state, proof
                if self._mapped is not None and self._mapped.state.design is state.design:
                    self._map = map_as_data(state.revision, self._mapped.proof, proof)
        self.channel.tell("proof", {"revision": state.revision, "depth": depth.name})

    def whole(self) -> Data:
        """Everything a page needs that opens now."""
        with self._turn:
            shown, found = self._map, self._proof
        opened = self._opened
        return {
            "state": None if opened is None else state_as_data(opened.state()),
            "map": shown,
            "proof": found,
            "files": self.files(),
        }

    def mapped(self) -> Mapped:
        """What the map is of. NothingOpen where there is none yet."""
        with self._turn:
            if self._mapped is None:
                raise NothingOpen
            return self._mapped

    def seek_remedies(self) -> bool:
        """Begin to seek what mends; False where the newest proof is not that of what is open."""
        with self._turn:
            proved = self.proved
        if proved is None or proved[0].design is not self.opened.state().design:
            return False
        self._proving.ask_remedies(*proved)
        return True

    def files(self) -> list[str]:
        """Design files under the folder, the nearest first."""
        found = [p for p in self.folder.rglob("*.toml") if not _hidden(p, self.folder)]
        found.sort(key=lambda p: (len(p.parts), p))
        return [str(p.relative_to(self.folder)) for p in found[:MOST_FILES] if p.is_file()]

    def cancel(self) -> None:
        """End what is being proved."""
        self._proving.cancel()

    def close(self) -> None:
        """End everything that runs."""
        self._proving.close()
        self.moving.close()
        self.channel.end()


MOST_FILES = 300


def _hidden(path: Path, folder: Path) -> bool:
    return any(part.startswith(".") for part in path.relative_to(folder).parts)
