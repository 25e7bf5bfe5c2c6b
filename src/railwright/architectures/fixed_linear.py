"""Fixed linear regulator from a direct source."""

from __future__ import annotations

from railwright.architectures.architecture import Unserved
from railwright.architectures.linear import LinearFromDC
from railwright.architectures.regulator import Means, Place, Setting
from railwright.architectures.sizing.choice import spread_of
from railwright.quantity import show


def fixed_setting(place: Place, pins: dict[str, str]) -> Setting:
    """A regulator whose voltage is that of its type; Unserved where that is not the wanted one."""
    own, wanted = spread_of(place.entry, "output_voltage"), place.rail.voltage
    if place.rail.is_adjustable:
        raise Unserved(
            f"the output is to be set from {show(wanted.min, 'V')} to {show(wanted.max, 'V')}; "
            "a fixed type has one voltage"
        )
    off = max(own.high - wanted.max, wanted.max - own.low) / wanted.max
    told = f"its {show(own.low, 'V')} to {show(own.high, 'V')} are up to {show(off, '1')} off"
    allowed = place.accuracy
    if off > allowed:
        raise Unserved(
            f"{told} {show(wanted.max, 'V')}; {show(allowed, '1')} may be used",
            reached=1.0 - min(off, 1.0),
        )
    left = place.accuracy_left()
    if off > left:
        taken = show(allowed - left, "1")
        raise Unserved(
            f"{told}, line and load add {taken}; {show(allowed, '1')} may be used", reached=1.5
        )
    return Setting(own.low, own.high, own.high, 0.0, lambda sheet, nets: (), pins)


def _setting(place: Place) -> Setting:
    return fixed_setting(place, {"ground": place.feed.ground})


FIXED = Means(("fixed-regulator",), _setting)


class FixedLinear(LinearFromDC):
    """A three-terminal regulator of one voltage."""

    name = "fixed linear"
    gives_up = "the voltage is that of the type; all that is too much becomes heat"
    means = (FIXED,)
