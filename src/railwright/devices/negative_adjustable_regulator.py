"""Adjustable three-terminal linear regulator, negative."""

from __future__ import annotations

from railwright.devices.adjustable_regulator import AdjustableRegulator


class NegativeAdjustableRegulator(AdjustableRegulator):
    """Holds its output by its reference voltage below its adjust pin.

    -Vout = Vref (1 + R2/R1) + Iadj R2: the equations of the positive one with all voltages and
    currents turned over; its values are stated as magnitudes. Source: datasheet of the 337 type.
    Faults and their shares: linear regulators, MIL-HDBK-338 as commonly quoted (from memory).
    """

    kind = "negative-adjustable-regulator"
    negative = True
