"""The enable pin, `disable`, of what can be switched off by one; no kind of its own.

A kind that has it declares the pin, the option `enable_active`, and `enable_inverted` among its
inputs: 1 turns the sense of the pin over.
"""

from __future__ import annotations

from railwright.devices.arithmetic import step
from railwright.devices.device import Number, Terms, Value

ENABLE_HYSTERESIS = 0.02  # V; of the enable pin's input stage
ALWAYS = 1.0  # V; beyond the threshold, for a part without an enable pin

ENABLE_VALUES = {
    "quiescent_current": Value("A", "own current while it works", least=0.0),
    "standby_current": Value("A", "own current while disabled", least=0.0),
    "enable_threshold": Value("V", "disable pin against ground", least=0.05),
}
ENABLE_OBSERVES = {"enabled": "1", "enable_level": "V"}


def enabling(t: Terms) -> Number:
    """By how much the enable pin lies beyond its threshold [V]; ALWAYS on without such a pin."""
    if not t.connected("disable"):
        return ALWAYS
    above = t.v("disable") - t.v("ground") - t.p.enable_threshold
    sense = 1.0 if t.option("enable_active") == "high" else -1.0
    return sense * (1.0 - 2.0 * t.p.enable_inverted) * above


def enabled(t: Terms) -> Number:
    """1 while the enable pin lets the part work, 0 while it does not."""
    if not t.connected("disable"):
        return 1.0
    return step(enabling(t) / ENABLE_HYSTERESIS + 0.5)


def own_current(t: Terms, working: Number) -> Number:
    """What the part draws for itself, from disabled (0) to working (1) [A]."""
    return t.p.standby_current + working * (t.p.quiescent_current - t.p.standby_current)


def observe_enable(t: Terms) -> None:
    """Report `ENABLE_OBSERVES`."""
    t.observe("enabled", enabled(t))
    connected = t.connected("disable")
    t.observe("enable_level", t.v("disable") - t.v("ground") if connected else 0.0)
