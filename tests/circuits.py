"""Circuits for tests, built part by part on a board and solved by the engine.

    Board().source("VS", "IN", 5.0).resistor("R1", "IN", "OUT", 1e3).resistor("R2", "OUT", "0", 1e3)

Every method returns the board, so that a circuit reads like its parts list. Values that a test
does not state are the ordinary ones of `ORDINARY`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from railwright.devices import kinds
from railwright.devices.device import Device
from railwright.engine.model import Model, Name, target_name
from railwright.engine.operating_point import operating_point
from railwright.engine.solutions import OperatingPoints
from railwright.engine.topology import Aim, Crossing, Topology

Array = NDArray[np.float64]
GROUND = "0"

_HEAT = {"junction_to_case": 3.0, "junction_to_ambient": 50.0}
_NOISE = {"noise_voltage": 1e-7, "noise_corner": 100.0}
_AMPLIFIER = {"unity_gain_frequency": 1e6, "slew_rate": 5e5, **_NOISE}
_REGULATOR = {
    "line_regulation": 1e-4,
    "load_regulation": 1e-3,
    "rated_current": 1.5,
    "dropout": 1.8,
    "dropout_current": 1.5,
    "dropout_resistance": 0.3,
    "dropout_drift": -1e-3,
    "minimum_load": 3.5e-3,
    "current_limit": 2.2,
    "output_inductance": 1e-6,
    "open_loop_resistance": 0.5,
    "feedthrough": 1e-3,
    **_NOISE,
    **_HEAT,
}
_SUPPLY = {"supply_current": 5e-4, "supply_minimum": 3.0}
_INPUTS = {
    "offset": 1e-3,
    "bias_current": -20e-9,
    "offset_current": 2e-9,
    "common_mode_error": 1e-4,
    "input_range_low": 0.0,
    "input_range_high": 1.5,
}
_OUTPUT = {
    "swing_low": 5e-3,
    "swing_high": 1.3,
    "output_resistance": 10.0,
    "source_limit": 30e-3,
    "sink_limit": 15e-3,
}
_LOGIC = {
    "threshold_fraction": 0.5,
    "gain": 1e3,
    "propagation_delay": 1e-7,
    "output_resistance": 500.0,
    "input_leakage": 1e-7,
    "supply_current": 1e-6,
    "supply_minimum": 3.0,
}
ORDINARY: Mapping[str, Mapping[str, float]] = {
    "inductor": {"inductance": 68e-6, "winding_resistance": 0.06, "saturation_current": 4.0},
    "capacitor": {"capacitance": 1e-4, "esr": 0.06, "leakage": 1e-5, "rated_voltage": 35.0},
    "diode": {
        "forward_voltage": 0.7,
        "test_current": 0.01,
        "ideality": 1.7,
        "series_resistance": 0.5,
        "gap": 1.12,
        "junction_capacitance": 1e-11,
        "transit_time": 1e-7,
        "noise_corner": 1e3,
        **_HEAT,
    },
    "zener": {
        "zener_voltage": 5.1,
        "test_current": 5e-3,
        "dynamic_resistance": 30.0,
        "temperature_coefficient": 3e-4,
        "junction_capacitance": 2e-10,
        **_NOISE,
        **_HEAT,
    },
    "bipolar-transistor": {
        "current_gain": 150.0,
        "reverse_gain": 3.0,
        "base_emitter_voltage": 0.65,
        "test_current": 2e-3,
        "saturation_voltage": 0.2,
        "saturation_test_current": 0.05,
        "transit_time": 5e-10,
        "reverse_transit_time": 2e-7,
        "emitter_capacitance": 6e-12,
        "collector_capacitance": 5e-12,
        "noise_corner": 1e3,
        **_HEAT,
    },
    "adjustable-regulator": {"reference": 1.25, "adjust_current": 50e-6, **_REGULATOR},
    "fixed-regulator": {"output_voltage": 5.0, "quiescent_current": 5e-3, **_REGULATOR},
    "step-down-regulator": {
        "reference": 1.23,
        "frequency": 150e3,
        "saturation_voltage": 0.9,
        "switch_resistance": 0.1,
        "transition_time": 1e-7,
        "duty_limit": 1.0,
        "gain": 500.0,
        "compensation_pole": 10.0,
        "compensation_zero": 3e3,
        **_NOISE,
        "current_limit": 4.5,
        "quiescent_current": 5e-3,
        "standby_current": 80e-6,
        "enable_threshold": 1.3,
        "supply_minimum": 4.5,
        **_HEAT,
    },
    "operational-amplifier": {"gain": 1e5, **_AMPLIFIER, **_INPUTS, **_OUTPUT, **_SUPPLY},
    "comparator": {
        "gain": 2e5,
        "response_time": 1.3e-6,
        "overdrive": 5e-3,
        "saturation_voltage": 0.25,
        "saturation_current": 4e-3,
        "sink_limit": 16e-3,
        **_NOISE,
        **_INPUTS,
        **_SUPPLY,
    },
    "logic-gate": _LOGIC,
    "sr-latch": _LOGIC,
    "d-flip-flop": {**_LOGIC, "setup_time": 2e-8},
    "timer": {
        "control_fraction": 2.0 / 3.0,
        "trigger_fraction": 0.5,
        "divider_resistance": 5e3,
        "reset_voltage": 0.7,
        "threshold_current": 1e-7,
        "trigger_current": -5e-7,
        "reset_current": -1e-4,
        "propagation_delay": 2e-7,
        "low_voltage": 0.4,
        "low_current": 0.05,
        "sink_limit": 0.25,
        "high_drop": 1.35,
        "high_loss": 0.35,
        "high_current": 0.1,
        "source_limit": 0.24,
        "discharge_voltage": 0.18,
        "discharge_current": 0.015,
        "discharge_limit": 0.2,
        "discharge_leakage": 2e-9,
        "supply_conductance": 6e-4,
        "supply_current": 0.0,
        "supply_minimum": 4.5,
    },
    "shunt-reference": {
        "reference_voltage": 2.495,
        "reference_current": 2e-6,
        "minimum_current": 4e-4,
        "dynamic_resistance": 0.2,
        "cathode_voltage_effect": -1.4e-3,
        "saturation_voltage": 1.9,
        "off_current": 1e-7,
        "unity_gain_frequency": 1e6,
        "unity_gain_load": 230.0,
        **_NOISE,
        **_HEAT,
    },
    "thyristor": {
        "gate_trigger_current": 2e-4,
        "gate_trigger_voltage": 0.6,
        "holding_current": 5e-3,
        "on_voltage": 1.4,
        "test_current": 8.0,
        "on_resistance": 0.05,
        "leakage": 5e-6,
        "off_voltage": 400.0,
        "turn_on_time": 1.5e-6,
        "turn_off_time": 15e-6,
        "junction_capacitance": 1e-10,
        **_HEAT,
    },
    "potentiometer": {"resistance": 5e3, "end_resistance": 1e-3, "travel": 270.0},
    "source": {"resistance": 1e-6},
}


@dataclass(frozen=True)
class BoardPart:
    """A part in its place."""

    ref: str
    device: Device
    pins: Mapping[str, str]
    options: Mapping[str, str]


class Board:
    """Parts with their values, and the inputs that are to be solved for."""

    def __init__(self) -> None:
        self.parts: list[BoardPart] = []
        self.nominal: dict[Name, float] = {}
        self.aims: list[Aim] = []
        self.crossings: list[Crossing] = []

    def part(
        self,
        ref: str,
        kind: str,
        pins: Mapping[str, str],
        options: Mapping[str, str] | None = None,
        /,
        **values: float,
    ) -> Self:
        """Any part: its kind, pin -> net, and the values and inputs that matter, in SI units."""
        device = kinds()[kind]
        unknown = [n for n in values if n not in device.values and n not in device.inputs]
        unknown += [p for p in pins if p not in device.pins]
        if unknown:
            raise ValueError(f"{ref}: a {kind} has no {', '.join(unknown)}")
        chosen = {name: words[0] for name, words in device.options.items()} | dict(options or {})
        self.parts.append(BoardPart(ref, device, dict(pins), chosen))
        for name, value in {**ORDINARY.get(kind, {}), **values}.items():
            self.nominal[ref, name] = value
        return self

    def use(self, ref: str, name: str, pins: Mapping[str, str], **values: float) -> Self:
        """A part of the catalogue at its typical values, save those that are stated."""
        from railwright.catalogue.loader import load

        entry = load()[name]
        device = kinds()[entry.kind]
        typical = {
            value: known.spread.typical
            for value, known in entry.values.items()
            if value in device.values and not known.relative
        }
        return self.part(ref, entry.kind, pins, entry.options, **{**typical, **values})

    def resistor(self, ref: str, one: str, two: str, ohms: float) -> Self:
        """A resistor."""
        return self.part(ref, "resistor", {"one": one, "two": two}, resistance=ohms)

    def source(
        self, ref: str, plus: str, volts: float, minus: str = GROUND, **values: float
    ) -> Self:
        """A voltage source; it takes no current in."""
        return self.part(ref, "source", {"plus": plus, "minus": minus}, voltage=volts, **values)

    def load(self, ref: str, plus: str, amperes: float = 0.0, minus: str = GROUND) -> Self:
        """A constant-current load."""
        style = {"style": "constant-current"}
        return self.part(ref, "load", {"plus": plus, "minus": minus}, style, current=amperes)

    def rheostat(self, ref: str, one: str, two: str, ohms: float) -> Self:
        """A potentiometer as a variable resistor: `ohms` at position 1."""
        pins = {"one": one, "wiper": two, "two": two}
        return self.part(ref, "potentiometer", pins, resistance=ohms, position=0.5)

    def aim(
        self,
        ref: str,
        name: str,
        plus: str,
        minus: str = GROUND,
        low: float = 0.0,
        high: float = 1.0,
    ) -> Self:
        """Have an input solved for, so that a voltage between two nets meets a target."""
        self.aims.append(Aim(ref, name, plus, minus, low, high))
        return self

    def cross(self, ref: str, name: str, *observables: tuple[str, str]) -> Self:
        """Have an input solved for, so that a weighted sum of observables meets a target."""
        self.crossings.append(Crossing(ref, name, observables))
        return self

    @property
    def topology(self) -> Topology:
        """Shape of the circuit."""
        return Topology.of(self.parts, GROUND, self.aims, self.crossings)

    @property
    def model(self) -> Model:
        """The engine's model."""
        return Model(self.topology, dict(self.nominal))

    def solve(
        self, lanes: Mapping[Name, Any] | None = None, count: int = 1, **how: Any
    ) -> OperatingPoints:
        """Operating points; a lane that is not solved is an error."""
        points = operating_point(self.model, lanes or {}, count, **how)
        if not points.solved.all():
            raise AssertionError(f"{np.count_nonzero(~points.solved)} of {count} lanes unsolved")
        return points


def aimed(ref: str, name: str, target: Any, slope: float = -1.0) -> dict[Name, Any]:
    """Lanes that solve for an input so that its aim meets a target [V].

    slope [V]: negative where a greater input raises the voltage, else positive.
    """
    return {
        ("", f"solve {ref}.{name}"): 1.0,
        target_name(ref, name): target,
        ("", f"slope {ref}.{name}"): slope,
    }


def crossed(
    ref: str, name: str, weights: Mapping[tuple[str, str], Any], target: Any = 0.0
) -> dict[Name, Any]:
    """Lanes that solve for an input so that a weighted sum of observables meets a target."""
    lanes: dict[Name, Any] = {
        ("", f"solve {ref}.{name}"): 1.0,
        target_name(ref, name): target,
    }
    for (owner, observable), weight in weights.items():
        lanes["", f"weight {ref}.{name} {owner}.{observable}"] = weight
    return lanes
