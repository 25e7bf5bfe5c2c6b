"""Heat from a junction to the air: the chain of a heat-sink, and a plate as a heat-sink."""


def junction_temperature(ambient: float, power: float, *resistances: float) -> float:
    """Temperature at the hot end of thermal resistances in series [K].

    ambient [K]; power [W]; resistances [K/W]: junction to case, case to sink, sink to air.

    >>> junction_temperature(323.15, 7.06, 5.0, 0.5, 5.0)
    397.28
    """
    return ambient + power * sum(resistances)


def needed_resistance(junction: float, ambient: float, power: float, *resistances: float) -> float:
    """Greatest resistance from sink to air that keeps a junction at its limit [K/W].

    junction limit and ambient [K]; power [W], above zero; the other resistances of the chain
    [K/W]. Zero or less: no sink is good enough.

    >>> round(needed_resistance(398.15, 323.15, 7.06, 5.0, 0.5), 3)
    5.123
    """
    if not power > 0:
        raise ValueError(f"{power!r} W needs no sink: wanted is a power above 0")
    return (junction - ambient) / power - sum(resistances)


def allowed_power(junction: float, reference: float, resistance: float) -> float:
    """Power that takes a junction to its limit, zero where the reference is hotter [W].

    junction limit and reference (case or air) [K]; resistance between them [K/W].

    >>> round(allowed_power(473.15, 298.15, 1.52))
    115
    """
    return max(0.0, (junction - reference) / resistance)


def plate_convection(rise: float, height: float) -> float:
    """Coefficient of laminar free convection, vertical plate in air near room pressure [W/(m² K)].

    rise above the air [K]; height of the plate [m]. h = 1.42 (rise / height)^0.25. Source:
    textbook approximation for air, from memory; laminar while height³ times rise stays below
    about 10 m³ K. Radiation is not in it.

    >>> round(plate_convection(40.0, 0.1), 2)
    6.35
    """
    return float(1.42 * (rise / height) ** 0.25)


def plate_resistance(rise: float, height: float, area: float) -> float:
    """Thermal resistance of a vertical plate to the air, by convection alone [K/W].

    rise above the air [K]; height [m]; area of all wetted faces together [m²].

    >>> round(plate_resistance(40.0, 0.1, 0.02), 2)
    7.87
    """
    return 1 / (plate_convection(rise, height) * area)
