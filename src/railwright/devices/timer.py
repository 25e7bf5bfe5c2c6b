"""Timer: two comparators on a divider of the supply, a latch, and a discharge transistor."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import clipped, positive, step
from railwright.devices.device import Device, Number, Pin, Rating, Terms, Unknown, Value
from railwright.devices.following import recovery_time, turn_over
from railwright.devices.integrated import (
    AMPLIFIER_FAULTS,
    CORNER,
    OUTPUT_LEAK,
    SUPPLY_OBSERVES,
    SUPPLY_PINS,
    SUPPLY_VALUES,
    bend,
    bias_parts,
    draw_bias,
    draw_supply,
    saturating,
    supply_voltage,
)
from railwright.devices.logic import greater, lesser, urges

STATE_CORNER = 1e-3
TRANSITION = 1e-5  # V at an input, over which it turns over
FULL_DRIVE = 0.1  # V beyond a threshold; more makes it no faster
FOLLOWER = 0.3  # V from the supply to the output, below which an emitter follower blocks
BIASED = ("threshold", "trigger", "reset")


class Timer(Device):
    """Goes high where its trigger falls below a third of the supply, low above two thirds.

    Output = reset and (trigger below half the control voltage, or kept and threshold below the
    control voltage): the reset overrides the trigger, and this the threshold. The control
    voltage is that of a divider of three resistors, two thirds of the supply where nothing else
    acts on its pin. While the output is low the discharge transistor conducts. With no input
    active both states are steady: which one it is in when its supply rises is not determined
    where trigger and threshold leave it alone. Source: block diagram and truth table in
    datasheets of the 555 and 7555 types.

    The output transistors have the curve `integrated.saturating`; the upper one of the bipolar
    process is an emitter follower, which blocks until its drop is there. How long it takes to
    turn over: see `following.recover`. Not stated are the current that the bipolar type takes
    for an instant as its output rises, and the change of its times with temperature, 50 ppm/K.
    Faults and their shares: linear integrated circuits, RAC FMD-97 as commonly quoted (from
    memory).
    """

    kind = "timer"
    pins = {
        "trigger": Pin("input"),
        "threshold": Pin("input"),
        "reset": Pin("logic-input"),
        "control": Pin("input", optional=True),
        "discharge": Pin("open-collector"),
        "output": Pin("output"),
        **SUPPLY_PINS,
    }
    options = {"process": ("bipolar", "cmos")}
    values = {
        "control_fraction": Value("1", "control voltage over supply", least=0.1, most=0.9),
        "trigger_fraction": Value("1", "trigger level over control voltage", least=0.1, most=0.9),
        "divider_resistance": Value("Ω", "of each of the lower two resistors", least=1.0),
        "reset_voltage": Value("V", "below which the reset acts", least=0.1),
        "threshold_current": Value("A", "into the threshold pin", signed=True),
        "trigger_current": Value("A", "into the trigger pin", signed=True),
        "reset_current": Value("A", "into the reset pin", signed=True),
        "propagation_delay": Value("s", "input to output", least=1e-10, dynamic=True),
        "low_voltage": Value("V", "low output at the low current", least=1e-3),
        "low_current": Value("A", "sink current of that voltage", least=1e-6),
        "sink_limit": Value("A", "most current into the output", least=1e-6),
        "high_drop": Value("V", "supply to high output, unloaded", default=0.0, least=0.0),
        "high_loss": Value("V", "what is lost beyond it at the high current", least=1e-3),
        "high_current": Value("A", "source current of that loss", least=1e-6),
        "source_limit": Value("A", "most current out of the output", least=1e-6),
        "discharge_voltage": Value("V", "across the conducting discharge transistor", least=1e-3),
        "discharge_current": Value("A", "current of that voltage", least=1e-6),
        "discharge_limit": Value("A", "most current of that transistor", least=1e-6),
        "discharge_leakage": Value("A/V", "of that transistor while it is off", least=1e-12),
        "supply_conductance": Value("A/V", "own current per volt of supply", least=0.0),
        **SUPPLY_VALUES,
    }
    inputs = {"free": 1.0, "forced": 0.0}
    ratings = {
        "supply_maximum": Rating("V", "supply_voltage", "comparator", "supply voltage"),
        "rated_output_current": Rating("A", "output_current", "comparator", "output current"),
        "rated_discharge_current": Rating("A", "discharge_current", "comparator", "output current"),
        "rated_power": Rating("W", "power", "comparator", "power"),
    }
    unknowns = {"state": Unknown("1")}
    observes = {
        "output": "V",
        "output_current": "A",
        "discharge_current": "A",
        "control": "V",
        "state": "1",
        **SUPPLY_OBSERVES,
    }
    faults = AMPLIFIER_FAULTS
    two_state = True
    remembers = True
    conducts = (
        ("supply", "output"),
        ("output", "ground"),
        ("discharge", "ground"),
        ("supply", "control"),
        ("control", "ground"),
        ("supply", "ground"),
    )
    symbol = "timer"

    def constants(self, v: Any) -> dict[str, Number]:
        found = {
            "low_bend": bend(v.low_voltage, v.low_current, v.sink_limit),
            "high_bend": bend(v.high_loss, v.high_current, v.source_limit),
            "discharge_bend": bend(v.discharge_voltage, v.discharge_current, v.discharge_limit),
            "lower": 0.5 / v.divider_resistance,
            "upper": 0.5 / v.divider_resistance * v.control_fraction / (1.0 - v.control_fraction),
        }
        for pin in BIASED:
            found[f"{pin}_in"], found[f"{pin}_out"] = bias_parts(getattr(v, f"{pin}_current"))
        return found

    def equations(self, t: Terms) -> None:
        ground, supply = t.v("ground"), supply_voltage(t)
        alive = step(supply)
        control, power = _control(t, supply)
        high = clipped(t.x("state"), 0.0, 1.0, STATE_CORNER)
        _decide(t, high, control, supply)

        for pin in BIASED:
            into, out = (getattr(t.p, f"{pin}_{way}") for way in ("in", "out"))
            power = power + draw_bias(t, pin, into, out)
        output, discharge = t.v("output") - ground, t.v("discharge") - ground
        # Past the middle before a transistor conducts: none can hold a capacitor at a threshold.
        source = alive * step(2.0 * high - 1.0) * _upper(t, supply - output)
        low = alive * step(1.0 - 2.0 * high)
        sink = low * saturating(output, t.p.low_bend, t.p.sink_limit)
        leak = OUTPUT_LEAK * output
        sunk = low * saturating(discharge, t.p.discharge_bend, t.p.discharge_limit)
        sunk = sunk + t.p.discharge_leakage * discharge
        t.through("supply", "output", source)
        t.through("output", "ground", sink + leak)
        t.through("discharge", "ground", sunk)
        own = t.p.supply_conductance * supply
        t.through("supply", "ground", own)
        power = power + (supply - output) * source + output * (sink + leak)
        power = power + discharge * sunk + supply * own + draw_supply(t)
        t.observe("output", output)
        t.observe("output_current", source - sink)
        t.observe("discharge_current", sunk)
        t.observe("control", control)
        t.observe("state", high)
        t.observe("power", power)


def _control(t: Terms, supply: Number) -> tuple[Number, Number]:
    """State the divider; the control voltage [V] and the divider's power [W]."""
    if not t.connected("control"):
        control = t.p.control_fraction * supply
        current = t.p.lower * control
        t.through("supply", "ground", current)
        return control, supply * current
    control = t.v("control") - t.v("ground")
    above, below = t.p.upper * (supply - control), t.p.lower * control
    t.through("supply", "control", above)
    t.through("control", "ground", below)
    return control, (supply - control) * above + control * below


def _decide(t: Terms, high: Number, control: Number, supply: Number) -> None:
    """State the latch behind both comparators; it drives itself from rail to rail."""
    ground = t.v("ground")
    started = t.p.trigger_fraction * control - (t.v("trigger") - ground)
    ended = t.v("threshold") - ground - control
    released = t.v("reset") - ground - t.p.reset_voltage
    on, off = urges(t, high, started, ended)
    drive = lesser(released, greater(on, lesser(off, (high - 0.5) * supply)))
    drive = drive - (high - 0.5) * TRANSITION / t.gain
    lag = recovery_time(t.p.propagation_delay, FULL_DRIVE, FULL_DRIVE)
    turn_over(t, high, drive, FULL_DRIVE, lag)


def _upper(t: Terms, across: Number) -> Number:
    """Current of the conducting upper output transistor [A] with a voltage across it."""
    if t.option("process") == "cmos":
        return saturating(across, t.p.high_bend, t.p.source_limit)
    beyond = positive(across - t.p.high_drop, CORNER)
    return saturating(beyond, t.p.high_bend, t.p.source_limit) * step(across / FOLLOWER)
