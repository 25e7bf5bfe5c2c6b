"""What switching regulators declare; no kind of its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from railwright.devices.device import JUNCTION, Device, Fault, Link, Rating, Unknown, Value
from railwright.devices.switching import CONTROL_UNKNOWNS, HOLDS, MEANS, REGULATOR_VALUES


class SwitchingRegulator(Device):
    """Values, memory, ratings and observables of means over a cycle and of the cycle itself."""

    values: ClassVar[Mapping[str, Value]] = REGULATOR_VALUES
    inputs = {"enable_inverted": 0.0}
    holds = HOLDS
    switched_unknowns = {**CONTROL_UNKNOWNS, **JUNCTION}
    ratings: ClassVar[Mapping[str, Rating]] = {
        "supply_maximum": Rating("V", "supply_voltage", "regulator", "input voltage"),
        "enable_maximum": Rating("V", "enable_level", "regulator", "input voltage"),
        "junction_limit": Rating("°C", "junction", "regulator", "junction"),
    }
    unknowns = {"state": Unknown("1"), "coil": Unknown("A"), **JUNCTION}
    protects_itself = True  # thermal shutdown, which every datasheet of these types states
    observes: ClassVar[Mapping[str, str]] = MEANS
    symbol = "regulator"


def coil_and_diode(end: str, coupled: bool = False) -> dict[str, Link]:
    """Links to the coil and to the freewheel diode; end: the diode's at the switch pin.

    coupled: a capacitor may lie between both, with a second coil behind it.
    """
    ends, way = ("one", "two"), "coupling" if coupled else ""
    coupling = {"coupling": Link(("capacitor",), at="switch", pins=("plus", "minus"))}
    second = {"second": Link(("inductor",), at="switch", pins=ends, across=way)}
    return {
        "coil": Link(("inductor",), at="switch", pins=ends),
        **(coupling if coupled else {}),
        "freewheel": Link(("diode",), at="switch", pins=(end,), across=way),
        **(second if coupled else {}),
    }


def switch_faults(start: str, end: str) -> tuple[Fault, ...]:
    """Single faults of a regulator whose switch lies between two pins.

    Shares: linear regulators, MIL-HDBK-338 as commonly quoted (from memory), for want of a row
    for switching ones.
    """
    return (
        Fault("open", 0.5, ("switch",)),
        Fault("short", 0.4, (start, end)),
        Fault("drift", 0.1, moves=("reference",)),
    )
