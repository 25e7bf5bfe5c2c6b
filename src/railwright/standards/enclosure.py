"""Enclosures in still air: their effective surface, what walls let through, what vents carry.

Sources: VDE 0660 part 500, whose surfaces IEC TR 60890 has as well, read in engineering guides
to control systems; heat transfer coefficients of sheet materials, common values in such guides.
Vents: stack effect, ASHRAE Handbook, Fundamentals, chapter on ventilation (from memory).
"""

import math
from typing import Literal

from railwright.standards.free_convection import GRAVITY, SEA_LEVEL, density

Place = Literal["free", "wall", "end", "end at wall", "middle", "middle at wall", "covered"]
"""Free on all sides; with its back at a wall; first or last, or in the middle, of a row; there
with its back at a wall and its top covered."""
Material = Literal["painted steel", "stainless steel", "aluminium", "plastic"]

# W/(m² K), from the air inside to the air outside.
_COEFFICIENTS: dict[Material, float] = {
    "painted steel": 5.5,
    "stainless steel": 3.7,
    "aluminium": 12.0,
    "plastic": 3.5,
}
_DISCHARGE = 0.6  # of a sharp-edged opening (from memory)
_HEAT_CAPACITY = 1005.0  # J/(kg K), dry air (from memory)


def effective_surface(height: float, width: float, depth: float, place: Place = "free") -> float:
    """Surface that counts [m²].

    height, width, depth [m]. ValueError where one is not above zero, or the place is unknown.

    >>> round(effective_surface(2.0, 0.8, 0.6), 3)
    5.712
    """
    if not min(height, width, depth) > 0:
        raise ValueError(
            f"{height!r} m by {width!r} m by {depth!r} m: wanted are three sizes above 0"
        )
    front, top, side = height * width, width * depth, height * depth
    shares: dict[Place, tuple[float, float, float]] = {
        "free": (1.8, 1.4, 1.8),
        "wall": (1.4, 1.4, 1.8),
        "end": (1.8, 1.4, 1.4),
        "end at wall": (1.4, 1.4, 1.4),
        "middle": (1.8, 1.4, 1.0),
        "middle at wall": (1.4, 1.4, 1.0),
        "covered": (1.4, 0.7, 1.0),
    }
    if place not in shares:
        raise ValueError(f"no row for {place!r}: there are {', '.join(shares)}")
    return sum(share * area for share, area in zip(shares[place], (front, top, side), strict=True))


def wall_resistance(surface: float, material: Material) -> float:
    """Thermal resistance from the air inside to the air outside, closed [K/W].

    surface [m²], such as `effective_surface`. ValueError where it is not above zero, or the
    material is unknown.

    >>> round(1 / wall_resistance(4.4, "painted steel") * 10)
    242
    """
    if not surface > 0:
        raise ValueError(f"a surface of {surface!r} m²: wanted is one above 0")
    if material not in _COEFFICIENTS:
        raise ValueError(f"no row for {material!r}: there are {', '.join(_COEFFICIENTS)}")
    return 1 / (_COEFFICIENTS[material] * surface)


def vent_resistance(
    area: float, height: float, ambient: float, rise: float = 10.0, pressure: float = SEA_LEVEL
) -> float:
    """Thermal resistance of the draught through two equal openings, one low and one high [K/W].

    area of each [m²]; height from one to the other [m]; ambient [K]; rise of the mean of the air
    inside [K]; pressure [Pa]. The air leaves as warm as it is inside. ValueError where one of
    them is not above zero.

    >>> round(vent_resistance(1e-3, 0.08, 298.15), 1)
    9.1
    """
    if not min(area, height, ambient, rise) > 0:
        raise ValueError(
            f"{area!r} m², {height!r} m, {ambient!r} K, {rise!r} K: wanted is each above 0"
        )
    # Two openings in series pass as much as one of an area less by the root of two.
    speed = math.sqrt(GRAVITY * height * rise / (ambient + rise))
    flow = _DISCHARGE * area * speed * density(ambient + rise, pressure)
    return 1 / (flow * _HEAT_CAPACITY)
