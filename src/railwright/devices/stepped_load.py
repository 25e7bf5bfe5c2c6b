"""Stepped load: jumps between two currents by a clock."""

from __future__ import annotations

from railwright.devices.arithmetic import step
from railwright.devices.device import Number, Terms, Value
from railwright.devices.load import START, WIDTH, AnyLoad


class SteppedLoad(AnyLoad):
    """Takes one current for a share of its period and another one for the rest.

    It is the load of a test of a supply's transient response (common practice, no source). Its
    `equations` state the mean of both currents, which is what an operating point and a course
    of means see; cycle by cycle it goes from one to the other within its edge time, on a curve
    of continuous slope. It gives way at the lowest voltages like `load` and never gives current.
    `capacitance` is what it has across its input. It is the surroundings, so it has no faults
    and no noise.
    """

    kind = "stepped-load"
    values = {
        "period": Value("s", "from one rise to the next", least=1e-8),
        "edge_time": Value("s", "of each edge", default=1e-6, least=1e-9, dynamic=True),
        **AnyLoad.values,
    }
    inputs = {"current": 0.0, "other_current": 0.0, "share": 0.5}
    """Current for the first `share` of each period, and for the rest of it [A, A, 1]."""
    holds = {
        "tick": -1.0,  # s; when the last edge began
        "due": 0.0,  # s; when the next one begins
        "on": 0.0,
    }
    loads = ("current", "other_current")
    switched_unknowns = {}

    def equations(self, t: Terms) -> None:
        self._take(t, t.p.share)

    def switched_equations(self, t: Terms) -> None:
        risen = step((t.time - t.p.tick) / t.p.edge_time)
        self._take(t, t.p.on * risen + (1.0 - t.p.on) * (1.0 - risen))
        rest = t.p.on * (1.0 - t.p.share) + (1.0 - t.p.on) * t.p.share
        t.event(t.time - t.p.due, tick=t.p.due, due=t.p.due + rest * t.p.period, on=1.0 - t.p.on)

    def _take(self, t: Terms, share: Number) -> None:
        """State the current, of which `share` is the first one."""
        voltage = t.v("plus") - t.v("minus")
        wanted = t.p.other_current + share * (t.p.current - t.p.other_current)
        current = wanted * step((voltage - START) / WIDTH)
        self.take(t, voltage, current)
