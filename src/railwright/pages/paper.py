"""What everything on paper shares: fonts of its own, words that go into columns."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import matplotlib
import typst

LONGEST = 24
"""Letters of a word that does not break."""


def compiled(template: bytes, inputs: Mapping[str, str]) -> bytes:
    """A template with its inputs as PDF; the same ones give the same bytes."""
    return typst.compile(template, font_paths=_fonts(), sys_inputs=dict(inputs))


def pictures(template: bytes, inputs: Mapping[str, str], ppi: float) -> list[bytes]:
    """The same pages as PNG, with so many points to an inch."""
    found = typst.compile(
        template, font_paths=_fonts(), sys_inputs=dict(inputs), format="png", ppi=ppi
    )
    return [found] if isinstance(found, bytes) else list(found)


def _fonts() -> typst.Fonts:
    """The fonts of the figures, and none of the machine's: pages would differ from one to the
    other."""
    own = str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")
    return typst.Fonts(include_system_fonts=False, font_paths=[own])


def breakable(data: Any) -> Any:
    """Content in which every word goes into a column; drawings are left as they are."""
    if isinstance(data, str):
        return data if data.startswith("<?xml") else parted(data, LONGEST)
    if isinstance(data, dict):
        return {key: breakable(each) for key, each in data.items()}
    return [breakable(each) for each in data] if isinstance(data, list | tuple) else data


def parted(text: str, longest: int) -> str:
    """A text whose words may break after so many letters."""
    return re.sub(rf"(\S{{{longest}}})(?=\S)", "\\1\N{ZERO WIDTH SPACE}", text)
