"""A map of margins laid flat: two axes of the operating range, the worst over all others."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.prove.proof import Array, Finding, MarginMap, Place

_ORDER = ("output", "load", "input", "ambient")


@dataclass(frozen=True)
class Plane:
    """Margins over the axis across and, where there is a second, the axis up."""

    axes: Mapping[str, Array]
    """One or two of the map's, across first, in V, A or K."""
    margins: Array
    """Worst over the other axes, in the order of `axes`; infinite where nothing is asked."""
    unknown: NDArray[np.bool_]
    """Where some margin is not known, so that the worst may be worse than `margins` says."""

    def worst(self, where: Place | None) -> tuple[float, ...] | None:
        """Coordinates of the worst place: the finding's own, else of the lowest margin here."""
        told = [_coordinate(where, axis) for axis in self.axes]
        if all(map(math.isfinite, told)):
            return tuple(told)
        finite = np.isfinite(self.margins)
        if not finite.any():
            return None
        lowest = np.argmin(np.where(finite, self.margins, np.inf))
        index = np.unravel_index(lowest, self.margins.shape)
        places = zip(self.axes.values(), index, strict=True)
        return tuple(float(axis[i]) for axis, i in places)


def plane_of(finding: Finding) -> Plane | None:
    """The load across and the output setting up, or what else varies; None for a single point."""
    if finding.map is None:
        return None
    names = list(reversed(_varying(finding.map, finding.subject)[:2]))
    if not names:
        return None
    margins = _with_axes_first(finding.map, names)
    unknown = np.isnan(margins)
    lowest = np.where(unknown, np.inf, margins).min(axis=-1)
    lowest = np.where(unknown.all(axis=-1), np.nan, lowest)
    return Plane({name: finding.map.axes[name] for name in names}, lowest, np.any(unknown, axis=-1))


def _varying(found: MarginMap, subject: str) -> list[str]:
    """Axes with more than one place; of several rails, those of the subject or of the first."""
    names = [name for name, places in found.axes.items() if places.size > 1]
    names.sort(key=lambda name: _ORDER.index(name.partition(" ")[0]))
    rails = [rail for name in names if (rail := name.partition(" ")[2])]
    shown = subject if subject in rails else next(iter(rails), "")
    return [name for name in names if name.partition(" ")[2] in ("", shown)]


def _with_axes_first(found: MarginMap, names: list[str]) -> Array:
    """The margins with these axes first and all others in one, last."""
    whole = np.reshape(found.margins, [places.size for places in found.axes.values()])
    there = [list(found.axes).index(name) for name in names]
    turned = np.moveaxis(whole, there, range(len(there)))
    return turned.reshape(*turned.shape[: len(there)], -1)


def _coordinate(where: Place | None, axis: str) -> float:
    if where is None:
        return math.nan
    kind, _, rail = axis.partition(" ")
    if kind in ("output", "load"):
        places = where.outputs if kind == "output" else where.loads
        return places.get(rail, math.nan)
    return where.input if kind == "input" else where.ambient
