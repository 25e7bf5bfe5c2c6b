"""Logic load: a circuit with a supervisor that holds it in reset below a supply voltage."""

from __future__ import annotations

from railwright.devices.arithmetic import step
from railwright.devices.device import Number, Terms, Value
from railwright.devices.load import START, WIDTH, AnyLoad


class LogicLoad(AnyLoad):
    """Takes its running current above a reset threshold, and its reset current below it.

    The supervisor resets at the threshold, and lets go at that plus its hysteresis, after its
    delay: the definition of a supply supervisor in datasheets. `equations` have neither memory
    nor delay: within the hysteresis they state a share of both currents, what is found there in
    the mean. Cycle by cycle both are followed. Either current gives way at the lowest voltages
    like that of `load`. `running` is 1 where it is not in reset. It is the surroundings, so it
    has no faults and no noise.
    """

    kind = "logic-load"
    values = {
        "threshold": Value("V", "below which it is in reset", least=0.3),
        "hysteresis": Value("V", "above the threshold, where it is let go", least=1e-3),
        "reset_current": Value("A", "while it is in reset", default=0.0, least=0.0),
        "delay": Value("s", "of letting go", default=0.0, least=0.0, dynamic=True),
        **AnyLoad.values,
    }
    inputs = {"current": 0.0}
    """While it runs [A]."""
    holds = {
        "fed": 1.0,  # the supply was above the hysteresis, and not below the threshold since
        "since": -1.0,  # s; when it came to be fed
        "works": 1.0,  # not in reset
    }
    loads = ("current",)
    switched_unknowns = {}
    observes = {**AnyLoad.observes, "running": "1"}

    def equations(self, t: Terms) -> None:
        voltage = t.v("plus") - t.v("minus")
        self._take(t, voltage, step((voltage - t.p.threshold) / t.p.hysteresis))

    def switched_equations(self, t: Terms) -> None:
        voltage = t.v("plus") - t.v("minus")
        self._take(t, voltage, t.p.works)
        since = t.p.since + (1.0 - t.p.fed) * (t.time - t.p.since)
        t.event(t.time - t.p.since - t.p.delay, works=t.p.fed)
        t.event(voltage - t.p.threshold - t.p.hysteresis, fed=1.0, since=since)
        t.event(t.p.threshold - voltage, fed=0.0, works=0.0)

    def _take(self, t: Terms, voltage: Number, running: Number) -> None:
        """State the current, where it runs for a share of 1."""
        wanted = t.p.reset_current + running * (t.p.current - t.p.reset_current)
        current = wanted * step((voltage - START) / WIDTH)
        self.take(t, voltage, current)
        t.observe("running", running)
