"""Heat from a surface to a stream of air along it: the laminar layer of a flat plate.

Source: F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, chapter 7:
Blasius and Pohlhausen. Between fins it is an estimate, good to a third (from memory): the stream
there is slower than in front of the fan, but disturbed.
"""

import math

from railwright.standards.free_convection import SEA_LEVEL, air

_GREATEST_REYNOLDS = 5e5  # where the layer becomes turbulent
_NUSSELT = 0.664  # mean over the plate


def plate_convection(
    surface: float, ambient: float, length: float, speed: float, pressure: float = SEA_LEVEL
) -> float:
    """Mean coefficient of a plate in a stream of air along it [W/(m² K)].

    surface and ambient [K]; length along the stream [m]; speed [m/s]; pressure [Pa]. ValueError
    where length or speed are not above zero, or the layer would be turbulent.

    >>> round(plate_convection(333.15, 303.15, 0.05, 2.0), 1)
    24.7
    """
    if not (length > 0 and speed > 0):
        raise ValueError(f"{length!r} m, {speed!r} m/s: wanted are both above 0")
    flow = air((surface + ambient) / 2, pressure)
    reynolds = speed * length / flow.viscosity
    if reynolds > _GREATEST_REYNOLDS:
        raise ValueError(
            f"a Reynolds number of {reynolds:.3g}: wanted is at most {_GREATEST_REYNOLDS:g}, where "
            "the layer is laminar"
        )
    nusselt = _NUSSELT * math.sqrt(reynolds) * math.cbrt(flow.prandtl)
    return nusselt * flow.conductivity / length


def plate_resistance(
    surface: float,
    ambient: float,
    length: float,
    area: float,
    speed: float,
    pressure: float = SEA_LEVEL,
) -> float:
    """Thermal resistance of plates or fins in a stream of air [K/W].

    area of all wetted faces together [m²]; otherwise as `plate_convection`. ValueError likewise,
    and where the area is not above zero.

    >>> round(plate_resistance(333.15, 303.15, 0.05, 0.02, 2.0), 2)
    2.02
    """
    if not area > 0:
        raise ValueError(f"an area of {area!r} m²: wanted is one above 0")
    return 1 / (plate_convection(surface, ambient, length, speed, pressure) * area)
