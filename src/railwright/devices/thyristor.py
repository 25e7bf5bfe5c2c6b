"""Thyristor."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import (
    ROOM,
    clipped,
    exp,
    junction_curve,
    saturation_current,
    sqrt,
    thermal_voltage,
)
from railwright.devices.device import (
    CASE,
    JUNCTION,
    JUNCTION_OBSERVES,
    JUNCTION_VALUES,
    Device,
    Fault,
    Number,
    Pin,
    Rating,
    Terms,
    Unknown,
    Value,
    dissipate,
)
from railwright.devices.following import recover, recovery_time
from railwright.devices.junction import depletion_charge
from railwright.devices.noise import shot_noise

CORNER = 1e-3
IDLE_PUSH = 0.5**0.5  # how hard the state is pushed off by no current at all


class Thyristor(Device):
    """Blocks until its gate is triggered, then conducts until its current falls away.

    `state` turns to 1 where gate current over trigger current plus anode current over holding
    current exceeds 1 (the condition that both inner transistors' gains sum to 1; Sze, Physics
    of Semiconductor Devices, chapter on thyristors, simplified), and then keeps itself there.
    While it conducts, anode to cathode is a junction with a series resistance; the gate is a
    junction. The trigger current is the stated one at every temperature. In time the state
    takes its turn-on and turn-off times (`following.recover`); the blocking junction lies between
    anode and gate, so that its depletion charge triggers the part where the voltage rises fast
    (Sze, the same chapter). Noise: shot noise of both currents.
    Faults and their shares: thyristors, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "thyristor"
    pins = {
        "anode": Pin("anode"),
        "cathode": Pin("cathode"),
        "gate": Pin("gate"),
        **CASE,
    }
    values = {
        "gate_trigger_current": Value("A", "gate current that triggers", least=1e-7),
        "gate_trigger_voltage": Value("V", "gate to cathode at that current", least=0.1, most=3.0),
        "holding_current": Value("A", "anode current that keeps it on", least=1e-6),
        "on_voltage": Value("V", "anode to cathode at the test current", least=0.3),
        "test_current": Value("A", "anode current of that voltage", least=1e-3),
        "on_resistance": Value("Ω", "ohmic part of the on voltage", least=1e-5),
        "leakage": Value("A", "blocked current at the off voltage", least=0.0),
        "off_voltage": Value("V", "greatest voltage blocked", least=1.0),
        "turn_on_time": Value("s", "from the gate's pulse to conduction", least=0.0, dynamic=True),
        "turn_off_time": Value(
            "s", "from no current to when it blocks again", least=0.0, dynamic=True
        ),
        "junction_capacitance": Value("F", "anode to gate, nil volts", least=0.0, dynamic=True),
        **JUNCTION_VALUES,
    }
    inputs = {"free": 1.0, "forced": 0.0}
    ratings = {
        "off_voltage": Rating("V", "voltage", "diode", "reverse voltage"),
        "rated_current": Rating("A", "current", "diode", "forward current", over="mean"),
        "gate_current_maximum": Rating("A", "gate_current"),
        "junction_limit": Rating("°C", "junction", "diode", "junction"),
    }
    unknowns = {
        "state": Unknown("1"),
        "walk": Unknown("V"),
        "gate_walk": Unknown("V"),
        **JUNCTION,
    }
    observes = {
        "current": "A",
        "voltage": "V",
        "gate_current": "A",
        "state": "1",
        **JUNCTION_OBSERVES,
    }
    faults = (
        Fault("short", 0.45, ("anode", "cathode")),
        Fault("open", 0.15, ("anode",)),
        Fault("latched", 0.4),
    )
    two_state = True
    conducts = (("anode", "cathode"), ("gate", "cathode"))
    polar = (("anode", "cathode"),)
    symbol = "thyristor"

    def constants(self, v: Any) -> dict[str, Number]:
        volts = thermal_voltage(ROOM)
        inner = v.on_voltage - v.on_resistance * v.test_current
        return {
            "saturation_at_room": v.test_current / (exp(inner / volts) - 1.0),
            "gate_saturation_at_room": v.gate_trigger_current
            / (exp(v.gate_trigger_voltage / volts) - 1.0),
            "inverse_trigger": 1.0 / v.gate_trigger_current,
            "inverse_holding": 1.0 / v.holding_current,
            "leakage_conductance": v.leakage / v.off_voltage,
        }

    def equations(self, t: Terms) -> None:
        temperature = t.v("junction")
        volts = thermal_voltage(temperature)
        voltage = t.v("anode") - t.v("cathode")
        gate_voltage = t.v("gate") - t.v("cathode")
        state = t.x("state")
        on = clipped(state, 0.0, 1.0, CORNER)

        saturation = saturation_current(t.p.saturation_at_room, temperature, 1.0)
        inner, current = junction_curve(t.x("walk"), saturation, volts)
        t.zero("walk", on * voltage - inner - current * t.p.on_resistance)
        gate_saturation = saturation_current(t.p.gate_saturation_at_room, temperature, 1.0)
        gate_inner, gate_current = junction_curve(t.x("gate_walk"), gate_saturation, volts)
        t.zero("gate_walk", gate_voltage - gate_inner)

        push = gate_current * t.p.inverse_trigger + current * t.p.inverse_holding - 1.0
        own = push / sqrt(1.0 + push * push) - (state - on) - (on - 0.5) * CORNER / t.gain
        t.zero("state", t.p.free * own + (1.0 - t.p.free) * (state - t.p.forced))

        below = recovery_time(t.p.turn_on_time, IDLE_PUSH, 1.0)
        above = recovery_time(t.p.turn_off_time, 1.0, IDLE_PUSH)
        recover(t, on, below, above)
        blocking = depletion_charge(t.v("gate") - t.v("anode"), t.p.junction_capacitance)
        t.charge("gate", "anode", blocking, parasitic=True)
        t.noise("anode", "cathode", shot_noise(current + 2.0 * saturation))
        t.noise("gate", "cathode", shot_noise(gate_current + 2.0 * gate_saturation))

        through = current + t.p.leakage_conductance * voltage
        t.through("anode", "cathode", through)
        t.through("gate", "cathode", gate_current)
        dissipate(t, voltage * through + gate_voltage * gate_current)
        t.observe("current", through)
        t.observe("voltage", voltage)
        t.observe("gate_current", gate_current)
        t.observe("state", on)
