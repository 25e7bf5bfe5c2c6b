"""Points, boxes and turns on the drawing's grid: a step is `STEP` pixels, y grows downward."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, floor

STEP = 10
"""Pixels in a step of the grid."""

Point = tuple[int, int]
"""A place of the grid: where wires run and pins are met."""
Spot = tuple[float, float]
"""Any place, in steps."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, in steps."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.bottom - self.top

    def moved(self, x: float, y: float) -> Box:
        """This box elsewhere."""
        return Box(self.left + x, self.top + y, self.right + x, self.bottom + y)

    def grown(self, by: float) -> Box:
        """This box with a margin."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def on_grid(self) -> Box:
        """The least box around it whose corners are places of the grid."""
        near = 1e-6
        return Box(
            floor(self.left + near),
            floor(self.top + near),
            ceil(self.right - near),
            ceil(self.bottom - near),
        )

    def meets(self, other: Box) -> bool:
        """Whether both have more than a border in common."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def places(self) -> Iterable[Point]:
        """Places of the grid in it, its border included."""
        for y in range(ceil(self.top), floor(self.bottom) + 1):
            for x in range(ceil(self.left), floor(self.right) + 1):
                yield x, y


def around(boxes: Iterable[Box]) -> Box:
    """The least box around some, of which there is at least one."""
    found = list(boxes)
    return Box(
        min(b.left for b in found),
        min(b.top for b in found),
        max(b.right for b in found),
        max(b.bottom for b in found),
    )


@dataclass(frozen=True, slots=True)
class Turn:
    """How a symbol is laid: mirrored left to right or not, then turned by quarters clockwise."""

    quarters: int = 0
    mirrored: bool = False

    def spot(self, x: float, y: float) -> Spot:
        """Where a spot of the symbol goes.

        >>> Turn(1).spot(3, 0), Turn(0, True).spot(3, 1)
        ((0, 3), (-3, 1))
        """
        if self.mirrored:
            x = -x
        for _ in range(self.quarters):
            x, y = (-y if y else y), x
        return x, y

    def place(self, x: int, y: int) -> Point:
        """Where a place of the grid goes."""
        found = self.spot(x, y)
        return int(found[0]), int(found[1])

    def box(self, box: Box) -> Box:
        """Where a box goes."""
        a, b = self.spot(box.left, box.top), self.spot(box.right, box.bottom)
        return Box(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))


UPRIGHT = Turn()
LYING = (Turn(0), Turn(2))
STANDING = (Turn(1), Turn(3))
MIRRORED = Turn(0, True)
UPSIDE_DOWN = Turn(2, True)
