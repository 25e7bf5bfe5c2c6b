"""Fuse."""

from __future__ import annotations

from railwright.devices.device import Fault, Rating, Value
from railwright.devices.wire import Wire


class Fuse(Wire):
    """A whole fuse: its cold resistance, i = v / R (Ohm's law).

    Faults and their shares: fuses, RAC FMD-97 as commonly quoted (from memory); one that does
    not open when it should is no failure of a circuit that works, so it is left out.
    """

    kind = "fuse"
    values = {"resistance": Value("Ω", "cold resistance", least=1e-6)}
    ratings = {"rated_current": Rating("A", "current", "fuse", "current")}
    faults = (Fault("open", 1.0),)
    symbol = "fuse"
