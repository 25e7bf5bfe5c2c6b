"""What digital CMOS circuits share: thresholds, inputs, push-pull outputs; no kind of its own.

Levels are voltages about an input's threshold: above nil is high.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar

from railwright.devices.arithmetic import positive, step
from railwright.devices.device import Device, Fault, Number, Rating, Terms, Unknown, Value
from railwright.devices.following import recovery_time, turn_over
from railwright.devices.integrated import (
    SUPPLY_OBSERVES,
    SUPPLY_VALUES,
    bias_parts,
    draw_bias,
    supply_voltage,
)

CORNER = 1e-3
FULL_DRIVE = 0.5  # V from the threshold; an input beyond makes it no faster
UNPOWERED = 1e-4  # share of its conductance that an output keeps without supply
HANDOVER = 0.2  # V; over which one level takes over from another
REGENERATION = 5e-3
"""Share of the supply by which a latch drives itself on from a threshold as it turns over. Else
what leads from its output to its own reset could hold it half way, and no part of two coupled
gates allows that."""


class LogicCircuit(Device):
    """A CMOS circuit with an output between two rails, which rests at either.

    Shares of its faults: digital CMOS circuits, RAC FMD-97 as commonly quoted (from memory).
    """

    values = {
        "threshold_fraction": Value("1", "input threshold over supply", least=0.05, most=0.95),
        "gain": Value("V/V", "output over input in the transition", least=5.0),
        "propagation_delay": Value("s", "input to output", least=1e-10, dynamic=True),
        "output_resistance": Value("Ω", "output to the active rail", least=1.0),
        "high_resistance_ratio": Value(
            "1", "resistance of a high output over that of a low one", default=1.0, least=0.1
        ),
        "input_leakage": Value("A", "current into an input", signed=True),
        "input_capacitance": Value(
            "F", "of an input against ground", default=0.0, least=0.0, dynamic=True
        ),
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
    conducts: ClassVar[tuple[tuple[str, str], ...]] = (
        ("supply", "output"),
        ("output", "ground"),
        ("supply", "ground"),
    )

    def constants(self, v: Any) -> dict[str, Number]:
        leak_in, leak_out = bias_parts(v.input_leakage)
        return {
            "leak_in": leak_in,
            "leak_out": leak_out,
            "inverse_gain": 1.0 / v.gain,
            "sink_conductance": 1.0 / v.output_resistance,
            "source_conductance": 1.0 / (v.output_resistance * v.high_resistance_ratio),
        }


def greater(a: Number, b: Number) -> Number:
    """The level of `a or b`."""
    return b + positive(a - b, CORNER)


def lesser(a: Number, b: Number) -> Number:
    """The level of `a and b`."""
    return a - positive(a - b, CORNER)


def level(t: Terms, pin: str) -> Number:
    """Level of an input pin [V]."""
    return t.v(pin) - (t.v("ground") + t.p.threshold_fraction * supply_voltage(t))


def held_level(t: Terms, high: Number) -> Number:
    """Level with which a circuit that is `high` for 0 to 1 drives itself [V].

    It swings from rail to rail and meets a gate's own threshold; without supply there is none.
    """
    return (high - t.p.threshold_fraction) * supply_voltage(t)


def urges(t: Terms, high: Number, set_level: Number, reset_level: Number) -> tuple[Number, Number]:
    """Levels with which a latch's inputs turn it on, and leave it on [V]; see REGENERATION."""
    own = REGENERATION * supply_voltage(t)
    return set_level + own * high, -reset_level - own * (1.0 - high)


def decide(t: Terms, high: Number, drive: Number, delay: Number, unknown: str = "state") -> None:
    """State that a circuit follows a level within its gain, after a delay [s].

    The delay is that of inputs that swing from rail to rail.
    """
    drive = drive - (high - 0.5) * t.p.inverse_gain / t.gain
    turn_over(t, high, drive, FULL_DRIVE, recovery_time(delay, FULL_DRIVE, FULL_DRIVE), unknown)


def take(t: Terms, pins: Iterable[str]) -> Number:
    """State the currents and charges of input pins; their power [W]."""
    power: Number = 0.0
    for pin in pins:
        t.charge(pin, "ground", t.p.input_capacitance * (t.v(pin) - t.v("ground")), parasitic=True)
        power = power + draw_bias(t, pin, t.p.leak_in, t.p.leak_out)
    return power


def give(t: Terms, pin: str, high: Number, enabled: Number = 1.0) -> tuple[Number, Number]:
    """State an output that is high for a `high` of 0 to 1; its current [A] and power [W].

    Either rail through a resistance, while there is supply and as far as it is enabled (0 to 1).
    """
    supply, output = supply_voltage(t), t.v(pin) - t.v("ground")
    powered = step(supply)
    alive = powered * enabled + UNPOWERED * (1.0 - powered * (1.0 - enabled))
    source = (supply - output) * high * (t.p.source_conductance * alive)
    sink = output * (1.0 - high) * (t.p.sink_conductance * alive)
    t.through("supply", pin, source)
    t.through(pin, "ground", sink)
    return source - sink, (supply - output) * source + output * sink
