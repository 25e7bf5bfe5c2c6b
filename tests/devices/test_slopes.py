"""Slopes of what every kind states: right at ten thousand random points, and without corners."""

from __future__ import annotations

from functools import partial
from typing import ClassVar

import numpy as np
import pytest
from devices.complex_step import ComplexStep, as_step
from devices.corners import sharpest
from devices.placing import between, stated
from devices.samples import lone_parts
from devices.terms import LonePart

from railwright.devices import kinds
from railwright.devices.arithmetic import positive, where
from railwright.devices.device import Device, Pin, Terms
from railwright.engine.dual import Dual

every_kind = pytest.mark.parametrize("kind", sorted(kinds()))

POINTS = 10_000
FEWEST = 500
"""Points of a kind, shared out among its forms, and what each form has at least."""
FAR = 1e3  # V or A
BOUND = 1e-12
"""Of the size of the terms: some hundred roundings of 1e-16 each, of which an exponential with an
exponent of some tens makes that many times more. 4e-14 is the most that is found."""
LINES = 100
FEWEST_LINES = 8
"""Lines of a kind, likewise."""
BENT = 1e-3
"""Of the steepest slope: a change of no more is not told from rounding."""


def forms(kind: str) -> list[LonePart]:
    """The kind with every option, linked and alone, at rest and moving."""
    return [part for moving in (False, True) for part in lone_parts(kind, 1.0, 1, moving)]


def assert_slopes_agree(shape: LonePart, count: int, switched: bool = False) -> None:
    """At each of so many random points: dual numbers, and the complex step."""
    place = partial(between, shape, count=count, greatest=FAR, fixed=False)
    parts = (
        place(carry=lambda start, end: Dual(start, {0: end - start})),
        place(carry=lambda start, end: ComplexStep.along(start, end - start)),
    )
    for part in parts:
        part.run_switched() if switched else part.run()
    by_duals, by_steps = (dict(stated(part)) for part in parts)
    assert by_duals.keys() == by_steps.keys()
    for name, found in by_duals.items():
        slope = found.slopes.get(0, 0.0) if isinstance(found, Dual) else 0.0
        wanted = as_step(by_steps[name])
        near = np.abs(slope - wanted.slope) <= BOUND * wanted.size
        assert near.all(), (name, shape.options, shape.without)


@every_kind
def test_slopes_are_those_of_the_complex_step(kind: str) -> None:
    """Of all that is stated, along random directions in states, temperatures, values and inputs.

    Near and far, hot and cold, with values anywhere within their spread, at every single point.
    """
    shapes = forms(kind)
    count = max(POINTS // len(shapes) + 1, FEWEST)
    for shape in shapes:
        assert_slopes_agree(shape, count)
    if kinds()[kind].switched_unknowns is not None:
        for shape in lone_parts(kind, 1.0, 1, moving=True):
            assert_slopes_agree(shape, count, switched=True)


@every_kind
def test_no_curve_has_a_corner_or_a_jump(kind: str) -> None:
    """Of those that solvers walk along: flows, equations and what is stored.

    Not cycle by cycle, where edges are ideal.
    """
    shapes = forms(kind)
    for shape in shapes:
        left = sharpest(shape, max(LINES // len(shapes), FEWEST_LINES))
        found = {name: change for name, change in left.items() if not change < BENT}
        assert not found, (shape.options, shape.without, shape.moving)


class Bent(Device):
    """A curve with a corner, one with a jump, and a smooth one that nearly has a corner."""

    pins: ClassVar = {name: Pin("passive") for name in ("corner", "jump", "none")}

    def equations(self, t: Terms) -> None:
        t.flow("corner", abs(t.v("corner")) + 100.0 * t.v("corner"))
        t.flow("jump", t.v("jump") + where(t.v("jump"), 1e-6, 0.0))
        t.flow("none", positive(t.v("none"), 1e-6))


def test_corners_and_jumps_are_found() -> None:
    left = sharpest(LonePart(Bent(), {}, {}), LINES)
    assert left["flows corner"] > 0.01
    assert left["flows jump"] > 1.0
    assert left["flows none"] < BENT
