"""What switching regulators share cycle by cycle: clock, latch, supervision, error amplifier.

No kind of its own. The switch is a saturation voltage and a resistance while it is closed, and
never conducts backwards; its edges are ideal, their loss V I t f / 2 is drawn evenly. Source of
both modulators: Erickson and Maksimovic, Fundamentals of Power Electronics, chapters 7 (sawtooth)
and 18 (peak current with slope compensation).

A cycle lasts from `tick` to `due`; the switch is closed while `on`. Guards stay at or above nil
once they were reached: an event that would change nothing sleeps. Of events at one instant the
later stated wins, so a kind states the ends of a pulse first, then the start of the next cycle,
then the supervision.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import pi

from railwright.devices.arithmetic import clipped, maximum, minimum, positive, where
from railwright.devices.device import (
    JUNCTION_OBSERVES,
    JUNCTION_VALUES,
    Number,
    Terms,
    Unknown,
    Value,
    Window,
)
from railwright.devices.enable import ENABLE_HYSTERESIS, ENABLE_OBSERVES, ENABLE_VALUES
from railwright.devices.noise import NOISE_VALUES

HOLDS: Mapping[str, float] = {
    "tick": -1.0,  # s; when this cycle began
    "due": 0.0,  # s; when the next one begins
    "on": 0.0,
    "edge": 0.0,  # A; switch current at the end of the last pulse
    "works": 1.0,  # enabled and fed
    "begun": 0.0,  # s; when it began to work
    "ready": 1.0,  # its soft start is over
}
CONTROL_UNKNOWNS: Mapping[str, Unknown] = {"state": Unknown("1")}
REGULATOR_VALUES: Mapping[str, Value] = {
    "reference": Value("V", "voltage held at the feedback pin", least=0.1),
    "frequency": Value("Hz", "switching frequency", least=1e3),
    "saturation_voltage": Value("V", "voltage across the switch at no current", least=0.0),
    "switch_resistance": Value("Ω", "its rise with the current", least=1e-4),
    "transition_time": Value("s", "rise plus fall time of the switch", least=0.0),
    "duty_limit": Value("1", "greatest duty", least=0.1, most=1.0),
    "minimum_on_time": Value("s", "shortest pulse without skipping", default=0.0, least=0.0),
    "gain": Value("1/V", "duty per volt of error", least=1.0, own_loop=True),
    "compensation_pole": Value(
        "Hz", "where that gain falls", least=0.01, dynamic=True, own_loop=True
    ),
    "compensation_zero": Value(
        "Hz", "where its fall ends", least=0.01, dynamic=True, own_loop=True
    ),
    **NOISE_VALUES,
    "current_limit": Value("A", "peak switch current that ends a cycle", least=0.01),
    "quiescent_current": ENABLE_VALUES["quiescent_current"],
    "standby_current": ENABLE_VALUES["standby_current"],
    "feedback_current": Value("A", "current into the feedback pin", default=0.0, least=0.0),
    "enable_threshold": ENABLE_VALUES["enable_threshold"],
    "supply_minimum": Value("V", "least input voltage that works", least=0.0),
    "slope_compensation": Value(
        "A/s", "added to the switch current that a current mode compares", default=0.0, least=0.0
    ),
    "blanking_time": Value(
        "s", "after the switch closes, in which its current is not seen", default=0.0, least=0.0
    ),
    "soft_start_time": Value("s", "rise of the reference at the start", default=0.0, least=0.0),
    "foldback_voltage": Value(
        "V", "feedback voltage below which the clock slows down", default=0.0, least=0.0
    ),
    "foldback_share": Value(
        "1", "share of the frequency that is left at none", default=1.0, least=0.01, most=1.0
    ),
    **JUNCTION_VALUES,
}


def stage_windows(before_output: str) -> dict[str, Window]:
    """Windows of coil and capacitors; before_output: the link behind which the output begins."""
    output = ("switch", "ground")
    return {
        "inductance": Window("inductance", ("switch",)),
        "input_capacitance": Window("capacitance", ("input", "ground")),
        "output_capacitance": Window("capacitance", output, before_output),
        "output_series_resistance": Window("series resistance", output, before_output),
    }


MEANS: Mapping[str, str] = {
    "supply_voltage": "V",
    "duty": "1",
    "duty_limit": "1",
    "demanded_duty": "1",
    "demanded_peak": "A",
    "duty_least": "1",
    "coil_current": "A",
    "coil_peak": "A",
    "current_limit": "A",
    "continuous": "1",
    **ENABLE_OBSERVES,
    "diode_current": "A",
    "diode_reverse_voltage": "V",
    "frequency": "Hz",
    **JUNCTION_OBSERVES,
}
"""What the means over a cycle report."""
SUPPLY_HYSTERESIS = 0.1  # V; of the undervoltage lockout (from memory)
LEAST_DEMAND = 1e-6  # demand below which a cycle is skipped
OVERRUN = 0.02  # how far the demand may lie beyond 0 and 1: the error amplifier's clamp
STEEP = 1e6
CLAMP_CORNER = 1e-4  # over which that clamp sets in
SWITCH_LEAK = 1e-9  # S; keeps the switch pin defined without a coil
CURRENT_CORNER = 1e-6  # A; below which the closed switch ceases to conduct


def elapsed(t: Terms) -> Number:
    """Time since this cycle began [s]."""
    return t.time - t.p.tick


def period(t: Terms) -> Number:
    """Length of this cycle [s]."""
    return t.p.due - t.p.tick


def past(t: Terms, time: Number) -> Number:
    """How far this cycle is past a time after its tick, in a measure that is large beside guards.

    `minimum` of it and a guard must be the guard itself just behind its crossing, else neither
    the crossing nor its slope is found.
    """
    return STEEP * (elapsed(t) - time) / period(t)


def least_on_time(t: Terms) -> Number:
    """Shortest pulse [s]: what the current commands cannot end one while it is not seen."""
    if t.option("control") == "voltage-mode":
        return t.p.minimum_on_time
    return maximum(t.p.minimum_on_time, t.p.blanking_time)


def end_pulse(t: Terms, guard: Number, current: Number) -> None:
    """Open the switch, which carries `current`, once the guard reaches nil.

    Not before the least on-time is over.
    """
    t.event(
        minimum(guard, past(t, least_on_time(t))),
        on=0.0,
        edge=t.p.edge + t.p.on * (current - t.p.edge),
    )


def limit_pulse(t: Terms, current: Number) -> None:
    """End every pulse at the current limit, or at the duty limit if that is below 1."""
    end_pulse(t, minimum(current - t.p.current_limit, past(t, t.p.blanking_time)), current)
    spent = elapsed(t) - t.p.duty_limit * period(t)
    kept = t.p.edge + t.p.on * (current - t.p.edge)
    t.event(where(t.p.duty_limit - 1.0, -1.0, spent), on=0.0, edge=kept)


def end_pulses(t: Terms, demand: Number, current: Number) -> None:
    """End every pulse by the modulator of the part's control, or at one of its limits."""
    limit_pulse(t, current)
    if t.option("control") == "voltage-mode":
        end_pulse(t, elapsed(t) / period(t) - demand, current)
        return
    seen = current + t.p.slope_compensation * elapsed(t)
    end_pulse(t, seen / t.p.current_limit - demand, current)


def start_cycles(t: Terms, demand: Number, feedback: Number) -> None:
    """Begin a cycle at each tick of the clock, with a pulse if there is a demand for one.

    The clock slows down in proportion to the feedback voltage where that is low.
    """
    share = feedback / maximum(t.p.foldback_voltage, 1e-6)
    share = minimum(maximum(share, t.p.foldback_share), 1.0)
    wanted = t.p.works * where(demand - LEAST_DEMAND, 1.0, 0.0)
    # Without an edge since the last tick, or with none to come, there is nothing to be lost.
    edge = wanted * (1.0 - t.p.on) * t.p.edge
    following = t.p.due + 1.0 / (t.p.frequency * share)
    t.event(t.time - t.p.due, tick=t.p.due, due=following, on=wanted, edge=edge)


def supervise(t: Terms, enabling: Number, supply: Number) -> None:
    """Let the part work while it is enabled and fed.

    enabling: voltage by which the enable pin is beyond its threshold. supply: input voltage.
    """
    half = 0.5 * ENABLE_HYSTERESIS
    up = minimum(enabling - half, supply - t.p.supply_minimum)
    down = maximum(-enabling - half, t.p.supply_minimum - SUPPLY_HYSTERESIS - supply)
    begun = t.p.begun + (1.0 - t.p.works) * (t.time - t.p.begun)
    t.event(t.time - t.p.begun - t.p.soft_start_time, ready=t.p.works)
    t.event(up, works=1.0, begun=begun, ready=t.p.ready * t.p.works)
    t.event(down, works=0.0, ready=0.0, on=0.0)


def reference(t: Terms) -> Number:
    """Reference of the error amplifier: nil while it rests, rising in the soft start [V]."""
    risen = minimum((t.time - t.p.begun) / maximum(t.p.soft_start_time, 1e-12), 1.0)
    return t.p.reference * t.p.works * where(t.p.ready - 0.5, 1.0, risen)


def compensate(t: Terms, driven: Number, demand: Number) -> None:
    """State the error amplifier, demand = gain (1 + s/wz) / (1 + s/wp) driven: `state` of it.

    Its gain falls from its pole on, like an integrator's, and stays level from its zero on:
    Erickson and Maksimovic, Fundamentals of Power Electronics, chapter 9.
    """
    t.zero("state", driven - demand / (t.p.gain * t.gain))
    lagging = demand / (t.p.gain * t.p.compensation_pole)
    t.flux("state", (lagging - driven / t.p.compensation_zero) / (2.0 * pi))


def amplify(t: Terms, error: Number) -> Number:
    """State the error amplifier with a clamp near 0 and 1, behind which it cannot wind up.

    Returns the demand that it makes.
    """
    demand = clipped(t.x("state"), -OVERRUN, 1.0 + OVERRUN, CLAMP_CORNER)
    compensate(t, error - (t.x("state") - demand), demand)
    return demand


def switching_loss(t: Terms) -> Number:
    """Current whose product with the supply is the loss V I t f / 2 of both edges [A]."""
    return 0.5 * t.p.edge * t.p.transition_time / period(t)


def closed_switch(t: Terms, across: Number) -> Number:
    """Current of the switch with a voltage across it [A]: nil while it is open."""
    current = (across - t.p.saturation_voltage) / t.p.switch_resistance
    return t.p.on * positive(current, CURRENT_CORNER)


def observe_pulses(t: Terms, demand: Number, supply: Number) -> None:
    """Report what is no mean; `coil_peak` is that of the last pulse."""
    t.observe("supply_voltage", supply)
    t.observe("duty", t.p.on)
    t.observe("demanded_duty", demand)
    t.observe("coil_peak", t.p.edge)
    t.observe("enabled", t.p.works)
    t.observe("frequency", 1.0 / period(t))
