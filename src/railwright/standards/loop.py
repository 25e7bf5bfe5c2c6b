"""Loops of conductors: inductance, and what a fast edge makes of it.

Source: the circular loop of round wire, L = u0 R (ln(8 R / a) - 2), Grover, Inductance
Calculations (from memory); loops of other shapes of the same area are within a fifth. Ringing:
f = 1 / (2 pi sqrt(L C)), textbooks.
"""

import math

MU = 4e-7 * math.pi  # H/m


def inductance(area: float, width: float) -> float:
    """Inductance of a loop of a flat conductor [H].

    area enclosed [m²]; width of the conductor [m], which counts as a round one whose radius is a
    quarter of it (Grover, from memory). ValueError where the loop is smaller than its conductor.

    >>> round(inductance(1e-4, 2e-3) * 1e9, 1)
    17.7
    """
    radius = math.sqrt(area / math.pi)
    wire = width / 4.0
    if not 0 < wire < radius:
        raise ValueError(
            f"{area!r} m² around a conductor of {width!r} m: wanted is a loop larger than that"
        )
    return MU * radius * (math.log(8.0 * radius / wire) - 2.0)


def ringing(henries: float, farads: float) -> float:
    """Frequency at which an inductance and a capacitance ring [Hz].

    >>> round(ringing(10e-9, 100e-12) / 1e6)
    159
    """
    return 1.0 / (2.0 * math.pi * math.sqrt(henries * farads))
