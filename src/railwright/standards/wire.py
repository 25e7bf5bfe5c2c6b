"""Copper wire: American wire gauge, resistance, and the current it carries in a spacecraft.

Gauges beyond 0 are negative: 00 is -1, 000 is -2.
"""

import math

RESISTIVITY = 1.7241e-8  # Ω·m at 20 °C, International Annealed Copper Standard (from memory)
TEMPERATURE_COEFFICIENT = 0.00393  # 1/K at 20 °C, annealed copper, ASTM B193
REFERENCE_TEMPERATURE = 293.15  # K
WARM = 1.3
"""Times its resistance at 25 °C has copper at 100 °C (3.93e-3 1/K, IEC 60028, rounded)."""
_GAUGE_36 = 0.127e-3  # m
_PER_METRE = 4e-7  # H/m; magnetic constant over pi

# MIL-STD-975M (NASA), Appendix A 3.16: one wire in vacuum at 70 °C [A].
_SINGLE_WIRE_CURRENT = {
    30: 1.3,
    28: 1.8,
    26: 2.5,
    24: 3.3,
    22: 4.5,
    20: 6.5,
    18: 9.2,
    16: 13.0,
    14: 19.0,
    12: 25.0,
    10: 33.0,
}
# The same: rating of the insulation [°C] and factor.
_INSULATION_FACTOR = {200: 1.0, 150: 0.8, 135: 0.7, 105: 0.5}


def diameter(gauge: int) -> float:
    """Bare diameter of a gauge [m].

    Source: ASTM B258, 0.127 mm for gauge 36 and a ratio of 92 over 39 steps.

    >>> round(diameter(24) * 1e3, 4)
    0.5106
    """
    return float(_GAUGE_36 * 92 ** ((36 - gauge) / 39))


def area(gauge: int) -> float:
    """Cross-section of a gauge [m²].

    >>> round(area(24) * 1e6, 3)
    0.205
    """
    return math.pi / 4 * diameter(gauge) ** 2


def gauge_for(cross_section: float) -> int:
    """The thinnest gauge that has at least a cross-section.

    cross-section [m²]; those of metric sizes stand in `iec60228`. ValueError where it is not
    above zero.

    >>> gauge_for(0.5e-6), gauge_for(area(24))
    (20, 24)
    """
    if not (math.isfinite(cross_section) and cross_section > 0):
        raise ValueError(f"a cross-section of {cross_section!r} m²: wanted is one above 0")
    ratio = math.sqrt(4 / math.pi * cross_section) / _GAUGE_36
    return math.floor(36 - 39 * math.log(ratio, 92) + 1e-9)


def resistance(
    length: float, cross_section: float, temperature: float = REFERENCE_TEMPERATURE
) -> float:
    """Resistance of annealed copper [Ω].

    length [m]; cross-section [m²]; temperature [K]. The linear coefficient holds near room
    temperature, say -50 to 150 °C.

    >>> round(resistance(1.0, area(24)) * 1e3, 1)
    84.2
    """
    warmer = 1 + TEMPERATURE_COEFFICIENT * (temperature - REFERENCE_TEMPERATURE)
    return RESISTIVITY * warmer * length / cross_section


def pair_inductance(length: float, distance: float, diameter: float) -> float:
    """Inductance of two parallel round conductors, there and back, at low frequency [H].

    length [m]; distance of their axes and diameter of each [m]. ValueError where the conductors
    would overlap or have no size. Source: (u0/pi) (ln(2 a/d) + 1/4) l, textbooks of
    electromagnetics, such as Grover, Inductance Calculations (from memory).

    >>> round(pair_inductance(1.0, 2.2e-3, 0.8e-3) * 1e9)
    782
    """
    if not (length > 0 and distance >= diameter > 0):
        raise ValueError(
            f"{length!r} m, {diameter!r} m apart by {distance!r} m: wanted are a length and a "
            "diameter above 0, and a distance of at least the diameter"
        )
    return _PER_METRE * (math.log(2 * distance / diameter) + 0.25) * length


def vacuum_current(gauge: int, wires: int = 1, insulation: int = 200) -> float:
    """Derated current of one wire of a bundle, in vacuum at 70 °C [A].

    wires in the bundle; insulation: rating [°C], 200, 150, 135 or 105. ValueError where the table
    has no such row. In air a wire carries more. Source: MIL-STD-975M (NASA), Appendix A 3.16.

    >>> vacuum_current(24), round(vacuum_current(24, wires=15), 2)
    (3.3, 1.65)
    """
    if gauge not in _SINGLE_WIRE_CURRENT:
        raise ValueError(f"no row for gauge {gauge}: there are {list(_SINGLE_WIRE_CURRENT)}")
    if insulation not in _INSULATION_FACTOR:
        raise ValueError(f"no row for {insulation} °C: there are {list(_INSULATION_FACTOR)}")
    if wires < 1:
        raise ValueError(f"{wires} wires: wanted is 1 or more")
    bundle = (29 - wires) / 28 if wires <= 15 else 0.5
    return _SINGLE_WIRE_CURRENT[gauge] * bundle * _INSULATION_FACTOR[insulation]
