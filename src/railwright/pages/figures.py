"""Figures of a finding as SVG: where it is tight, and how samples come out.

Ink first: contour lines carry their margin, hatching says "beyond the limit", colour only helps.
The same finding gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from railwright.pages import wording
from railwright.pages.drawing import (
    CONTOURS,
    FAINT,
    HATCH,
    INK,
    NOTHING,
    PAGE,
    PAPER,
    SHORT,
    Form,
    Ticks,
    as_svg,
    drawing,
    label_contours,
    name_axis,
    shown,
)
from railwright.pages.plane import Plane, plane_of
from railwright.prove.proof import Array, Finding

OVER = 10
"""Of the worst margin: above lines and what is written on them."""
_ENOUGH = "#dbe5e6"
_MOST_BARS = 40
_THINNEST = 80  # of a bar: part of the width from the limit to the farthest sample
_MAP, _HISTOGRAM = (5.0, 3.6), (4.2, 3.6)  # inches
MOST_FIGURES = 40
"""Findings with the least reserve get maps and histograms; of the others that hold, the numbers and
what goes on at the worst place are enough."""
MAP_CAPTION = (
    "Margin with the worst parts, at the worst of what the axes do not show. Hatched: beyond the "
    "limit. Thick: the limit. Points: where it was computed; crosses: where not all of it could "
    "be. Dotted: where the question does not arise. Ring: the worst place."
)


@dataclass(frozen=True)
class Mark:
    """A margin that was measured, at a place of the operating range."""

    where: Mapping[str, float]
    """Axis, as "load main", -> V, A or K; of axes that a map does not show nothing is asked."""
    margin: float
    is_within: bool
    """Whether it is as predicted."""


def margin_map(finding: Finding, prefix: str, form: Form = PAGE, marks: Sequence[Mark] = ()) -> str:
    """SVG of the worst margin over the operating range; empty where it was not looked over.

    prefix: stands before every id in it, so that several figures can share a page. form: what
    it is for. marks: what was measured.
    """
    plane = plane_of(finding)
    if plane is None or not np.isfinite(plane.margins).any():
        return ""
    with drawing(form):
        figure = Figure(figsize=_MAP, layout="constrained")
        axes = figure.subplots()
        (_draw_area if len(plane.axes) == 2 else _draw_curve)(axes, plane, finding)
        _mark_measured(axes, plane, finding, marks)
        return as_svg(figure, prefix, f"Margins over the operating range: {finding.subject}", form)


def sample_histogram(finding: Finding, prefix: str, form: Form = PAGE) -> str:
    """SVG of how the margins of the samples come out; empty where none is known."""
    samples = known_samples(finding)
    if not samples.size:
        return ""
    with drawing(form):
        figure = Figure(figsize=_HISTOGRAM, layout="constrained")
        _draw_samples(figure.subplots(), samples, finding)
        return as_svg(figure, prefix, f"Margins of the samples: {finding.subject}", form)


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
    (across, x), (up, y) = ((name, shown(name, at)) for name, at in plane.axes.items())
    margins = np.ma.masked_invalid(plane.margins.T)
    low, high = float(margins.min()), float(margins.max())
    if not np.isfinite(plane.margins).all():  # the paper's dots shine through where none is known
        axes.patch.set_hatch(NOTHING)
        axes.contourf(x, y, margins, levels=[low - 1.0, high + 1.0], colors=[PAPER])
    if low < 0:
        short = axes.contourf(x, y, margins, levels=[1.1 * low, 0.0], colors=[SHORT])
        short.set_hatch(HATCH)
    levels = [level for level in MaxNLocator(CONTOURS).tick_values(low, high) if low < level < high]
    if levels:
        widths = [2.2 if level == 0 else 0.9 for level in levels]
        lines = axes.contour(
            x, y, margins, levels=levels, colors=INK, linewidths=widths, linestyles="solid"
        )
        unit = wording.margin_unit(finding)
        told = dict(zip(levels, wording.told_apart(levels, unit), strict=True))
        label_contours(axes, lines, told, _place_of_worst(plane, finding))
    else:
        same = wording.quantity(low, wording.margin_unit(finding))
        axes.text(0.5, 0.5, f"{same} everywhere", ha="center", transform=axes.transAxes)
    _mark_points(axes, x, y, plane)
    name_axis(axes.xaxis, across)
    name_axis(axes.yaxis, up)
    _mark_worst(axes, plane, finding)


def _mark_points(axes: Axes, x: Array, y: Array, plane: Plane) -> None:
    """A dot where something is known, a cross where not all of it is."""
    across, up = np.meshgrid(x, y, indexing="ij")
    for marker, there in ((".", np.isfinite(plane.margins)), ("x", plane.unknown)):
        axes.plot(across[there], up[there], marker, color=FAINT, markersize=4, clip_on=False)


def _draw_curve(axes: Axes, plane: Plane, finding: Finding) -> None:
    """The margin over one axis."""
    ((across, places),) = plane.axes.items()
    x, known = shown(across, places), np.isfinite(plane.margins)
    margins = np.where(known, plane.margins, np.nan)
    axes.plot(x, margins, ".-", color=INK, linewidth=1.2)
    below = np.where(known & (margins < 0), margins, 0.0)
    axes.fill_between(x, below, 0.0, facecolor=SHORT, hatch=HATCH, edgecolor=INK, linewidth=0)
    axes.plot(x[plane.unknown], np.zeros(int(plane.unknown.sum())), "x", color=FAINT)
    axes.axhline(0.0, color=INK, linewidth=2.2)
    name_axis(axes.xaxis, across)
    _name_margin(axes.yaxis, finding)
    _mark_worst(axes, plane, finding)


def _place_of_worst(plane: Plane, finding: Finding) -> list[float] | None:
    """Where the worst place is on the axes; None where it is on none of them."""
    found = plane.worst(finding.where)
    if found is None:
        return None
    return [float(shown(name, np.array(c))) for name, c in zip(plane.axes, found, strict=True)]


def _mark_worst(axes: Axes, plane: Plane, finding: Finding) -> None:
    """A ring around the worst place, with its margin written towards the middle."""
    at = _place_of_worst(plane, finding)
    if at is None:
        return
    lowest = float(np.min(plane.margins, where=np.isfinite(plane.margins), initial=np.inf))
    margin = lowest if finding.margin is None else finding.margin
    x, y = at[0], at[1] if len(at) > 1 else margin
    right = x <= np.mean(axes.get_xlim())
    above = y <= np.mean(axes.get_ylim())
    axes.plot(x, y, "o", markersize=11, markeredgewidth=1.8, mfc="none", mec=INK, clip_on=False)
    axes.annotate(
        f"worst: {wording.quantity(margin, wording.margin_unit(finding))}",
        (x, y),
        (14 if right else -14, 14 if above else -14),
        textcoords="offset points",
        ha="left" if right else "right",
        va="bottom" if above else "top",
        fontweight="bold",
        zorder=OVER,
        bbox={"facecolor": PAPER, "edgecolor": INK, "linewidth": 0.6, "pad": 2.5},
    )


def _mark_measured(axes: Axes, plane: Plane, finding: Finding, marks: Sequence[Mark]) -> None:
    """What was measured, written at its place: a full square, or an empty one where it is not as
    predicted."""
    for mark in marks:
        if not plane.axes.keys() <= mark.where.keys():
            continue
        at = [float(shown(name, np.array(mark.where[name]))) for name in plane.axes]
        x, y = at[0], at[1] if len(at) > 1 else mark.margin
        axes.plot(x, y, "s", mfc=INK if mark.is_within else PAPER, mec=INK, clip_on=False)
        axes.annotate(
            wording.quantity(mark.margin, wording.margin_unit(finding)),
            (x, y),
            (0, 6),
            textcoords="offset points",
            ha="center",
            fontsize=8,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
        )


def _draw_samples(axes: Axes, samples: Array, finding: Finding) -> None:
    """How many samples have which margin; the limit is at zero."""
    edges = _edges(samples)
    counts, _ = np.histogram(samples, edges)
    bars = axes.bar(
        edges[:-1], counts, np.diff(edges), align="edge", facecolor=_ENOUGH, edgecolor=INK
    )
    for left, bar in zip(edges[:-1], bars, strict=True):
        bar.set_linewidth(0.6)
        if left < 0:
            bar.set_facecolor(SHORT)
            bar.set_hatch(HATCH)
    axes.axvline(0.0, color=INK, linewidth=2.2)
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


def _name_margin(axis: Axis, finding: Finding) -> None:
    axis.set_label_text("margin")
    axis.set_major_locator(MaxNLocator(5))
    axis.set_major_formatter(Ticks(wording.margin_unit(finding)))
