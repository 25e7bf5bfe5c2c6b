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
    # The fonts of the figures, and none of the machine's: else pages differ from one to the other.
    own = str(Path(matplotlib.get_data_path()) / "fonts" / "ttf")
    fonts = typst.Fonts(include_system_fonts=False, font_paths=[own])
    return typst.compile(template, font_paths=fonts, sys_inputs=dict(inputs))


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
