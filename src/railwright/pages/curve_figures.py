"""Curves of a finding as figures: waveforms, courses in time, responses over frequency."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import cycle
from textwrap import fill

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import LogLocator, MaxNLocator, NullFormatter

from railwright.pages import wording
from railwright.pages.drawing import FAINT, INK, PAGE, Form, Ticks, as_svg, drawing
from railwright.prove.proof import Array, Finding
from railwright.quantity import celsius
from railwright.surveys.curves import Axis as Side
from railwright.surveys.curves import Curves

_SQUARES = "#e9edf0"
_CURVES = (5.0, 3.0)  # inches
_MORE = 0.75  # of the height of a first panel: that of one below it
_LABEL = 30  # characters in a line beside an axis
_ANGLES = (1, 1.5, 3, 4.5, 9, 10)
_DASHES = (("-", INK), ("--", INK), (":", INK), ("-.", INK), ("-", FAINT), ("--", FAINT))


def curve_figures(finding: Finding, prefix: str, form: Form = PAGE) -> list[tuple[str, str]]:
    """Titles and SVGs of what goes on at the worst place; those that belong together are one."""
    return figures_of(finding.curves, finding.subject, prefix, form)


def figures_of(
    curves: Sequence[Curves], subject: str, prefix: str, form: Form = PAGE
) -> list[tuple[str, str]]:
    """Titles and SVGs of curves about a subject; those that belong together are one."""
    found = []
    for number, panels in enumerate(_together(curves)):
        title = panels[0].title
        with drawing(form):
            height = _CURVES[1] * (1.0 + _MORE * (len(panels) - 1))
            figure = Figure(figsize=(_CURVES[0], height), layout="constrained")
            several = figure.subplots(len(panels), 1, sharex=True, squeeze=False)[:, 0]
            for axes, panel in zip(several, panels, strict=True):
                _draw_curves(axes, panel)
            _name_side(several[-1].xaxis, panels[0].across)
            figure.align_ylabels(several)
            svg = as_svg(figure, f"{prefix}-{number}", f"{title}: {subject}", form)
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
        axes.axhline(at, color=INK, linewidth=2.2)
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
    axis.set_major_formatter(Ticks(side.unit))


def _on_side(side: Side, values: Array) -> Array:
    """Values as a person reads them: temperatures in °C."""
    return celsius(values) if side.unit == "°C" else values
