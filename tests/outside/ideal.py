"""Parts without faults of their own, for circuits whose published figure knows none."""

from __future__ import annotations

from collections.abc import Mapping

Values = Mapping[str, float]

COOL: Values = {"junction_to_case": 0.01, "junction_to_ambient": 0.1}
REGULATOR: Values = {
    "line_regulation": 0.0,
    "load_regulation": 1e-6,
    "dropout": 0.0,
    "dropout_resistance": 0.0,
    "dropout_drift": 0.0,
    "current_limit": 100.0,
    **COOL,
}
STEP_DOWN: Values = {
    "saturation_voltage": 0.0,
    "switch_resistance": 1e-4,
    "transition_time": 0.0,
    "gain": 1e6,
    "current_limit": 1e3,
    "quiescent_current": 0.0,
    "standby_current": 0.0,
    **COOL,
}
COIL: Values = {"winding_resistance": 1e-6, "saturation_current": 1e6}
INPUTS: Values = {
    "offset": 0.0,
    "bias_current": 0.0,
    "offset_current": 0.0,
    "common_mode_error": 0.0,
}
AMPLIFIER: Values = {
    "gain": 1e8,
    "swing_low": 0.0,
    "swing_high": 0.0,
    "output_resistance": 0.1,
    "source_limit": 1.0,
    "sink_limit": 1.0,
    "supply_current": 0.0,
    **INPUTS,
}
COMPARATOR: Values = {"gain": 1e8, "supply_current": 0.0, **INPUTS}
TRANSISTOR: Values = {"current_gain": 1e6, **COOL}
