"""Low-dropout linear regulator from a direct source, of a fixed voltage or set by two legs."""

from __future__ import annotations

from dataclasses import replace

from railwright.architectures.enabling import enabled
from railwright.architectures.fixed_linear import fixed_setting
from railwright.architectures.legs import Legs
from railwright.architectures.linear import LinearFromDC
from railwright.architectures.regulator import Means, Place, Setting
from railwright.architectures.sizing.choice import spread_of

LEG_CURRENT = 100e-6
"""A through the legs: a thousand times what the pin takes (common practice, no source)."""


def _setting(place: Place) -> Setting:
    task, entry = place.task, place.entry
    pins = {"ground": place.feed.ground}
    if entry.kind == "low-dropout-regulator":
        found = fixed_setting(place, pins)
    else:
        most_across = spread_of(entry, "reference").low / LEG_CURRENT
        net = task.inner("FB")
        legs = Legs("feedback", net, most_across, on_output=False, current="feedback_current")
        found = legs.setting(place, pins)
    return replace(found, pins={**found.pins, **enabled(task, entry, place.feed)})


LOW_DROPOUT = Means(("low-dropout-regulator", "adjustable-low-dropout-regulator"), _setting)


class LowDropoutLinear(LinearFromDC):
    """A regulator that works with little more at its input than it gives."""

    name = "low-dropout linear"
    gives_up = "stable only with the capacitors that its datasheet asks for; survives less input"
    means = (LOW_DROPOUT,)
