"""Classes of price: what one piece, or a metre of wire, costs a builder, to a factor of about two.

They compare designs and never replace a quotation. Ranges and the class of each part: prices of one
piece at distributors in the twenties of this century, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

CLASSES = (
    "to 0.1 €",
    "0.1 to 0.3 €",
    "0.3 to 1 €",
    "1 to 3 €",
    "3 to 10 €",
    "10 to 30 €",
    "30 to 100 €",
)
"""In order; each is about three times the one before."""

_BOUNDS = (0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0)
"""€, the upper bound of each class."""


def cost_of_all(classes: Iterable[str]) -> float:
    """What several pieces cost together, roughly [€]; of those without a class nothing counts.

    A piece costs about the middle of its class, its upper bound over the root of three.
    """
    return sum(_BOUNDS[CLASSES.index(each)] for each in classes if each in CLASSES) / math.sqrt(3.0)


def class_of_all(classes: Iterable[str]) -> str:
    """The class of what several pieces cost together; of those without a class nothing counts.

    A sum beyond the dearest class is in that.

    >>> class_of_all(["1 to 3 €", "3 to 10 €", "to 0.1 €"])
    '3 to 10 €'
    """
    total = cost_of_all(classes)
    place = next((n for n, bound in enumerate(_BOUNDS) if total <= bound), len(CLASSES) - 1)
    return CLASSES[place]
