"""Voltage from base to emitter of a transistor, at another current than stated, cold and warm."""

from __future__ import annotations

import math

from railwright.architectures.sizing.choice import spread_of
from railwright.catalogue.entry import Entry
from railwright.devices.arithmetic import ROOM, thermal_voltage
from railwright.quantity import Spread

DRIFT = 2.2e-3
"""V/K at most by which it falls with warmth, each junction (silicon; any textbook)."""


def junctions_of(transistor: Entry) -> int:
    """Junctions from its base to its emitter."""
    return 2 if transistor.kind == "darlington-transistor" else 1


def base_voltage(transistor: Entry, current: float, coldest: float, hottest: float) -> Spread:
    """That voltage at a collector current [A], between two temperatures of its chip [K].

    VT ln(I / I0) each junction, from the stated current I0
    (`devices.bipolar_transistor`).
    """
    each = junctions_of(transistor)
    stated = spread_of(transistor, "base_emitter_voltage")
    test = spread_of(transistor, "test_current").typical
    moved = each * float(thermal_voltage(ROOM)) * math.log(current / test)
    return Spread.limits(
        stated.low + moved - each * DRIFT * max(hottest - ROOM, 0.0),
        stated.typical + moved,
        stated.high + moved + each * DRIFT * max(ROOM - coldest, 0.0),
    )
