"""Metric conductors: cross-sections and the resistance they may have at most.

Source: IEC 60228, "Conductors of insulated cables", plain copper at 20 °C, class 2 (stranded)
and class 5 (flexible), 0.5 to 16 mm²; from memory.
"""

from typing import Literal

Build = Literal["stranded", "flexible"]

# mm²: Ω/km, stranded and flexible.
_RESISTANCE: dict[float, dict[Build, float]] = {
    0.5: {"stranded": 36.0, "flexible": 39.0},
    0.75: {"stranded": 24.5, "flexible": 26.0},
    1.0: {"stranded": 18.1, "flexible": 19.5},
    1.5: {"stranded": 12.1, "flexible": 13.3},
    2.5: {"stranded": 7.41, "flexible": 7.98},
    4.0: {"stranded": 4.61, "flexible": 4.95},
    6.0: {"stranded": 3.08, "flexible": 3.30},
    10.0: {"stranded": 1.83, "flexible": 1.91},
    16.0: {"stranded": 1.15, "flexible": 1.21},
}
SIZES = tuple(size * 1e-6 for size in _RESISTANCE)
"""Cross-sections, rising [m²]."""


def size_for(cross_section: float) -> float:
    """The least size that has at least a cross-section [m²].

    cross-section [m²]. ValueError where there is none.

    >>> round(size_for(1.2e-6) * 1e6, 6)
    1.5
    """
    if not 0 < cross_section <= SIZES[-1] * (1 + 1e-9):
        raise ValueError(
            f"no size of {cross_section!r} m²: wanted is more than 0 and at most {SIZES[-1]:g} m²"
        )
    return next(size for size in SIZES if size * (1 + 1e-9) >= cross_section)


def greatest_resistance(size: float, build: Build = "flexible") -> float:
    """Greatest resistance per length at 20 °C [Ω/m].

    size [m²], one of `SIZES`. ValueError where it is none, or the build is unknown.

    >>> round(greatest_resistance(1.5e-6), 6)
    0.0133
    """
    row = next((row for at, row in _RESISTANCE.items() if abs(at * 1e-6 - size) < 1e-9), None)
    if row is None:
        listed = ", ".join(f"{at:g}" for at in _RESISTANCE)
        raise ValueError(f"no row for {size!r} m²: there are {listed} mm²")
    if build not in row:
        raise ValueError(f"no row for {build!r}: there are {', '.join(row)}")
    return row[build] / 1000
