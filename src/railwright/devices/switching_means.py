"""What switching regulators share as means over a cycle: both conduction modes, the loop.

No kind of its own. With the coil's voltage A while the switch conducts, B (the other way round)
while the diode does and S = A + B, volt-second balance gives D S = B in continuous conduction, and
the triangular coil current gives D^2 A S = 2 L f I B in discontinuous conduction. The left sides
fall short of the right ones in the other regime, so that one equation states both: the greater of
the two differences is nil. In both, the switch carries the share B / S of the coil current and the
diode the rest. Each cycle ends at the current limit; a fall of the frequency in overload is left
out. In peak current mode the amplified error commands a share of the current limit, which the peak
plus the slope compensation reaches at the end of the pulse.
Source: Erickson and Maksimovic, Fundamentals of Power Electronics, chapters 2, 3 and 5; switching
loss V I t f / 2, chapter 4. In time the balance holds for the coil's mean current and voltage
(chapters 7 and 11).
"""

from __future__ import annotations

from dataclasses import dataclass

from railwright.devices.arithmetic import clipped, positive, step
from railwright.devices.device import Number, Terms
from railwright.devices.enable import observe_enable
from railwright.devices.noise import input_noise
from railwright.devices.switching import compensate, least_on_time

CORNER = 1e-3  # V
DUTY_CORNER = 1e-4
NEAR_LIMIT = 0.05  # V; a loop with less room than this is held by its current limit
LEAST_SPAN = 1e-2  # V; rise plus fall below which the coil current is shared out as at it
SHARE_CORNER = 1e-4
FORWARD_CORNER = 1e-4  # A; on the way to less the drop of a diode would bend within nothing
CURRENT_WIDTH = 0.01  # A; over which `continuous` goes from 0 to 1
VOLT_PER_AMPERE = 1.0  # Ω; how strongly the cycle's current limit acts on the loop


@dataclass(frozen=True, slots=True)
class Cycle:
    """Quantities of one switching cycle."""

    rise: Number
    """Voltage across the coil while the switch conducts [V]."""
    fall: Number
    """Voltage across the coil while the diode conducts, the other way round [V]."""
    total: Number
    """Rise plus fall: the switch pin's mean has no part in it [V]."""
    coil: Number
    """Mean coil current [A]."""
    raw_duty: Number
    """Duty that the loop asks for."""
    duty: Number
    """The same while enabled, else nil."""
    on_drop: Number
    diode_drop: Number
    two_lf: Number | None
    """Twice the coil's inductance times the frequency [Ω]; None without a coil."""
    forced: bool = False
    """True where a low switch carries the coil current in both directions."""
    filling: Number | None = None
    """Voltage across the coil while the switch conducts, at rest the same as `rise` [V].

    By the far end of the coil, while the mean of the switch pin follows the duty at once: where
    peaks end the pulses, a duty beyond a half would seem to lower them. None: by the rise.
    """

    @property
    def span(self) -> Number:
        """Rise plus fall, never below nil [V]."""
        return positive(self.total, 0.01)

    @property
    def blocking(self) -> Number:
        """Reverse voltage of the diode while the switch conducts [V]."""
        return self.total - self.diode_drop

    @property
    def half_ripple(self) -> Number:
        """Half of the coil current's peak-to-peak ripple [A]."""
        if self.two_lf is None:
            return 0.0
        filling = self.rise if self.filling is None else self.filling
        return self.duty * positive(filling, CORNER) / self.two_lf

    @property
    def excess(self) -> Number:
        """Mean coil current above the least that conducts continuously [A]."""
        return self.coil - self.half_ripple

    @property
    def peak(self) -> Number:
        """Peak coil current: in discontinuous conduction the whole ripple [A]."""
        if self.forced:
            return self.half_ripple + self.coil
        return 2.0 * self.half_ripple + positive(self.excess, CORNER)

    @property
    def switch_share(self) -> Number:
        """Share of the coil current that the switch carries; the diode carries the rest."""
        # Over a smaller span the share would turn over within less than solvers can see.
        span = LEAST_SPAN + positive(self.total - LEAST_SPAN, LEAST_SPAN)
        return clipped(self.fall / span, 0.0, 1.0, SHARE_CORNER)


def volt_seconds(cycle: Cycle) -> Number:
    """The greater of both regimes' balances [V]; see the module."""
    continuous = cycle.duty * cycle.span - cycle.fall
    if cycle.forced:
        return continuous
    if cycle.two_lf is None:
        # Without ripple all that is left of the other regime is a diode that blocks.
        blocked = -VOLT_PER_AMPERE * cycle.coil
        return blocked + positive(continuous - blocked, CORNER)
    # The discontinuous balance is in V²: over the span it is of the order of the other one.
    scale = 1.0 / (cycle.span + 1.0)
    given = cycle.duty * cycle.duty * positive(cycle.rise, CORNER) * cycle.span
    taken = cycle.two_lf * cycle.coil * positive(cycle.fall, CORNER)
    discontinuous = (given - taken) * scale
    return discontinuous + positive(continuous - discontinuous, CORNER)


def duty_asked(t: Terms) -> Number:
    """Duty that the loop asks for: `state` within its limits."""
    return clipped(t.x("state"), 0.0, t.p.duty_limit, DUTY_CORNER)


def regulate(t: Terms, lacking: Number, cycle: Cycle) -> None:
    """State the loop, from what the feedback lacks of the reference [V] to the `state`."""
    error = t.signal("error", lacking)
    room = VOLT_PER_AMPERE * (t.p.current_limit - cycle.peak)
    wanted = error - positive(error - room, CORNER)
    beyond = t.x("state") - cycle.raw_duty
    compensate(t, wanted - beyond, _demand(t, cycle))
    input_noise(t, "state")
    # What the loop lacks shows in its demands, which go beyond the limits that it meets.
    short_of_duty = positive(t.x("state") - t.p.duty_limit, DUTY_CORNER)
    short_of_current = positive(error - positive(room, CORNER), CORNER) / VOLT_PER_AMPERE
    t.observe("demanded_duty", cycle.duty + short_of_duty)
    t.observe("demanded_peak", cycle.peak + short_of_current * step(1.0 - room / NEAR_LIMIT))


def _demand(t: Terms, cycle: Cycle) -> Number:
    """What the error amplifier has to ask for: a duty, or a share of the current limit."""
    if t.option("control") == "voltage-mode":
        return cycle.raw_duty
    ramp = t.p.slope_compensation * cycle.raw_duty / t.p.frequency
    return (cycle.peak + ramp) / t.p.current_limit


def edge_loss(t: Terms, current: Number) -> Number:
    """Current whose product with the blocked voltage is the loss V I t f / 2 of both edges [A]."""
    return 0.5 * positive(current, 1e-6) * t.p.transition_time * t.p.frequency


def observe_means(t: Terms, cycle: Cycle) -> None:
    """Report what every switching regulator reports of its cycle."""
    t.observe("supply_voltage", t.v("input") - t.v("ground"))
    t.observe("duty", cycle.duty)
    t.observe("duty_limit", t.p.duty_limit)
    t.observe("duty_least", least_on_time(t) * t.p.frequency)
    t.observe("coil_current", cycle.coil)
    t.observe("coil_peak", cycle.peak)
    t.observe("current_limit", t.p.current_limit)
    continuous = 1.0 if cycle.forced else step(cycle.excess / CURRENT_WIDTH + 0.5)
    t.observe("continuous", continuous)
    observe_enable(t)
    t.observe("diode_reverse_voltage", cycle.blocking)
    t.observe("frequency", t.p.frequency)
