"""Conductors of a printed board: width and current for a temperature rise.

Source: IPC-2221, curve fit of its conductor charts, I = k rise^0.44 A^0.725 with A in square mil
(0.0254 mm), k = 0.048 for outer and 0.024 for inner layers. The charts reach 35 A and rises of
10 to 100 K (range from memory); beyond them the fit is an extrapolation.
"""

from typing import Literal

MIL = 25.4e-6  # m
_FACTOR = {"outer": 0.048, "inner": 0.024}

Layer = Literal["outer", "inner"]


def conductor_width(
    current: float, rise: float, thickness: float = 35e-6, layer: Layer = "outer"
) -> float:
    """Least width of a board conductor [m].

    current [A]; rise above the board's temperature [K]; thickness of the copper [m].

    >>> round(conductor_width(3.0, 10.0) * 1e3, 2)
    1.37
    """
    square_mils = (current / (_FACTOR[layer] * rise**0.44)) ** (1 / 0.725)
    return float(square_mils * MIL**2 / thickness)


def conductor_current(
    width: float, rise: float, thickness: float = 35e-6, layer: Layer = "outer"
) -> float:
    """Current that a board conductor carries [A].

    width and thickness [m]; rise above the board's temperature [K].

    >>> round(conductor_current(1.37e-3, 10.0), 2)
    3.0
    """
    return float(_FACTOR[layer] * rise**0.44 * (width * thickness / MIL**2) ** 0.725)
