"""Fixed three-terminal linear regulator, negative."""

from __future__ import annotations

from railwright.devices.fixed_regulator import FixedRegulator


class NegativeFixedRegulator(FixedRegulator):
    """Holds its output by its output voltage below its ground pin; its own current enters there.

    The equations of the positive one with all voltages and currents turned over; its values are
    stated as magnitudes. Source: datasheet of the 79xx type. Faults and their shares: linear
    regulators, MIL-HDBK-338 as commonly quoted (from memory).
    """

    kind = "negative-fixed-regulator"
    negative = True
