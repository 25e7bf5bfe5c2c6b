"""Two rails from a direct source: one above its return, one of little current pumped below it."""

from __future__ import annotations

from railwright.architectures.pumped_negative import PumpedNegative
from railwright.architectures.pumped_negative_linear import PumpedNegativeLinear
from railwright.architectures.second_rail import LINEAR, SecondRail


class PumpedSecondRail(SecondRail):
    """The rail above by the plainest linear kind that serves it, the rail below by a charge pump.

    A switching kind above would bring a second clock, which beats with that of the pump.
    """

    name = "charge pump for a second rail"
    gives_up = "the rail below has milliamperes; two fuses; the rail above burns what is too much"
    above = LINEAR
    below = (PumpedNegative(), PumpedNegativeLinear())
