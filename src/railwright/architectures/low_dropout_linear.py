"""Low-dropout linear regulator from a direct source, of a fixed voltage or set by two legs."""

from __future__ import annotations

from dataclasses import replace

from railwright.architectures.architecture import Unserved
from railwright.architectures.fixed_linear import fixed_setting
from railwright.architectures.legs import Legs
from railwright.architectures.linear import LinearFromDC
from railwright.architectures.regulator import Means, Place, Setting
from railwright.architectures.sizing.choice import spread_of
from railwright.quantity import show

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
    return replace(found, pins={**found.pins, **_enabled(place)})


def _enabled(place: Place) -> dict[str, str]:
    """The pin that switches it on, where it has one, tied so that it is always on."""
    task, entry = place.task, place.entry
    if "disable" not in entry.pins:
        return {}
    if entry.options.get("enable_active") == "low":
        return {"disable": place.feed.ground}
    highest, limit = place.feed.high, spread_of(entry, "enable_maximum").high
    if highest > task.kept * limit:
        raise Unserved(
            f"its enable pin would see {show(highest, 'V')}; it survives {show(limit, 'V')}",
            reached=3,
        )
    return {"disable": place.feed.net}


LOW_DROPOUT = Means(("low-dropout-regulator", "adjustable-low-dropout-regulator"), _setting)


class LowDropoutLinear(LinearFromDC):
    """A regulator that works with little more at its input than it gives."""

    name = "low-dropout linear"
    gives_up = "stable only with the capacitors that its datasheet asks for; survives less input"
    means = (LOW_DROPOUT,)
