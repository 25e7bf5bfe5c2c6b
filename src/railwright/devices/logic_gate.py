"""Logic gate with push-pull output."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from railwright.devices.arithmetic import clipped, limited, positive, step
from railwright.devices.device import Device, Fault, Number, Pin, Rating, Terms, Unknown, Value
from railwright.devices.following import recover, recovery_time
from railwright.devices.integrated import (
    SUPPLY_OBSERVES,
    SUPPLY_PINS,
    SUPPLY_VALUES,
    bias_parts,
    draw_bias,
    draw_supply,
    supply_voltage,
)

CORNER = 1e-3
FULL_DRIVE = 0.5  # V from the threshold; an input beyond makes it no faster
UNPOWERED = 1e-4  # share of its conductance that an output keeps without supply


def _greater(a: Number, b: Number) -> Number:
    return b + positive(a - b, CORNER)


def _lesser(a: Number, b: Number) -> Number:
    return a - positive(a - b, CORNER)


def _differing(a: Number, b: Number) -> Number:
    """Above nil where just one of two levels about nil is high."""
    return _lesser(_greater(a, b), -_lesser(a, b))


FUNCTIONS: dict[str, Callable[[Number, Number], Number]] = {
    "nand": lambda a, b: -_lesser(a, b),
    "nor": lambda a, b: -_greater(a, b),
    "and": _lesser,
    "or": _greater,
    "inverter": lambda a, b: -a,
    "buffer": lambda a, b: a,
    "xor": _differing,
}


class LogicGate(Device):
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
        "threshold_fraction": Value("1", "input threshold over supply", least=0.05, most=0.95),
        "hysteresis": Value("V", "own hysteresis, its whole width", default=0.0, least=0.0),
        "gain": Value("V/V", "output over input in the transition", least=5.0),
        "propagation_delay": Value("s", "input to output", least=1e-10, dynamic=True),
        "output_resistance": Value("Ω", "output to the active rail", least=1.0),
        "input_leakage": Value("A", "current into an input", signed=True),
        **SUPPLY_VALUES,
    }
    inputs = {"free": 1.0, "forced": 0.0}
    ratings = {
        "supply_maximum": Rating("V", "supply_voltage", "cmos 4000", "supply voltage"),
        "rated_output_current": Rating("A", "output_current", "cmos 4000", "output current"),
    }
    unknowns = {"state": Unknown("1")}
    observes = {"output": "V", "output_current": "A", "state": "1", **SUPPLY_OBSERVES}
    faults = (
        Fault("stuck-high", 0.3),
        Fault("stuck-low", 0.3),
        Fault("open", 0.4, ("output",)),
    )
    two_state = True
    conducts = (("supply", "output"), ("output", "ground"), ("supply", "ground"))
    symbol = "gate"

    def constants(self, v: Any) -> dict[str, Number]:
        leak_in, leak_out = bias_parts(v.input_leakage)
        return {
            "leak_in": leak_in,
            "leak_out": leak_out,
            "inverse_gain": 1.0 / v.gain,
            "output_conductance": 1.0 / v.output_resistance,
        }

    def equations(self, t: Terms) -> None:
        supply, output = supply_voltage(t), t.v("output") - t.v("ground")
        threshold = t.v("ground") + t.p.threshold_fraction * supply
        inputs = ["a", "b"] if t.connected("b") else ["a", "a"]
        first, second = (t.v(pin) - threshold for pin in inputs)
        function = FUNCTIONS[t.option("function")]

        state = t.x("state")
        high = clipped(state, 0.0, 1.0, CORNER)
        drive = function(first, second) + t.p.hysteresis * (high - 0.5)
        drive = drive - (high - 0.5) * t.p.inverse_gain / t.gain
        own = (limited(drive, FULL_DRIVE) if t.moving else drive) - (state - high)
        t.zero("state", t.p.free * own + (1.0 - t.p.free) * (state - t.p.forced))
        lag = recovery_time(t.p.propagation_delay, FULL_DRIVE, FULL_DRIVE)
        recover(t, high, lag, lag)

        conductance = t.p.output_conductance * (step(supply) + UNPOWERED)
        source = (supply - output) * high * conductance
        sink = output * (1.0 - high) * conductance
        t.through("supply", "output", source)
        t.through("output", "ground", sink)
        power = (supply - output) * source + output * sink
        for pin in dict.fromkeys(inputs):
            power = power + draw_bias(t, pin, t.p.leak_in, t.p.leak_out)
        t.observe("output", output)
        t.observe("output_current", source - sink)
        t.observe("state", high)
        t.observe("power", power + draw_supply(t))
