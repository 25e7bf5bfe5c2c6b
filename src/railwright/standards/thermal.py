"""Heat from a junction to the air: the chain of a heat-sink.

`packages` has resistances of packages, `free_convection` those of sinks.
"""

GROWS = 0.8
"""Power of the losses with which the rise of windings in still air grows: convection and radiation
take more away from what is warmer (common practice, no source)."""


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


BOARD = 500e-4
"""K m²/W of a board that gives off its heat from both faces to still air: 10 W/(m² K) of each
(application note AN-2020 on the thermal design of boards, from memory)."""


def board_area(resistance: float) -> float:
    """Least area of board, covered with copper, that has a thermal resistance to still air [m²].

    resistance from case to air that is allowed [K/W], above zero.

    >>> round(board_area(50.0) * 1e4, 1)
    10.0
    """
    if not resistance > 0:
        raise ValueError(f"{resistance!r} K/W: no board is large enough for that")
    return BOARD / resistance


def allowed_power(junction: float, reference: float, resistance: float) -> float:
    """Power that takes a junction to its limit, zero where the reference is hotter [W].

    junction limit and reference (case or air) [K]; resistance between them [K/W].

    >>> round(allowed_power(473.15, 298.15, 1.52))
    115
    """
    return max(0.0, (junction - reference) / resistance)
