"""The step-down regulator cycle by cycle; no kind of its own.

The switch is a saturation voltage and a resistance while it is closed, and never conducts
backwards; its edges are ideal, their loss V I t f / 2 is drawn evenly. The freewheel diode is
the circuit's own part; the low switch of a synchronous regulator closes whenever the other one
is open, and both conduct both ways. Source of both modulators: Erickson and Maksimovic,
Fundamentals of Power Electronics, chapters 7 (sawtooth) and 18 (peak current with slope
compensation).
"""

from __future__ import annotations

from railwright.devices.arithmetic import positive, step
from railwright.devices.device import Number, Terms, dissipate
from railwright.devices.switching import (
    amplify,
    elapsed,
    end_pulse,
    limit_pulse,
    period,
    reference,
    start_cycles,
    supervise,
    switching_loss,
)

SWITCH_LEAK = 1e-9  # S; keeps the switch pin defined without a coil
LEAST_RESISTANCE = 1e-6  # Ω; of a low switch
CURRENT_CORNER = 1e-6  # A; below which the closed switch ceases to conduct
ALWAYS = 1.0  # V; beyond the threshold, for a part without an enable pin


def state(t: Terms) -> None:
    """State all equations and events."""
    supply, switch = t.v("input") - t.v("ground"), t.v("switch") - t.v("ground")
    feedback = t.v("feedback") - t.v("ground")
    current, low = _switches(t, supply, switch)
    demand = amplify(t, reference(t) - feedback)
    _end_pulses(t, demand, current)
    start_cycles(t, demand, feedback)
    supervise(t, enabling(t) if t.connected("disable") else ALWAYS, supply)
    _flows(t, supply, switch, feedback, current, low)
    _observe(t, demand, supply)


def _switches(t: Terms, supply: Number, switch: Number) -> tuple[Number, Number]:
    """Currents of the high and of the low switch, both towards the coil [A]."""
    across = supply - switch - t.p.saturation_voltage
    current = across / t.p.switch_resistance
    if t.option("rectifier") == "diode":
        return t.p.on * positive(current, CURRENT_CORNER), 0.0
    closed = t.p.works * (1.0 - t.p.on)
    return t.p.on * current, -closed * switch / (t.p.low_resistance + LEAST_RESISTANCE)


def enabling(t: Terms) -> Number:
    """By how much the enable pin, if connected, lies beyond its threshold [V]."""
    above = t.v("disable") - t.v("ground") - t.p.enable_threshold
    sense = 1.0 if t.option("enable_active") == "high" else -1.0
    return sense * (1.0 - 2.0 * t.p.enable_inverted) * above


def _end_pulses(t: Terms, demand: Number, current: Number) -> None:
    limit_pulse(t, current)
    if t.option("control") == "voltage-mode":
        end_pulse(t, elapsed(t) / period(t) - demand, current)
        return
    seen = current + t.p.slope_compensation * elapsed(t)
    end_pulse(t, seen / t.p.current_limit - demand, current)


def _flows(
    t: Terms, supply: Number, switch: Number, feedback: Number, current: Number, low: Number
) -> None:
    own = t.p.standby_current + t.p.works * (t.p.quiescent_current - t.p.standby_current)
    aside = (own + switching_loss(t)) * step(supply)
    bias = t.p.feedback_current * step(feedback)
    leak = SWITCH_LEAK * switch
    t.through("input", "switch", current)
    t.through("ground", "switch", low)
    t.through("input", "ground", aside)
    t.through("feedback", "ground", bias)
    t.through("switch", "ground", leak)
    lost = (supply - switch) * current + switch * (leak - low)
    dissipate(t, lost + supply * aside + feedback * bias)


def _observe(t: Terms, demand: Number, supply: Number) -> None:
    """Of what the kind observes, that which is no mean; `coil_peak` is that of the last pulse."""
    t.observe("supply_voltage", supply)
    t.observe("duty", t.p.on)
    t.observe("demanded_duty", demand)
    t.observe("coil_peak", t.p.edge)
    t.observe("enabled", t.p.works)
    t.observe("frequency", 1.0 / period(t))
