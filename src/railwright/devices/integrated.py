"""What integrated circuits share: supply, input currents, output stage; no kind of its own.

Voltages are against the ground pin. Every ampere out of an output comes from the supply pin,
every ampere into one leaves at the ground pin.
"""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import clipped, maximum, minimum, positive, sqrt, step
from railwright.devices.device import Fault, Number, Pin, Terms, Value
from railwright.devices.noise import shot_noise

CORNER = 3e-4  # V
CURRENT_CORNER = 1e-7  # A
BIAS_WIDTH = 0.1  # V; an input's current stops when its pin nears the rail that it comes from
OVERRUN = 100.0  # Ω; how far the drive runs beyond its limit per volt that is left
OUTPUT_LEAK = 1e-7  # S; keeps the output of a part without supply defined
TOLERANCE = 0.01  # V; error at which an amplifier counts as half out of control

SUPPLY_PINS = {"supply": Pin("supply"), "ground": Pin("ground")}
SUPPLY_VALUES = {
    "supply_current": Value("A", "own current, without load", least=0.0),
    "supply_minimum": Value("V", "least supply that works", least=0.0),
}
INPUT_VALUES = {
    "offset": Value("V", "input offset voltage", signed=True),
    "offset_drift": Value("V/K", "its change with the air temperature", signed=True, default=0.0),
    "bias_current": Value("A", "mean current into the input pins; negative: out of them"),
    "offset_current": Value("A", "difference of both input currents", signed=True),
    "common_mode_error": Value("V/V", "input error per volt of common mode", signed=True),
    "test_common_mode": Value("V", "input voltage of the stated offset", default=0.0),
    "supply_error": Value("V/V", "input error per volt of supply", signed=True, default=0.0),
    "test_supply": Value("V", "supply of the stated offset", default=5.0),
    "input_range_low": Value("V", "lowest input that works, above ground"),
    "input_range_high": Value("V", "highest input that works, below the supply"),
}
INPUT_OBSERVES = {
    "input_low": "V",
    "input_high": "V",
    "input_range_low": "V",
    "input_range_high": "V",
}
OUTPUT_VALUES = {
    "swing_low": Value("V", "lowest output above ground, unloaded", least=0.0),
    "swing_low_rise": Value("V", "its rise under a heavy sink current", default=0.0, least=0.0),
    "light_sink": Value("A", "sink current that brings 71 % of it", default=1e-3, least=1e-7),
    "swing_high": Value("V", "highest output below the supply, without load", least=0.0),
    "output_resistance": Value("Ω", "what is lost per ampere of output current", least=0.1),
    "source_limit": Value("A", "most current out of the output", least=1e-6),
    "sink_limit": Value("A", "most current into the output", least=1e-6),
}
OUTPUT_OBSERVES = {
    "output": "V",
    "demanded_output": "V",
    "swing_low": "V",
    "swing_high": "V",
    "output_current": "A",
    "source_limit": "A",
    "sink_limit": "A",
    "control": "1",
}
SUPPLY_OBSERVES = {"supply_voltage": "V", "power": "W"}
AMPLIFIER_FAULTS = (
    Fault("stuck-high", 0.3),
    Fault("stuck-low", 0.4),
    Fault("drift", 0.2, moves=("offset", "control_fraction")),
    Fault("open", 0.1, ("output",)),
)
"""Shares of linear integrated circuits, RAC FMD-97 as commonly quoted (from memory)."""
AMPLIFIER_CONDUCTS = (("supply", "output"), ("output", "ground"), ("supply", "ground"))


def supply_voltage(t: Terms) -> Number:
    """Supply pin against ground pin [V]."""
    return t.v("supply") - t.v("ground")


def draw_supply(t: Terms) -> Number:
    """State the part's own current; its power [W]."""
    supply = supply_voltage(t)
    current = t.p.supply_current * step(supply)
    t.through("supply", "ground", current)
    t.observe("supply_voltage", supply)
    return supply * current


def bias_parts(into: Number) -> tuple[Number, Number]:
    """An input current as two magnitudes: into the pin and out of it [A]; for `constants`."""
    return maximum(into, 0.0), maximum(-into, 0.0)


def draw_bias(t: Terms, pin: str, into: Number, out: Number) -> Number:
    """State an input pin's current; its power [W].

    The current into the pin ends at ground potential, the one out of it at the supply's, so
    that an unconnected input floats to a rail and not beyond.
    """
    above, below = t.v(pin) - t.v("ground"), t.v("supply") - t.v(pin)
    sunk, given = into * step(above / BIAS_WIDTH), out * step(below / BIAS_WIDTH)
    t.through(pin, "ground", sunk)
    t.through("supply", pin, given)
    return above * sunk + below * given


def input_constants(v: Any) -> dict[str, Number]:
    """Constants of a pair of input pins."""
    plus_in, plus_out = bias_parts(v.bias_current + 0.5 * v.offset_current)
    minus_in, minus_out = bias_parts(v.bias_current - 0.5 * v.offset_current)
    return {
        "plus_in": plus_in,
        "plus_out": plus_out,
        "minus_in": minus_in,
        "minus_out": minus_out,
    }


def draw_inputs(t: Terms) -> Number:
    """State both input pins' currents; their power [W]."""
    plus = draw_bias(t, "plus", t.p.plus_in, t.p.plus_out)
    return plus + draw_bias(t, "minus", t.p.minus_in, t.p.minus_out)


def bias_noise(t: Terms) -> None:
    """State the shot noise of both input pins' currents."""
    for pin, current in (
        ("plus", t.p.plus_in + t.p.plus_out),
        ("minus", t.p.minus_in + t.p.minus_out),
    ):
        t.noise(pin, "ground", shot_noise(current))


def input_difference(t: Terms, room: float) -> Number:
    """Plus minus minus input with all errors of the input stage [V]; reports the input range."""
    ground, supply = t.v("ground"), supply_voltage(t)
    plus, minus = t.v("plus") - ground, t.v("minus") - ground
    highest = minus + positive(plus - minus, CORNER)
    t.observe("input_low", plus + minus - highest)
    t.observe("input_high", highest)
    t.observe("input_range_low", t.p.input_range_low)
    t.observe("input_range_high", supply - t.p.input_range_high)
    return (
        plus
        - minus
        + t.p.offset
        + t.p.offset_drift * (t.ambient - room)
        + t.p.common_mode_error * (0.5 * (plus + minus) - t.p.test_common_mode)
        + t.p.supply_error * (supply - t.p.test_supply)
    )


def drive_output(t: Terms) -> tuple[Number, Number, Number]:
    """State the output stage: `state` is the voltage asked for [V], `drive` the current [A].

    Returns the voltage behind the output resistance, how far the state is beyond the swing
    [V], and the stage's power [W].
    """
    supply, output = supply_voltage(t), t.v("output") - t.v("ground")
    alive = step(supply)
    state, drive = t.x("state"), t.x("drive")
    sink_limit, source_limit = t.p.sink_limit * alive, t.p.source_limit * alive
    current = clipped(drive, -sink_limit, source_limit, CURRENT_CORNER)
    source, sink = positive(current, CURRENT_CORNER), positive(-current, CURRENT_CORNER)
    loading = sink / t.p.light_sink
    rise = t.p.swing_low_rise * loading / sqrt(1.0 + loading * loading)
    low = alive * (t.p.swing_low + rise)
    high = low + positive(supply - t.p.swing_high - low, CORNER)
    inner = clipped(state, low, high, CORNER)
    lack = inner - t.p.output_resistance * current - output
    t.zero("drive", lack - (drive - current) * OVERRUN)
    t.through("supply", "output", source)
    t.through("output", "ground", sink + OUTPUT_LEAK * output)

    beyond, overrun = state - inner, (drive - current) * OVERRUN
    square = TOLERANCE * TOLERANCE
    t.observe("output", output)
    t.observe("demanded_output", output + beyond)
    t.observe("swing_low", low + t.p.output_resistance * sink)
    t.observe("swing_high", high - t.p.output_resistance * source)
    t.observe("output_current", current)
    t.observe("source_limit", source_limit)
    t.observe("sink_limit", sink_limit)
    t.observe("control", square / (square + beyond * beyond + overrun * overrun))
    leaked = OUTPUT_LEAK * output * output
    return inner, beyond, (supply - output) * source + output * sink + leaked


def bend(voltage: Number, current: Number, limit: Number) -> Number:
    """Steepness of `saturating` [1/V] that lays it through a stated point; for `constants`.

    A point beyond 95 % of the limit counts as lying there.
    """
    share = minimum(current / limit, 0.95)
    return share / sqrt(1.0 - share * share) / voltage


def saturating(voltage: Number, bend: Number, limit: Number) -> Number:
    """Current of a conducting output transistor [A]: a resistance that gives way to a limit.

    i = Im x / sqrt(1 + x^2), x = bend v: a smooth shape for the curves in datasheets (common
    practice, no source).
    """
    bent = bend * voltage
    return limit * bent / sqrt(1.0 + bent * bent)
