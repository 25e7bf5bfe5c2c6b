"""Efficiency and heat of all candidates over the range, side by side, as a figure.

Ink first: contours carry their values. A column has the same lines for all candidates, and what is
above the middle of all is tinted.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from railwright.pages import wording
from railwright.pages.drawing import (
    FAINT,
    FILE,
    INK,
    Form,
    as_svg,
    drawing,
    label_contours,
    name_axis,
)
from railwright.propose.candidates import Proposal
from railwright.propose.power import Array, PowerMap

WIDTH, HEIGHT = 7.6, 2.9  # inches, of a row of two maps
LINES = 8
"""Values that have a contour, about."""
EDGE = 0.03
"""Share of what a map has, next to its least and its greatest, where no label has room."""
TINT = "#efe3cd"

Quantity = Callable[[PowerMap], Array]
Told = Callable[[float], str]
COLUMNS: Sequence[tuple[str, Quantity, Told]] = (
    ("efficiency", lambda found: 100.0 * found.efficiency, lambda at: f"{at:.3g} %"),
    ("heat", lambda found: found.loss, lambda at: wording.quantity(at, "W")),
)


def side_by_side(proposal: Proposal, form: Form = FILE) -> str:
    """SVG of a proposal with candidates: a row for each, the best first."""
    candidates = proposal.candidates
    with drawing(form):
        figure = Figure(figsize=(WIDTH, HEIGHT * len(candidates)), layout="constrained")
        grid = figure.subplots(len(candidates), len(COLUMNS), squeeze=False)
        for column, (name, quantity, told) in enumerate(COLUMNS):
            values = [quantity(each.figures.over_range) for each in candidates]
            known = np.concatenate([each[np.isfinite(each)] for each in values])
            levels = MaxNLocator(LINES).tick_values(known.min(), known.max()) if known.size else []
            for row, (candidate, value) in enumerate(zip(candidates, values, strict=True)):
                axes, places = grid[row][column], candidate.figures.over_range.axes
                title = f"{candidate.architecture}\n{name}{_reach(value, told)}"
                axes.set_title(title, loc="left", fontsize=10)
                _draw(axes, places, value, levels, told)
        return as_svg(figure, "compared", f"Efficiency and heat: {proposal.title}", form)


def _reach(value: Array, told: Told) -> str:
    known = value[np.isfinite(value)]
    return f", {told(known.min())} to {told(known.max())}" if known.size else " not known"


def _draw(
    axes: Axes, places: Mapping[str, Array], value: Array, levels: Sequence[float], told: Told
) -> None:
    across, *up = places
    name_axis(axes.xaxis, across)
    axes.xaxis.set_major_locator(MaxNLocator(4))
    if not up:
        axes.plot(places[across], value, color=INK)
        axes.yaxis.set_major_formatter(lambda at, _: told(at))
        return
    name_axis(axes.yaxis, up[0])
    shown = np.ma.masked_invalid(value.T)
    if shown.count():
        _draw_contours(axes, (places[across], places[up[0]], shown), levels, told)


def _draw_contours(
    axes: Axes, mapped: tuple[Array, Array, Any], levels: Sequence[float], told: Told
) -> None:
    low, high = float(mapped[2].min()), float(mapped[2].max())
    middle = 0.5 * (levels[0] + levels[-1])
    axes.contourf(*mapped, levels=[middle, max(high, middle) + 1.0], colors=[TINT])
    edge = EDGE * (high - low)
    within = [at for at in levels if low + edge < at < high - edge]
    if within:
        lines = axes.contour(*mapped, levels=within, colors=FAINT, linewidths=0.8)
        label_contours(axes, lines, {level: told(level) for level in within})
