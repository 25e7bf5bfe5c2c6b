"""Comparator with open-collector or push-pull output."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import ROOM, clipped, limited, positive, step
from railwright.devices.device import Device, Fault, Number, Pin, Rating, Terms, Unknown, Value
from railwright.devices.following import recovery_time, turn_over
from railwright.devices.integrated import (
    INPUT_OBSERVES,
    INPUT_VALUES,
    SUPPLY_OBSERVES,
    SUPPLY_PINS,
    SUPPLY_VALUES,
    bend,
    draw_inputs,
    draw_supply,
    input_constants,
    input_difference,
    saturating,
    supply_voltage,
)

CORNER = 1e-3
TEST_STEP = 0.1  # V; the input step for which makers state response times
FULL_DRIVE = 0.1  # V; more makes it no faster: fits 1.3 µs at 5 mV, 0.3 µs at 1 V of a 393 type
OUTPUT_LEAK = 1e-9  # S; a released 393-type output leaks 0.1 nA at 5 V (its datasheets)


class Comparator(Device):
    """Releases its output (open collector) or drives it high (push-pull) where V+ exceeds V-.

    `state` is 1 there and 0 where the output is driven low; the turn-over takes 1 V over the
    gain. Each output transistor has the curve `integrated.saturating`, laid through the stated
    saturation voltage. Source: datasheet of the 393 type. How long it takes to turn over:
    see `following.recover`; a response time is stated for a step of 100 mV that ends beyond the
    threshold by the overdrive.
    Faults and their shares: linear integrated circuits, RAC FMD-97 as commonly quoted (from
    memory).
    """

    kind = "comparator"
    pins = {
        "plus": Pin("plus"),
        "minus": Pin("minus"),
        "output": Pin("open-collector"),
        **SUPPLY_PINS,
    }
    options = {"output": ("open-collector", "push-pull")}
    values = {
        "gain": Value("V/V", "open-loop gain", least=100.0),
        "hysteresis": Value("V", "own hysteresis, its whole width", default=0.0, least=0.0),
        "response_time": Value("s", "delay at the overdrive", least=1e-10, dynamic=True),
        "overdrive": Value("V", "overdrive of that delay", least=1e-4, most=0.09, dynamic=True),
        **INPUT_VALUES,
        "saturation_voltage": Value("V", "low output at the saturation current", least=0.001),
        "saturation_current": Value("A", "sink current of that voltage", least=1e-6),
        "sink_limit": Value("A", "most current into the output", least=1e-6),
        **SUPPLY_VALUES,
    }
    inputs = {"free": 1.0, "forced": 0.0}
    ratings = {
        "supply_maximum": Rating("V", "supply_voltage", "comparator", "supply voltage"),
        "output_maximum": Rating("V", "output", "comparator", "open-collector voltage"),
        "rated_power": Rating("W", "power", "comparator", "power"),
    }
    unknowns = {"state": Unknown("1")}
    observes = {
        "difference": "V",
        "sink_current": "A",
        "sink_limit": "A",
        "demanded_sink": "A",
        "output": "V",
        "state": "1",
        **INPUT_OBSERVES,
        **SUPPLY_OBSERVES,
    }
    faults = (
        Fault("stuck-high", 0.35),
        Fault("stuck-low", 0.45),
        Fault("drift", 0.2, moves=("offset",)),
    )
    two_state = True
    conducts = (("output", "ground"), ("supply", "ground"))
    symbol = "comparator"

    def constants(self, v: Any) -> dict[str, Number]:
        return {
            **input_constants(v),
            "inverse_gain": 1.0 / v.gain,
            "bend_per_volt": bend(v.saturation_voltage, v.saturation_current, v.sink_limit),
        }

    def equations(self, t: Terms) -> None:
        high = clipped(t.x("state"), 0.0, 1.0, CORNER)
        difference = input_difference(t, ROOM) + t.p.hysteresis * (high - 0.5)
        drive = difference - (high - 0.5) * t.p.inverse_gain / t.gain
        rest, driven = TEST_STEP - t.p.overdrive, t.p.overdrive
        lag = recovery_time(
            t.p.response_time, limited(rest, FULL_DRIVE), limited(driven, FULL_DRIVE)
        )
        turn_over(t, high, drive, FULL_DRIVE, lag)

        output, alive = t.v("output") - t.v("ground"), step(supply_voltage(t))
        sink = (
            alive * (1.0 - high) * saturating(output, t.p.bend_per_volt, t.p.sink_limit)
            + OUTPUT_LEAK * output
        )
        t.through("output", "ground", sink)
        power = output * sink
        if t.option("output") == "push-pull":
            below = t.v("supply") - t.v("output")
            source = alive * high * saturating(below, t.p.bend_per_volt, t.p.sink_limit)
            t.through("supply", "output", source)
            power = power + below * source
        t.observe("difference", difference)
        t.observe("sink_current", sink)
        t.observe("sink_limit", t.p.sink_limit)
        # A transistor that cannot sink what it should stays at a high voltage.
        pull = t.p.sink_limit * t.p.bend_per_volt * positive(output, CORNER)
        t.observe("demanded_sink", alive * (1.0 - high) * pull)
        t.observe("output", output)
        t.observe("state", high)
        t.observe("power", power + draw_inputs(t) + draw_supply(t))
