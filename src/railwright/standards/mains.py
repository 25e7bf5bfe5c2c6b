"""Public mains: what they are called, and how far their voltage and frequency move.

Sources: IEC 60038 for 230 V, 50 Hz and 120 V, 60 Hz; EN 50160 for 230 V within a tenth and 50 Hz
within a hundredth; ANSI C84.1, range B at the socket, for 120 V; all from memory. 115 V is what
transformers of the trade are wound for; it has the limits of 120 V.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Mains:
    """Nominal voltage [V, effective] and frequency [Hz], and their least and greatest."""

    voltage: float
    voltages: tuple[float, float]
    frequency: float
    frequencies: tuple[float, float]

    @property
    def highest(self) -> float:
        """Greatest voltage over the nominal one [1]."""
        return self.voltages[1] / self.voltage

    @property
    def lowest(self) -> float:
        """Least voltage over the nominal one [1]."""
        return self.voltages[0] / self.voltage


_HERTZ_60 = (59.5, 60.5)
MAINS = {
    "230 V, 50 Hz": Mains(230.0, (207.0, 253.0), 50.0, (49.5, 50.5)),
    "120 V, 60 Hz": Mains(120.0, (104.0, 127.0), 60.0, _HERTZ_60),
    "115 V, 60 Hz": Mains(115.0, (104.0, 127.0), 60.0, _HERTZ_60),
}
"""By what a label says."""
