"""The step-down regulator cycle by cycle; no kind of its own.

The freewheel diode is the circuit's own part; the low switch of a synchronous regulator closes
whenever the other one is open, and both conduct both ways.
"""

from __future__ import annotations

from railwright.devices.arithmetic import step
from railwright.devices.device import Number, Terms, dissipate
from railwright.devices.enable import enabling, own_current
from railwright.devices.switching import (
    SWITCH_LEAK,
    amplify,
    closed_switch,
    end_pulses,
    observe_pulses,
    reference,
    start_cycles,
    supervise,
    switching_loss,
)

LEAST_RESISTANCE = 1e-6  # Ω; of a low switch


def state(t: Terms) -> None:
    """State all equations and events."""
    supply, switch = t.v("input") - t.v("ground"), t.v("switch") - t.v("ground")
    feedback = t.v("feedback") - t.v("ground")
    current, low = _switches(t, supply, switch)
    demand = amplify(t, reference(t) - feedback)
    end_pulses(t, demand, current)
    start_cycles(t, demand, feedback)
    supervise(t, enabling(t), supply)
    _flows(t, supply, switch, feedback, current, low)
    observe_pulses(t, demand, supply)


def _switches(t: Terms, supply: Number, switch: Number) -> tuple[Number, Number]:
    """Currents of the high and of the low switch, both towards the coil [A]."""
    across = supply - switch
    if t.option("rectifier") == "diode":
        return closed_switch(t, across), 0.0
    current = (across - t.p.saturation_voltage) / t.p.switch_resistance
    closed = t.p.works * (1.0 - t.p.on)
    return t.p.on * current, -closed * switch / (t.p.low_resistance + LEAST_RESISTANCE)


def _flows(
    t: Terms, supply: Number, switch: Number, feedback: Number, current: Number, low: Number
) -> None:
    aside = (own_current(t, t.p.works) + switching_loss(t)) * step(supply)
    bias = t.p.feedback_current * step(feedback)
    leak = SWITCH_LEAK * switch
    t.through("input", "switch", current)
    t.through("ground", "switch", low)
    t.through("input", "ground", aside)
    t.through("feedback", "ground", bias)
    t.through("switch", "ground", leak)
    lost = (supply - switch) * current + switch * (leak - low)
    dissipate(t, lost + supply * aside + feedback * bias)
