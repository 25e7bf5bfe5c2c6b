"""Curves as plain data: what a check lays beside its answer, for pages to draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Axis:
    """What runs along one side of a figure, as `Axis("time", "s")`.

    unit: one of `quantity.UNITS`, in which the numbers are; temperatures in kelvin.
    """

    label: str
    unit: str
    logarithmic: bool = False


@dataclass(frozen=True)
class Line:
    """Points of a line, and what it is called; the name may be empty where there is one."""

    name: str
    across: Array
    up: Array


@dataclass(frozen=True)
class Level:
    """A value that the lines are to be held against, as a limit."""

    name: str
    up: float


@dataclass(frozen=True)
class Curves:
    """A figure of lines over one axis; not-a-number leaves a gap in a line."""

    title: str
    across: Axis
    up: Axis
    lines: Sequence[Line]
    levels: Sequence[Level] = ()
    below: bool = False
    """Whether it stands below the one before, over the same axis: the phase of a loop, say."""
