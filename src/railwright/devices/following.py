"""How a part's `state` follows what drives it, where electrical quantities change with time.

At rest each of these equations is `drive - beyond = 0`, with `beyond` how far the state lies
outside its range: an operating point knows nothing of rates.
"""

from __future__ import annotations

from math import pi

from railwright.devices.arithmetic import limited, log, positive
from railwright.devices.device import Number, Terms, Value

CROSSING = 1e-3
"""Share of its delay that a two-state part spends between its states, and the width of the
corners there: most of the delay goes by before it leaves the state where it rested."""

AMPLIFIER_DYNAMICS = {
    "unity_gain_frequency": Value(
        "Hz", "where the open-loop gain has fallen to 1", least=1.0, dynamic=True
    ),
    "slew_rate": Value("V/s", "greatest rate of the output", least=1.0, dynamic=True),
}


def follow(t: Terms, error: Number, beyond: Number, unity: Number, slew_rate: Number) -> None:
    """State the equation of an amplifier's `state` [V]: one dominant pole and a slew rate.

    d(state)/dt / w = limited(error) - beyond, w = 2 pi f_u, limited to the error that makes the
    slew rate. With an error v - state/A the gain is A / (1 + j f A/f_u). Source: Gray, Hurst,
    Lewis and Meyer, Analysis and Design of Analog Integrated Circuits, chapter 9 (the first
    stage gives a bounded current to the compensation capacitor). The bound also keeps the state
    from running far beyond the swing, as the clamps of a real stage do.
    error, beyond: at the input [V]; unity [Hz]; slew_rate [V/s].
    """
    rate = 2.0 * pi * unity
    t.zero("state", (limited(error, slew_rate / rate) if t.moving else error) - beyond)
    t.flux("state", t.x("state") / rate)


def turn_over(
    t: Terms,
    high: Number,
    drive: Number,
    full_drive: float,
    lag: Number,
    unknown: str = "state",
) -> None:
    """State the equation of an `unknown` of two states: 1 where it is driven above nil, else 0.

    Let go or held, see `Device.two_state`. In time it recovers from being driven with the time
    constant `lag` [s]; a drive beyond `full_drive` makes it no faster. high: the unknown within
    0 and 1; drive: in V.
    """
    state = t.x(unknown)
    own = (limited(drive, full_drive) if t.moving else drive) - (state - high)
    t.zero(unknown, t.p.free * own + (1.0 - t.p.free) * (state - t.p.forced))
    recover(t, high, lag, lag, unknown)


def recover(t: Terms, high: Number, below: Number, above: Number, unknown: str = "state") -> None:
    """State how long a part of two states needs to leave a state at 0 or 1.

    Its state lies beyond 0 or 1 by as much as it is driven, and has to come back from there
    before anything changes: a first-order recovery from overdrive, of the time constant `below`
    [s] under 0 and `above` [s] over 1. So the delay falls as the drive grows. The shape fits the
    curves of comparators (response time over overdrive); common practice, no source.
    high: the state within 0 and 1.
    """
    beyond = t.x(unknown) - high
    over = positive(beyond, CROSSING)
    stored = above * over + below * (beyond - over) + CROSSING * below * high
    t.flux(unknown, t.p.free * stored)


def recovery_time(delay: Number, rest: Number, drive: Number) -> Number:
    """Time constant [s] of a state that takes `delay` [s] from -rest to 0 under a drive."""
    return delay / log(1.0 + rest / drive)
