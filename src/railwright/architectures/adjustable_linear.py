"""Adjustable three-terminal linear regulator from a direct source."""

from __future__ import annotations

from railwright.architectures.legs import Legs
from railwright.architectures.linear import LinearFromDC
from railwright.architectures.regulator import Means, Place, Setting
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE


def _setting(place: Place) -> Setting:
    task, entry = place.task, place.entry
    tolerance = task.need.parts.resistor_tolerance or USUAL_TOLERANCE
    least = spread_of(entry, "minimum_load").high * (1.0 + task.need.parts.reserve)
    most_across = spread_of(entry, "reference").low / least / (1.0 + tolerance)
    legs = Legs("adjust", task.inner("ADJ"), most_across, on_output=True, current="adjust_current")
    return legs.setting(place, {})


ADJUSTABLE = Means(("adjustable-regulator",), _setting)


class AdjustableLinear(LinearFromDC):
    """A regulator that floats on its output and holds its reference across one resistor."""

    name = "adjustable linear"
    gives_up = "its legs take 10 mA or so all the time; all that is too much becomes heat"
    means = (ADJUSTABLE,)
