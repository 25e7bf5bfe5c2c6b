"""The design file that is open: its text, what was undone, and what stands on disk.

Nothing is written before it is saved. What somebody else changed on disk meanwhile is not
overwritten unless that is wanted.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import RLock

from railwright.circuit.design import Design, read_text
from railwright.circuit.writer import save
from railwright.files.mistakes import FileError
from railwright.files.source import source_text

MOST_UNDONE = 1000
NAMED = ("own", "derating")
"""Keys of `need.parts` that may name a file."""
Edit = Callable[[str], str]
"""From one text of the file to another."""


class ChangedOnDisk(Exception):
    """The file is another one than was read, and what is open has changes as well."""


class Outside(Exception):
    """A file that is not under the folder which the desk was started in."""


@dataclass(frozen=True)
class State:
    """One moment of what is open."""

    revision: int
    """Counts up with every change; never the same for two texts in a row."""
    text: str
    design: Design
    can_undo: bool
    can_redo: bool
    saved: bool
    """Whether the file on disk has this text."""
    elsewhere: bool
    """Whether somebody else changed the file on disk, while this has changes too."""
    broken: str = ""
    """What is wrong with the file on disk, where it was changed to something unusable."""


class Opened:
    """One design file, open. All methods may be called from any thread."""

    def __init__(self, folder: Path, path: Path) -> None:
        """FileError where it is no design; Outside where it, or a file that it names, is not under
        the folder."""
        self.folder = folder.resolve()
        self.path = within(self.folder, path)
        self._turn = RLock()
        self._on_disk = source_text(self.path)
        self._texts = [(self._on_disk, self._design(self._on_disk))]
        self._at = 0
        self._revision = 1
        self._joins = ""
        self._elsewhere = False
        self._broken = ""

    def state(self) -> State:
        """What is open now."""
        with self._turn:
            text, design = self._texts[self._at]
            return State(
                self._revision,
                text,
                design,
                self._at > 0,
                self._at + 1 < len(self._texts),
                text == self._on_disk,
                self._elsewhere,
                self._broken,
            )

    def edit(self, edit: Edit, joins: str = "") -> State:
        """Put an edit on what is open.

        FileError or EditError where it does not give a design; Outside where that names a file
        elsewhere.

        joins: edits one after another that have this in common are undone as one.
        """
        with self._turn:
            before, _ = self._texts[self._at]
            text = edit(before)
            if text != before:
                design = self._design(text)
                del self._texts[self._at + (0 if joins and joins == self._joins else 1) :]
                self._texts.append((text, design))
                del self._texts[: -MOST_UNDONE - 1]
                self._move(len(self._texts) - 1)
                self._joins = joins
            return self.state()

    def undo(self) -> State:
        """One change back, where there is one."""
        with self._turn:
            if self._at:
                self._move(self._at - 1)
            return self.state()

    def redo(self) -> State:
        """One undone change again, where there is one."""
        with self._turn:
            if self._at + 1 < len(self._texts):
                self._move(self._at + 1)
            return self.state()

    def save(self, over: bool = False) -> State:
        """Write the file whole or not at all.

        ChangedOnDisk where it is not what was read, unless it may be written over. OSError where
        it cannot be written.
        """
        with self._turn:
            if not over and self._found() != self._on_disk:
                self._elsewhere = True
                raise ChangedOnDisk
            text, _ = self._texts[self._at]
            save(self.path, text)
            self._on_disk = text
            self._elsewhere, self._broken = False, ""
            return self.state()

    def look(self) -> bool:
        """Take up what was changed on disk; whether anything of the state is new.

        Where what is open has changes of its own, both stay as they are and `elsewhere` says so.
        """
        with self._turn:
            found = self._found()
            if found is None or found == self._on_disk:
                return False
            before = (self._elsewhere, self._broken)
            if self._texts[self._at][0] != self._on_disk:
                self._elsewhere = True
                return before != (self._elsewhere, self._broken)
            return self._take_up(found) or before[1] != self._broken

    def reload(self) -> State:
        """What stands on disk, as one more change that can be undone."""
        with self._turn:
            text = source_text(self.path)
            state = self.edit(lambda _: text)
            self._on_disk = text
            self._elsewhere, self._broken = False, ""
            return state if state.saved else self.state()

    def _take_up(self, text: str) -> bool:
        try:
            self.edit(lambda _: text)
        except FileError as error:
            self._broken = str(error)
            return False
        self._on_disk, self._broken = text, ""
        return True

    def _found(self) -> str | None:
        try:
            return source_text(self.path)
        except FileError:
            return None

    def _design(self, text: str) -> Design:
        for name in _named(text):
            within(self.folder, self.path.parent / name)
        return read_text(text, self.path.name, path=self.path)

    def _move(self, at: int) -> None:
        self._at = at
        self._revision += 1
        self._joins = ""


def _named(text: str) -> list[str]:
    """Files that a text asks for beside its own; none where it is no design."""
    try:
        policy = tomllib.loads(text)["need"]["parts"]
        return [name for key in NAMED if isinstance(name := policy.get(key), str)]
    except (ValueError, RecursionError, KeyError, TypeError, AttributeError):
        return []


def within(folder: Path, path: Path) -> Path:
    """The file that is meant, links followed. Outside where it is not under the folder."""
    try:
        found = (folder / path).resolve()
    except (OSError, ValueError, RuntimeError) as error:
        raise Outside(str(path)) from error
    if not found.is_relative_to(folder):
        raise Outside(str(path))
    return found
