"""The sample design, and ways to change it."""

from __future__ import annotations

from pathlib import Path

from railwright.circuit.design import read_text
from railwright.files.mistakes import FileError, Mistake

DATA = Path(__file__).parents[1] / "data"
LAMP_FILE, RADIO_FILE = DATA / "night_lamp.toml", DATA / "radio_rail.toml"
LAMP = LAMP_FILE.read_text(encoding="utf-8")
NEED_ONLY = LAMP[: LAMP.index("[[control]]")]


def changed(old: str, new: str, text: str = LAMP) -> str:
    """The sample with its first `old` made `new`; `old` has to be there."""
    assert old in text
    return text.replace(old, new, 1)


def refusal(text: str) -> FileError | None:
    """Why a design text is refused; None where it is a design."""
    try:
        read_text(text, "sample.toml")
    except FileError as error:
        return error
    return None


def mistakes(text: str) -> tuple[Mistake, ...]:
    """All that is wrong with a design text."""
    error = refusal(text)
    return error.mistakes if error else ()


def underlined(text: str, mistake: Mistake) -> str:
    """What the caret of a mistake stands under."""
    start = mistake.column - 1
    return text.split("\n")[mistake.line - 1][start:][: mistake.length]
