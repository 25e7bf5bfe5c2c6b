"""What all figures share: ink and paper, the form in which they are wanted, axes and contours."""

from __future__ import annotations

import html
import io
import re
import warnings
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from typing import Any, Literal

import numpy as np
from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure
from matplotlib.ticker import Formatter, MaxNLocator

from railwright.pages import wording
from railwright.prove.proof import Array
from railwright.quantity import celsius, kelvin

INK, FAINT, PAPER, SHORT = "#1d2733", "#7d8a94", "#fcfbf7", "#f3d3c8"
HATCH, NOTHING = "////", ".."
"""What stands for "beyond the limit", and for "no margin here"."""
CONTOURS = 6
"""Lines in a map, about."""
ALONG = (0.5, 0.3, 0.7, 0.15, 0.85)
"""Where on a contour its value may stand, as shares of its length, the best first."""
AROUND_LABEL, BESIDE_WORST = np.array([0.1, 0.06]), np.array([0.4, 0.18])
"""Either side of a value on a contour, and of the worst place: room, as shares of the axes."""
_ROUNDED = 1e-3  # of an axis: by how much a tick may be off the number beside it
_STYLE: dict[Any, Any] = {
    "svg.hashsalt": "railwright",  # else ids differ from run to run
    "hatch.linewidth": 0.7,
    "hatch.color": INK,
    "text.color": INK,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.facecolor": PAPER,
    "axes.linewidth": 0.8,
    "xtick.color": INK,
    "ytick.color": INK,
    "figure.facecolor": "none",
}
Form = Literal["element of a page", "file"]
PAGE: Form = "element of a page"
FILE: Form = "file"
"""What a figure is for."""
_FORMS: Mapping[Form, dict[Any, Any]] = {
    PAGE: {"svg.fonttype": "none", "font.size": 9.0},  # text stays text: to be found and read aloud
    FILE: {"svg.fonttype": "path", "font.size": 10.0},  # who opens a file may lack the fonts
}
_AXES = {
    "output": ("output setting of {}", "V"),
    "load": ("load of {}", "A"),
    "input": ("input", "V"),
    "ambient": ("ambient", "°C"),
}


def drawing(form: Form) -> AbstractContextManager[None]:
    """The style in which a figure is drawn and saved."""
    return style.context(["default", {**_STYLE, **_FORMS[form]}])


def as_svg(figure: Figure, prefix: str, title: str, form: Form) -> str:
    """The figure as a file, or as an element of a page: no prologue, no fonts, ids of its own."""
    told = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    buffer = io.StringIO()
    with warnings.catch_warnings():
        # The page's fonts show the text, whatever the measuring font lacks.
        warnings.filterwarnings("ignore", r"Glyph .* missing from font")
        figure.savefig(buffer, format="svg", metadata=told)
    text = buffer.getvalue()
    if form == FILE:
        return text
    for pattern, instead in (
        (r"^.*?<svg", "<svg"),
        (r"<defs>\s*<style.*?</style>\s*</defs>", ""),
        (r' xmlns(:xlink)?="[^"]*"', ""),
        (r" font-family: [^;\"]*;", ""),
        (r' id="', f' id="{prefix}-'),
        (r"url\(#", f"url(#{prefix}-"),
        (r'href="#', f'href="#{prefix}-'),
    ):
        text = re.sub(pattern, instead, text, flags=re.DOTALL)
    return text.replace(
        "<svg", f'<svg role="img" aria-label="{html.escape(wording.printable(title))}"', 1
    )


class Ticks(Formatter):
    """Names places on an axis as values with their unit."""

    def __init__(self, unit: str) -> None:
        self._unit = unit

    def __call__(self, at: float, position: int | None = None) -> str:
        """One place; matplotlib asks for all at once where it draws."""
        return self.format_ticks([at])[0]

    def format_ticks(self, values: Sequence[float]) -> list[str]:
        """All places of an axis, told apart."""
        # Places on an axis of temperatures are in °C already; values of that unit are in kelvin.
        values = [kelvin(value) for value in values] if self._unit == "°C" else list(values)
        near = _ROUNDED * (max(values) - min(values))
        for digits in range(3, 8):
            if all(abs(float(f"{value:.{digits - 1}e}") - value) <= near for value in values):
                return [wording.quantity(value, self._unit, digits) for value in values]
        return wording.told_apart(values, self._unit)


def name_axis(axis: Axis, name: str) -> None:
    """Label and ticks of an axis of the operating range, as "load main"."""
    kind, _, rail = name.partition(" ")
    label, unit = _AXES[kind]
    axis.set_label_text(label.format(wording.printable(rail)), parse_math=False)
    axis.set_major_locator(MaxNLocator(5))
    axis.set_major_formatter(Ticks(unit))


def shown(name: str, places: Array) -> Array:
    """Places on an axis as a person reads them: temperatures in °C."""
    return celsius(places) if name == "ambient" else places


def label_contours(
    axes: Axes,
    lines: QuadContourSet,
    told: Mapping[float, str],
    worst: Sequence[float] | None = None,
) -> None:
    """Write its value on each contour, where there is room: half way along its longest piece if
    there is, as that is away from the border. worst: a place beside which something is written."""
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    size = np.array([right - left, top - bottom])
    taken: list[tuple[Array, Array]] = []
    if worst is not None:
        taken.append((np.array(worst), BESIDE_WORST))
    middles = []
    for pieces in lines.allsegs:
        ways = [np.hypot(*(np.diff(piece, axis=0) / size).T).cumsum() for piece in pieces]
        lengths = [way[-1] if way.size else 0.0 for way in ways]
        if not any(lengths):
            continue
        longest = int(np.argmax(lengths))
        steps = np.searchsorted(ways[longest], [share * lengths[longest] for share in ALONG])
        spots = [pieces[longest][at : at + 2].mean(axis=0) for at in steps]
        clear = [
            spot
            for spot in spots
            if not any((np.abs(spot - other) / size < room).all() for other, room in taken)
        ]
        middle = (clear or spots)[0]
        taken.append((middle, AROUND_LABEL))
        middles.append(tuple(middle))
    for label in axes.clabel(lines, fmt=dict(told), fontsize=8, colors=INK, manual=middles):
        label.set_bbox({"facecolor": PAPER, "edgecolor": "none", "pad": 0.8})
