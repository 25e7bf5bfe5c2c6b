"""Reverse-feeding load: pushes current back into the supply that should feed it."""

from __future__ import annotations

from railwright.devices.arithmetic import step
from railwright.devices.device import Terms, Value
from railwright.devices.load import AnyLoad

WIDTH = 0.2  # V; below its ceiling, in which the current that is fed back fades


class ReverseFeedingLoad(AnyLoad):
    """Feeds a current back up to a ceiling: a braking motor, a battery, a second supply.

    A current source that fades in the last 0.2 V below its ceiling, above which it feeds and
    takes nothing: a current source has the voltage behind it as its limit (common practice,
    no source). It is a source of power by its purpose; the mean over whatever makes the current
    is meant. `capacitance` is what it has across its terminals. It is the surroundings, so it
    has no faults and no noise.
    """

    kind = "reverse-feeding-load"
    values = {
        "ceiling": Value("V", "up to which it feeds back", least=0.0),
        **AnyLoad.values,
    }
    inputs = {"fed_back": 0.0}
    """Current into the supply [A]."""
    drives = ("fed_back",)
    symbol = "source"

    def equations(self, t: Terms) -> None:
        voltage = t.v("plus") - t.v("minus")
        current = -t.p.fed_back * step((t.p.ceiling - voltage) / WIDTH)
        self.take(t, voltage, current)
