"""The map of which question binds where, as a figure; its numbers stand in a list beside it."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from railwright.pages.binding import Binding
from railwright.pages.drawing import (
    CONTOURS,
    FAINT,
    HATCH,
    INK,
    NOTHING,
    PAGE,
    PAPER,
    Form,
    as_svg,
    drawing,
    label_contours,
    name_axis,
    shown,
)

_WHOLE = (6.4, 4.2)  # inches
_TINTS = ("#dbe5e6", "#efe3cd", "#e3dcea", "#dfe8d6", "#f0dcd6", "#d9e0ee", "#ece8d2", "#dde8e4")


def binding_map(found: Binding, prefix: str, form: Form = PAGE) -> str:
    """SVG of which question binds where; regions carry the numbers of a list beside it."""
    with drawing(form):
        figure = Figure(figsize=_WHOLE, layout="constrained")
        axes = figure.subplots()
        _draw_binding(axes, found)
        return as_svg(figure, prefix, "The question with the lowest reserve, over the range", form)


def _draw_binding(axes: Axes, found: Binding) -> None:
    (across, x), (up, y) = ((name, shown(name, at)) for name, at in found.axes.items())
    reserve = np.ma.masked_invalid(100.0 * found.reserve.T)
    if reserve.mask.any():  # the paper's dots shine through where none is known
        axes.patch.set_hatch(NOTHING)
    tints = [*_TINTS, *[PAPER] * len(found.findings)]
    for number in range(len(found.findings)):
        there = (found.which == number).T.astype(float)
        axes.contourf(x, y, there, levels=[0.5, 1.5], colors=[tints[number]])
        if there.min() < 0.5:
            axes.contour(x, y, there, levels=[0.5], colors=INK, linewidths=1.4)
    low, high = float(reserve.min()), float(reserve.max())
    if low < 0.0:
        short = axes.contourf(x, y, reserve, levels=[1.1 * low, 0.0], colors="none")
        short.set_hatch(HATCH)
    levels = [at for at in MaxNLocator(CONTOURS).tick_values(low, high) if low < at < high]
    if levels:
        widths = [2.2 if at == 0 else 0.7 for at in levels]
        lines = axes.contour(
            x, y, reserve, levels=levels, colors=FAINT, linewidths=widths, linestyles="solid"
        )
        label_contours(axes, lines, {level: f"{level:g} %" for level in levels})
    for number in range(len(found.findings)):
        column, row = _inmost(found.which == number)
        axes.text(
            *(x[column], y[row], str(number + 1)),
            ha="center",
            va="center",
            fontweight="bold",
            bbox={"boxstyle": "circle,pad=0.25", "facecolor": PAPER, "edgecolor": INK},
        )
    name_axis(axes.xaxis, across)
    name_axis(axes.yaxis, up)


def _inmost(there: NDArray[np.bool_]) -> tuple[int, int]:
    """The place of a region that is farthest from its border."""
    from scipy.ndimage import distance_transform_edt

    depth = distance_transform_edt(np.pad(there, 1))[1:-1, 1:-1]
    column, row = np.unravel_index(int(np.argmax(depth)), there.shape)
    return int(column), int(row)
