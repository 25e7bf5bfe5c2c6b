"""Logic gate with push-pull output."""

from __future__ import annotations

from collections.abc import Callable

from railwright.devices.arithmetic import clipped
from railwright.devices.device import Number, Pin, Terms, Value
from railwright.devices.integrated import SUPPLY_PINS, draw_supply
from railwright.devices.logic import (
    CORNER,
    LogicCircuit,
    decide,
    give,
    greater,
    lesser,
    level,
    take,
)


def _differing(a: Number, b: Number) -> Number:
    """Above nil where just one of two levels about nil is high."""
    return lesser(greater(a, b), -lesser(a, b))


FUNCTIONS: dict[str, Callable[[Number, Number], Number]] = {
    "nand": lambda a, b: -lesser(a, b),
    "nor": lambda a, b: -greater(a, b),
    "and": lesser,
    "or": greater,
    "inverter": lambda a, b: -a,
    "buffer": lambda a, b: a,
    "xor": _differing,
}


class LogicGate(LogicCircuit):
    """Output at the supply where the function of its inputs is true, else at ground.

    An input is high above a fraction of the supply; the output passes either rail through a
    resistance. `state` is 1 where the output is high. A one-input function has no pin `b`; an
    unconnected `b` counts as tied to `a`. Source: IEC 60748-4 family characteristics of the
    4000 series (from memory). How long it takes to turn over: see `following.recover`; the
    stated delay is that of inputs which swing from rail to rail.
    Faults and their shares: digital CMOS circuits, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "logic-gate"
    pins = {
        "a": Pin("logic-input"),
        "b": Pin("logic-input", optional=True),
        "output": Pin("output"),
        **SUPPLY_PINS,
    }
    options = {"function": tuple(FUNCTIONS)}
    values = {
        **LogicCircuit.values,
        "hysteresis": Value("V", "own hysteresis, its whole width", default=0.0, least=0.0),
    }
    symbol = "gate"

    def equations(self, t: Terms) -> None:
        inputs = ["a", "b"] if t.connected("b") else ["a"]
        high = clipped(t.x("state"), 0.0, 1.0, CORNER)
        function = FUNCTIONS[t.option("function")]
        drive = function(level(t, inputs[0]), level(t, inputs[-1]))
        decide(t, high, drive + t.p.hysteresis * (high - 0.5), t.p.propagation_delay)

        current, power = give(t, "output", high)
        power = power + take(t, inputs)
        t.observe("output", t.v("output") - t.v("ground"))
        t.observe("output_current", current)
        t.observe("state", high)
        t.observe("power", power + draw_supply(t))
