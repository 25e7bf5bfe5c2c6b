"""Figures of a finding as SVG that stands in a page: where it is tight, and how samples come out.

Ink first: contour lines carry their margin, hatching says "beyond the limit", colour only helps.
The same finding gives the same bytes.
"""

from __future__ import annotations

import html
import io
import re
import warnings
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from itertools import cycle
from textwrap import fill
from typing import Any, Literal

import numpy as np
from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure
from matplotlib.ticker import Formatter, LogLocator, MaxNLocator, NullFormatter
from numpy.typing import NDArray

from railwright.pages import wording
from railwright.pages.binding import Binding
from railwright.pages.plane import Plane, plane_of
from railwright.prove.proof import Array, Finding
from railwright.quantity import celsius, kelvin
from railwright.surveys.curves import Axis as Side
from railwright.surveys.curves import Curves

_INK, _FAINT, _PAPER, _SHORT, _ENOUGH = "#1d2733", "#7d8a94", "#fcfbf7", "#f3d3c8", "#dbe5e6"
_SQUARES = "#e9edf0"
_HATCH, _NOTHING = "////", ".."
_CONTOURS = 6
_MOST_BARS = 40
_THINNEST = 80  # of a bar: part of the width from the limit to the farthest sample
_MAP, _HISTOGRAM, _CURVES = (5.0, 3.6), (4.2, 3.6), (5.0, 3.0)  # inches
_WHOLE = (6.4, 4.2)
_TINTS = ("#dbe5e6", "#efe3cd", "#e3dcea", "#dfe8d6", "#f0dcd6", "#d9e0ee", "#ece8d2", "#dde8e4")
_ROUNDED = 1e-3  # of an axis: by how much a tick may be off the number beside it
_LABEL = 30  # characters in a line beside an axis
_ANGLES = (1, 1.5, 3, 4.5, 9, 10)
_MORE = 0.75  # of the height of a first panel: that of one below it
_DASHES = (("-", _INK), ("--", _INK), (":", _INK), ("-.", _INK), ("-", _FAINT), ("--", _FAINT))
_STYLE: dict[Any, Any] = {
    "svg.hashsalt": "railwright",  # else ids differ from run to run
    "hatch.linewidth": 0.7,
    "hatch.color": _INK,
    "text.color": _INK,
    "axes.edgecolor": _INK,
    "axes.labelcolor": _INK,
    "axes.facecolor": _PAPER,
    "axes.linewidth": 0.8,
    "xtick.color": _INK,
    "ytick.color": _INK,
    "figure.facecolor": "none",
}
MOST_FIGURES = 40
"""Findings with the least reserve get maps and histograms; of the others that hold, the numbers and
what goes on at the worst place are enough."""
MAP_CAPTION = (
    "Margin with the worst parts, at the worst of what the axes do not show. Hatched: beyond the "
    "limit. Thick: the limit. Points: where it was computed; crosses: where not all of it could "
    "be. Dotted: where the question does not arise. Ring: the worst place."
)
Form = Literal["element of a page", "file"]
PAGE: Form = "element of a page"
FILE: Form = "file"
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


def margin_map(finding: Finding, prefix: str, form: Form = PAGE) -> str:
    """SVG of the worst margin over the operating range; empty where it was not looked over.

    prefix: stands before every id in it, so that several figures can share a page. form: what
    it is for.
    """
    plane = plane_of(finding)
    if plane is None or not np.isfinite(plane.margins).any():
        return ""
    with _drawing(form):
        figure = Figure(figsize=_MAP, layout="constrained")
        axes = figure.subplots()
        (_draw_area if len(plane.axes) == 2 else _draw_curve)(axes, plane, finding)
        return _svg(figure, prefix, f"Margins over the operating range: {finding.subject}", form)


def sample_histogram(finding: Finding, prefix: str, form: Form = PAGE) -> str:
    """SVG of how the margins of the samples come out; empty where none is known."""
    samples = known_samples(finding)
    if not samples.size:
        return ""
    with _drawing(form):
        figure = Figure(figsize=_HISTOGRAM, layout="constrained")
        _draw_samples(figure.subplots(), samples, finding)
        return _svg(figure, prefix, f"Margins of the samples: {finding.subject}", form)


def curve_figures(finding: Finding, prefix: str, form: Form = PAGE) -> list[tuple[str, str]]:
    """Titles and SVGs of what goes on at the worst place; those that belong together are one."""
    found = []
    for number, panels in enumerate(_together(finding.curves)):
        title = panels[0].title
        with _drawing(form):
            height = _CURVES[1] * (1.0 + _MORE * (len(panels) - 1))
            figure = Figure(figsize=(_CURVES[0], height), layout="constrained")
            several = figure.subplots(len(panels), 1, sharex=True, squeeze=False)[:, 0]
            for axes, panel in zip(several, panels, strict=True):
                _draw_curves(axes, panel)
            _name_side(several[-1].xaxis, panels[0].across)
            figure.align_ylabels(several)
            svg = _svg(figure, f"{prefix}-{number}", f"{title}: {finding.subject}", form)
        found.append((title, svg))
    return found


def _together(curves: Sequence[Curves]) -> list[list[Curves]]:
    found: list[list[Curves]] = []
    for each in curves:
        if each.below and found:
            found[-1].append(each)
        else:
            found.append([each])
    return found


def _draw_curves(axes: Axes, panel: Curves) -> None:
    """Lines that tell themselves apart without colour, and the levels that bound them."""
    scale = "log" if panel.across.logarithmic else "linear"
    axes.set_xscale(scale)
    axes.set_yscale("log" if panel.up.logarithmic else "linear")
    _name_side(axes.yaxis, panel.up)
    for line, (dashes, ink) in zip(panel.lines, cycle(_DASHES), strict=False):
        axes.plot(
            _on_side(panel.across, line.across),
            _on_side(panel.up, line.up),
            linestyle=dashes,
            color=ink,
            linewidth=1.3,
            label=wording.printable(line.name),
        )
    for level in panel.levels:
        at = float(_on_side(panel.up, np.array(level.up)))
        axes.axhline(at, color=_INK, linewidth=2.2)
        axes.annotate(
            f"{wording.printable(level.name)} {wording.quantity(level.up, panel.up.unit)}",
            (1.0, at),
            (-3, 3),
            xycoords=axes.get_yaxis_transform(),
            textcoords="offset points",
            ha="right",
            va="bottom",
            fontsize=8,
            fontweight="bold",
        )
    axes.margins(x=0.0 if panel.across.logarithmic else 0.01, y=0.12)
    axes.grid(color=_SQUARES, linewidth=0.6)
    axes.set_axisbelow(True)
    if any(line.name for line in panel.lines):
        # Above the figure, where nothing is covered.
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(0.0, 1.0),
            ncols=2,
            frameon=False,
            borderaxespad=0.2,
            handlelength=2.6,
            fontsize=8,
        )


def _name_side(axis: Axis, side: Side) -> None:
    axis.set_label_text(fill(wording.printable(side.label), _LABEL), parse_math=False)
    if side.logarithmic:
        axis.set_major_locator(LogLocator(numticks=7))
        axis.set_minor_formatter(NullFormatter())
    else:
        axis.set_major_locator(MaxNLocator(5, steps=_ANGLES if side.unit == "°" else None))
    axis.set_major_formatter(_Ticks(side.unit))


def _on_side(side: Side, values: Array) -> Array:
    """Values as a person reads them: temperatures in °C."""
    return celsius(values) if side.unit == "°C" else values


def samples_caption(finding: Finding) -> str:
    """What a histogram of samples shows, in a sentence."""
    samples = np.empty(0) if finding.samples is None else finding.samples
    tally = {
        "beyond the limit (hatched)": int((samples < 0).sum()),
        "not known": int(np.isnan(samples).sum()),
        "in which the question does not arise": int(np.isposinf(samples).sum()),
    }
    first, *others = (f"{wording.count(number)} {what}" for what, number in tally.items())
    counted = [first, *(text for text in others if not text.startswith("0 "))]
    lead = f"Margins of {wording.count(samples.size)} samples at the worst place"
    return f"{lead}: {', '.join(counted)}."


def known_samples(finding: Finding) -> Array:
    """The margins of the samples that are numbers."""
    samples = np.empty(0) if finding.samples is None else finding.samples.ravel()
    return samples[np.isfinite(samples)]


def _draw_area(axes: Axes, plane: Plane, finding: Finding) -> None:
    """Contours of the margin over two axes."""
    (across, x), (up, y) = ((name, _shown(name, at)) for name, at in plane.axes.items())
    margins = np.ma.masked_invalid(plane.margins.T)
    low, high = float(margins.min()), float(margins.max())
    if not np.isfinite(plane.margins).all():  # the paper's dots shine through where none is known
        axes.patch.set_hatch(_NOTHING)
        axes.contourf(x, y, margins, levels=[low - 1.0, high + 1.0], colors=[_PAPER])
    if low < 0:
        short = axes.contourf(x, y, margins, levels=[1.1 * low, 0.0], colors=[_SHORT])
        short.set_hatch(_HATCH)
    levels = [
        level for level in MaxNLocator(_CONTOURS).tick_values(low, high) if low < level < high
    ]
    if levels:
        widths = [2.2 if level == 0 else 0.9 for level in levels]
        lines = axes.contour(
            x, y, margins, levels=levels, colors=_INK, linewidths=widths, linestyles="solid"
        )
        unit = wording.margin_unit(finding)
        told = dict(zip(levels, wording.told_apart(levels, unit), strict=True))
        _label_lines(axes, lines, told)
    else:
        same = wording.quantity(low, wording.margin_unit(finding))
        axes.text(0.5, 0.5, f"{same} everywhere", ha="center", transform=axes.transAxes)
    _mark_points(axes, x, y, plane)
    _name_axis(axes.xaxis, across)
    _name_axis(axes.yaxis, up)
    _mark_worst(axes, plane, finding)


def _label_lines(axes: Axes, lines: QuadContourSet, told: Mapping[float, str]) -> None:
    """Write its value on each contour, half way along its longest piece: away from the border."""
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    size = np.array([right - left, top - bottom])
    middles = []
    for pieces in lines.allsegs:
        ways = [np.hypot(*(np.diff(piece, axis=0) / size).T).cumsum() for piece in pieces]
        lengths = [way[-1] if way.size else 0.0 for way in ways]
        if any(lengths):
            longest = int(np.argmax(lengths))
            half = np.searchsorted(ways[longest], 0.5 * lengths[longest])
            middles.append(tuple(pieces[longest][half : half + 2].mean(axis=0)))
    for label in axes.clabel(lines, fmt=dict(told), fontsize=8, colors=_INK, manual=middles):
        label.set_bbox({"facecolor": _PAPER, "edgecolor": "none", "pad": 0.8})


def _mark_points(axes: Axes, x: Array, y: Array, plane: Plane) -> None:
    """A dot where something is known, a cross where not all of it is."""
    across, up = np.meshgrid(x, y, indexing="ij")
    for marker, there in ((".", np.isfinite(plane.margins)), ("x", plane.unknown)):
        axes.plot(across[there], up[there], marker, color=_FAINT, markersize=4, clip_on=False)


def _draw_curve(axes: Axes, plane: Plane, finding: Finding) -> None:
    """The margin over one axis."""
    ((across, places),) = plane.axes.items()
    x, known = _shown(across, places), np.isfinite(plane.margins)
    margins = np.where(known, plane.margins, np.nan)
    axes.plot(x, margins, ".-", color=_INK, linewidth=1.2)
    below = np.where(known & (margins < 0), margins, 0.0)
    axes.fill_between(x, below, 0.0, facecolor=_SHORT, hatch=_HATCH, edgecolor=_INK, linewidth=0)
    axes.plot(x[plane.unknown], np.zeros(int(plane.unknown.sum())), "x", color=_FAINT)
    axes.axhline(0.0, color=_INK, linewidth=2.2)
    _name_axis(axes.xaxis, across)
    _name_margin(axes.yaxis, finding)
    _mark_worst(axes, plane, finding)


def _mark_worst(axes: Axes, plane: Plane, finding: Finding) -> None:
    """A ring around the worst place, with its margin written towards the middle."""
    found = plane.worst(finding.where)
    if found is None:
        return
    at = [float(_shown(name, np.array(c))) for name, c in zip(plane.axes, found, strict=True)]
    lowest = float(np.min(plane.margins, where=np.isfinite(plane.margins), initial=np.inf))
    margin = lowest if finding.margin is None else finding.margin
    x, y = at[0], at[1] if len(at) > 1 else margin
    right = x <= np.mean(axes.get_xlim())
    above = y <= np.mean(axes.get_ylim())
    axes.plot(x, y, "o", markersize=11, markeredgewidth=1.8, mfc="none", mec=_INK, clip_on=False)
    axes.annotate(
        f"worst: {wording.quantity(margin, wording.margin_unit(finding))}",
        (x, y),
        (14 if right else -14, 14 if above else -14),
        textcoords="offset points",
        ha="left" if right else "right",
        va="bottom" if above else "top",
        fontweight="bold",
        bbox={"facecolor": _PAPER, "edgecolor": _INK, "linewidth": 0.6, "pad": 2.5},
    )


def _draw_samples(axes: Axes, samples: Array, finding: Finding) -> None:
    """How many samples have which margin; the limit is at zero."""
    edges = _edges(samples)
    counts, _ = np.histogram(samples, edges)
    bars = axes.bar(
        edges[:-1], counts, np.diff(edges), align="edge", facecolor=_ENOUGH, edgecolor=_INK
    )
    for left, bar in zip(edges[:-1], bars, strict=True):
        bar.set_linewidth(0.6)
        if left < 0:
            bar.set_facecolor(_SHORT)
            bar.set_hatch(_HATCH)
    axes.axvline(0.0, color=_INK, linewidth=2.2)
    axes.margins(x=0.08)
    axes.annotate(
        "limit",
        (0.0, 1.0),
        (0, 3),
        xycoords=("data", "axes fraction"),
        textcoords="offset points",
        ha="center",
        fontweight="bold",
    )
    _name_margin(axes.xaxis, finding)
    axes.set_ylabel("samples")
    axes.yaxis.set_major_locator(MaxNLocator(5, integer=True))


def _edges(samples: Array) -> Array:
    """Edges of bars, one of them at the limit, so that no bar stands on both sides of it."""
    low, high = float(samples.min()), float(samples.max())
    bars = np.clip(np.sqrt(samples.size), 5, _MOST_BARS)
    shown = max(high, 0.0) - min(low, 0.0)
    width = max((high - low) / bars, shown / _THINNEST) or 1.0
    return width * np.arange(np.floor(low / width), np.floor(high / width) + 2)


class _Ticks(Formatter):
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


def _name_axis(axis: Axis, name: str) -> None:
    kind, _, rail = name.partition(" ")
    label, unit = _AXES[kind]
    axis.set_label_text(label.format(wording.printable(rail)), parse_math=False)
    axis.set_major_locator(MaxNLocator(5))
    axis.set_major_formatter(_Ticks(unit))


def _name_margin(axis: Axis, finding: Finding) -> None:
    axis.set_label_text("margin")
    axis.set_major_locator(MaxNLocator(5))
    axis.set_major_formatter(_Ticks(wording.margin_unit(finding)))


def _shown(name: str, places: Array) -> Array:
    """Places on an axis as a person reads them: temperatures in °C."""
    return celsius(places) if name == "ambient" else places


def _drawing(form: Form) -> AbstractContextManager[None]:
    return style.context(["default", {**_STYLE, **_FORMS[form]}])


def _svg(figure: Figure, prefix: str, title: str, form: Form) -> str:
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


def binding_map(found: Binding, prefix: str, form: Form = PAGE) -> str:
    """SVG of which question binds where; regions carry the numbers of a list beside it."""
    with _drawing(form):
        figure = Figure(figsize=_WHOLE, layout="constrained")
        axes = figure.subplots()
        _draw_binding(axes, found)
        return _svg(figure, prefix, "The question with the lowest reserve, over the range", form)


def _draw_binding(axes: Axes, found: Binding) -> None:
    (across, x), (up, y) = ((name, _shown(name, at)) for name, at in found.axes.items())
    reserve = np.ma.masked_invalid(100.0 * found.reserve.T)
    if reserve.mask.any():  # the paper's dots shine through where none is known
        axes.patch.set_hatch(_NOTHING)
    tints = [*_TINTS, *[_PAPER] * len(found.findings)]
    for number in range(len(found.findings)):
        there = (found.which == number).T.astype(float)
        axes.contourf(x, y, there, levels=[0.5, 1.5], colors=[tints[number]])
        if there.min() < 0.5:
            axes.contour(x, y, there, levels=[0.5], colors=_INK, linewidths=1.4)
    low, high = float(reserve.min()), float(reserve.max())
    if low < 0.0:
        short = axes.contourf(x, y, reserve, levels=[1.1 * low, 0.0], colors="none")
        short.set_hatch(_HATCH)
    levels = [at for at in MaxNLocator(_CONTOURS).tick_values(low, high) if low < at < high]
    if levels:
        widths = [2.2 if at == 0 else 0.7 for at in levels]
        lines = axes.contour(
            x, y, reserve, levels=levels, colors=_FAINT, linewidths=widths, linestyles="solid"
        )
        _label_lines(axes, lines, {level: f"{level:g} %" for level in levels})
    for number in range(len(found.findings)):
        column, row = _inmost(found.which == number)
        axes.text(
            *(x[column], y[row], str(number + 1)),
            ha="center",
            va="center",
            fontweight="bold",
            bbox={"boxstyle": "circle,pad=0.25", "facecolor": _PAPER, "edgecolor": _INK},
        )
    _name_axis(axes.xaxis, across)
    _name_axis(axes.yaxis, up)


def _inmost(there: NDArray[np.bool_]) -> tuple[int, int]:
    """The place of a region that is farthest from its border."""
    from scipy.ndimage import distance_transform_edt

    depth = distance_transform_edt(np.pad(there, 1))[1:-1, 1:-1]
    column, row = np.unravel_index(int(np.argmax(depth)), there.shape)
    return int(column), int(row)
