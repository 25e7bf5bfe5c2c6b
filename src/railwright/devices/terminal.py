"""Terminal, connector contact or joint."""

from __future__ import annotations

from railwright.devices.device import Fault, Value
from railwright.devices.wire import Wire


class Terminal(Wire):
    """A contact with the resistance that it has: i = v / R (Ohm's law).

    Faults and their shares: connectors, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "terminal"
    values = {"resistance": Value("Ω", "contact resistance", least=1e-6)}
    faults = (Fault("open", 0.61), Fault("drift", 0.39, moves=("resistance",)))
    symbol = "terminal"
