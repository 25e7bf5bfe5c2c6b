"""Conductors of a printed board: width and current for a temperature rise, and clearance.

Source of the width: IPC-2221, curve fit of its conductor charts, I = k rise^0.44 A^0.725 with A
in square mil (0.0254 mm), k = 0.048 for outer and 0.024 for inner layers. The charts reach 35 A
and rises of 10 to 100 K (range from memory); beyond them the fit is an extrapolation. Source of
the clearance: IPC-2221B, table 6-1, as transcribed in public source texts.
"""

from typing import Literal

MIL = 25.4e-6  # m
_FACTOR = {"outer": 0.048, "inner": 0.024}

Layer = Literal["outer", "inner"]
Place = Literal["B1", "B2", "B3", "B4", "A5", "A6", "A7"]
"""Board: B1 inside, B2 outside without coating, B3 the same above 3050 m, B4 outside with solder
mask or other permanent coating. Assembly: A5 outside with conformal coating, A6 leads without
coating, A7 leads with conformal coating. B2 and A6 up to 3050 m above the sea."""

_PLACES = ("B1", "B2", "B3", "B4", "A5", "A6", "A7")
# Up to so many volts: millimetres.
_CLEARANCES: dict[float, tuple[float, ...]] = {
    15.0: (0.05, 0.1, 0.1, 0.05, 0.13, 0.13, 0.13),
    30.0: (0.05, 0.1, 0.1, 0.05, 0.13, 0.25, 0.13),
    50.0: (0.1, 0.6, 0.6, 0.13, 0.13, 0.4, 0.13),
    100.0: (0.1, 0.6, 1.5, 0.13, 0.13, 0.5, 0.13),
    150.0: (0.2, 0.6, 3.2, 0.4, 0.4, 0.8, 0.4),
    170.0: (0.2, 1.25, 3.2, 0.4, 0.4, 0.8, 0.4),
    250.0: (0.2, 1.25, 6.4, 0.4, 0.4, 0.8, 0.4),
    300.0: (0.2, 1.25, 12.5, 0.4, 0.4, 0.8, 0.8),
    500.0: (0.25, 2.5, 12.5, 0.8, 0.8, 1.5, 0.8),
}
_PER_VOLT_ABOVE = (0.0025, 0.005, 0.025, 0.00305, 0.00305, 0.00305, 0.00305)  # mm


def conductor_width(
    current: float, rise: float, thickness: float = 35e-6, layer: Layer = "outer"
) -> float:
    """Least width of a board conductor [m].

    current [A]; rise above the board's temperature [K]; thickness of the copper [m]. ValueError
    where one of them makes no sense.

    >>> round(conductor_width(3.0, 10.0) * 1e3, 2)
    1.37
    """
    if not (current >= 0 and rise > 0 and thickness > 0):
        raise ValueError(
            f"{current!r} A, {rise!r} K, {thickness!r} m: wanted are 0 or more, above 0, above 0"
        )
    square_mils = (current / (_FACTOR[layer] * rise**0.44)) ** (1 / 0.725)
    return float(square_mils * MIL**2 / thickness)


def conductor_current(
    width: float, rise: float, thickness: float = 35e-6, layer: Layer = "outer"
) -> float:
    """Current that a board conductor carries [A].

    width and thickness [m]; rise above the board's temperature [K]. ValueError where one of
    them makes no sense.

    >>> round(conductor_current(1.37e-3, 10.0), 2)
    3.0
    """
    if not (width >= 0 and rise > 0 and thickness > 0):
        raise ValueError(
            f"{width!r} m, {rise!r} K, {thickness!r} m: wanted are 0 or more, above 0, above 0"
        )
    return float(_FACTOR[layer] * rise**0.44 * (width * thickness / MIL**2) ** 0.725)


def clearance(voltage: float, place: Place) -> float:
    """Least distance of two bare conductors [m].

    voltage between them [V], direct or peak; place: column of the table. For function, not for
    safety from the mains, which other standards rule. ValueError where there is no such column or
    the voltage is negative.

    >>> clearance(24.0, "B2"), clearance(600.0, "B2")
    (0.0001, 0.003)
    """
    if place not in _PLACES:
        raise ValueError(f"no column {place!r}: there are {', '.join(_PLACES)}")
    if not voltage >= 0:
        raise ValueError(f"a voltage of {voltage!r} V: wanted is 0 or more")
    column = _PLACES.index(place)
    for most, row in _CLEARANCES.items():
        if voltage <= most:
            return row[column] / 1000
    highest = max(_CLEARANCES)
    above = (voltage - highest) * _PER_VOLT_ABOVE[column]
    return (_CLEARANCES[highest][column] + above) / 1000
