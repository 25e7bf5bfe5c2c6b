"""How much room a text takes: measured in the font that the drawing names first.

DejaVu Sans is wider than the fonts that stand in for it where it is missing, so that what fits
here fits there. The font comes with matplotlib; no font of the machine is looked at.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import matplotlib
from matplotlib.ft2font import FT2Font, LoadFlags

from railwright.make.drawing.geometry import STEP, Box

FAMILY = "'DejaVu Sans', Verdana, Arial, sans-serif"
SMALL, PLAIN, LARGE = 9.0, 10.5, 17.0
"""Sizes of text [px]."""
ABOVE, BELOW = 0.79, 0.24
"""Of the size, how far letters reach above and below the line they stand on."""
PITCH = 1.15
"""Of the size, from one line to the next."""


def fonts() -> Path:
    """The folder with the font."""
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@cache
def _font() -> FT2Font:
    return FT2Font(str(fonts() / "DejaVuSans.ttf"))


@cache
def _advance(letter: str) -> float:
    """Width of a letter, of the size."""
    font = _font()
    glyph = font.load_char(ord(letter), flags=LoadFlags.NO_SCALE)
    return float(glyph.horiAdvance) / float(font.units_per_EM)


def width(text: str, size: float) -> float:
    """Width of a text [px].

    >>> 20 < width("4.7 kΩ", 10.0) < 40
    True
    """
    return size * sum(map(_advance, text))


def line_box(text: str, size: float, x: float, y: float, anchor: str = "start") -> Box:
    """The box of a line of text that begins, has its middle or its end at x, and stands on y.

    In steps, as x and y are.
    """
    wide = width(text, size) / STEP
    left = {"start": x, "middle": x - wide / 2, "end": x - wide}[anchor]
    return Box(left, y - ABOVE * size / STEP, left + wide, y + BELOW * size / STEP)


def wrapped(text: str, most: float, size: float) -> list[str]:
    """A text in lines of at most so many pixels, as far as its words allow."""
    lines: list[str] = []
    for word in re.sub(r"(?<=\d) (?=\D)", "\N{NO-BREAK SPACE}", text).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width(longer, size) <= most:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def shortened(text: str, most: float, size: float) -> str:
    """A text in at most so many pixels, with an ellipsis where some of it is left out.

    >>> shortened("post-regulator", 60.0, 10.0)
    'post-regu…'
    """
    if width(text, size) <= most:
        return text
    while text and width(text + "…", size) > most:
        text = text[:-1]
    return text.rstrip() + "…"
