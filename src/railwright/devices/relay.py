"""Relay with a changeover contact."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import (
    clipped,
    in_use,
    limited,
    log,
    maximum,
    sqrt,
    step,
)
from railwright.devices.device import (
    JUNCTION_VALUES,
    Device,
    Fault,
    Number,
    Pin,
    Rating,
    Terms,
    Unknown,
    Value,
)
from railwright.devices.following import recover, recovery_time
from railwright.devices.noise import thermal_noise
from railwright.devices.switch import OPEN_CONDUCTANCE
from railwright.standards.wire import REFERENCE_TEMPERATURE, TEMPERATURE_COEFFICIENT

CORNER = 1e-3
FULL_DRIVE = 0.05  # share of the pull-in current; more moves the armature no faster
SPAN = 1e-3  # share of the pull-in current over which the armature turns over
LEAST_HYSTERESIS = 0.05  # share of the pull-in current, beyond any real part
LEAST_MOVE = 0.1  # share of a stated time that the armature takes, beyond any real part
APART, TOUCHING = 0.3, 0.7  # ways of the armature at which one contact opens, the other closes


class Relay(Device):
    """A coil that pulls an armature, and the contact which that throws from `opens` to `closes`.

    Coil: v = R i + d(L i)/dt (Faraday, Ohm), R of copper at the coil's own temperature (ASTM
    B193), which its power raises. The armature goes by the current's magnitude, for it is the
    ampere-turns that pull: on from the pull-in current on, off below the drop-out current, the
    stated voltages over the resistance at 20 °C; so a warm coil pulls in at a higher voltage, as
    IEC 61810-1 has it (from memory). `state` is 1 where it is operated. The operate time is that
    of the current's rise at the rated voltage and of the armature's move, the release time that
    of the move alone, the current being cut off; the move takes as long as that leaves,
    whatever the drive (`following.recover`). A contact is a resistance, or insulation; the one
    opens before the other closes. Left out: bounce, arcs, the inductance's change with the
    armature, the little by which the contact warms the coil. Noise: thermal, of coil and contacts.
    Faults and their shares: relays, MIL-HDBK-338B (from memory): it fails to trip, it trips by
    itself, or its contact is welded.
    """

    kind = "relay"
    pins = {
        "coil_start": Pin("passive"),
        "coil_end": Pin("passive"),
        "common": Pin("passive"),
        "closes": Pin("passive", optional=True),
        "opens": Pin("passive", optional=True),
    }
    values = {
        "coil_resistance": Value("Ω", "resistance of the coil, 20 °C", least=0.1),
        "coil_inductance": Value("H", "of the coil", least=0.0, dynamic=True),
        "rated_voltage": Value("V", "of the coil, at which its times are stated", least=0.1),
        "pull_in_voltage": Value("V", "coil voltage that operates it, 20 °C", least=0.01),
        "drop_out_voltage": Value("V", "coil voltage that releases it, 20 °C", least=0.001),
        "operate_time": Value("s", "from the rated voltage on to contact", least=0.0, dynamic=True),
        "release_time": Value("s", "from no current on to contact", least=0.0, dynamic=True),
        "contact_resistance": Value("Ω", "of a closed contact", least=1e-6),
        "winding_to_ambient": Value("K/W", "thermal resistance, coil to air", least=0.1),
        "heat_capacity": JUNCTION_VALUES["heat_capacity"],
    }
    inputs = {"free": 1.0, "forced": 0.0}
    ratings = {
        "coil_voltage_maximum": Rating("V", "coil_voltage"),
        "rated_current": Rating("A", "current", "switch", "current"),
        "contact_voltage": Rating("V", "contact_voltage", "switch", "voltage"),
        "isolation_voltage": Rating("V", "isolated_voltage"),
        "coil_limit": Rating("°C", "junction"),
    }
    unknowns = {
        "coil": Unknown("A"),
        "state": Unknown("1"),
        "winding": Unknown("K", start=300.0, node=True),
    }
    observes = {
        "coil_current": "A",
        "coil_voltage": "V",
        "current": "A",
        "contact_voltage": "V",
        "isolated_voltage": "V",
        "state": "1",
        "junction": "°C",
        "power": "W",
    }
    faults = (
        Fault("stuck-low", 0.55),
        Fault("stuck-high", 0.26),
        Fault("short", 0.19, ("common", "closes")),
    )
    two_state = True
    conducts = (("coil_start", "coil_end"), ("common", "closes"), ("common", "opens"))
    symbol = "relay"

    def constants(self, v: Any) -> dict[str, Number]:
        hold = v.drop_out_voltage / v.pull_in_voltage
        hysteresis = maximum(1.0 - hold, LEAST_HYSTERESIS)
        over = maximum(v.rated_voltage / v.pull_in_voltage, 1.0 + LEAST_HYSTERESIS)
        electrical = v.coil_inductance / v.coil_resistance * log(over / (over - 1.0))
        return {
            "per_ampere": v.coil_resistance / v.pull_in_voltage,
            "hysteresis": hysteresis,
            "move_on": maximum(v.operate_time - electrical, LEAST_MOVE * v.operate_time),
            "move_off": v.release_time,
            "contact_conductance": 1.0 / v.contact_resistance,
        }

    def equations(self, t: Terms) -> None:
        current = t.x("coil")
        voltage = t.v("coil_start") - t.v("coil_end")
        warm = in_use(t.v("winding")) - REFERENCE_TEMPERATURE
        resistance = t.p.coil_resistance * (1.0 + TEMPERATURE_COEFFICIENT * warm)
        t.through("coil_start", "coil_end", current)
        t.zero("coil", voltage - resistance * current)
        t.flux("coil", t.p.coil_inductance * current)
        t.noise_in("coil", thermal_noise(t.v("winding"), resistance))

        operated = self._armature(t, current * t.p.per_ampere)
        lost, passed, across = self._contacts(t, operated)
        between = t.v("coil_end") - t.v("common")
        t.through("coil_end", "common", OPEN_CONDUCTANCE * between)
        warmth = resistance * current * current
        t.flow("winding", (t.v("winding") - t.ambient) / t.p.winding_to_ambient - warmth)
        t.heat("winding", t.p.heat_capacity * t.v("winding"))
        t.observe("coil_current", current)
        t.observe("coil_voltage", voltage)
        t.observe("current", passed)
        t.observe("contact_voltage", across)
        t.observe("isolated_voltage", between)
        t.observe("state", operated)
        t.observe("junction", t.v("winding"))
        t.observe("power", voltage * current + lost + OPEN_CONDUCTANCE * between * between)

    def _armature(self, t: Terms, pull: Number) -> Number:
        """State where the armature is, 0 or 1, by the coil current over the pull-in current."""
        state = t.x("state")
        operated = clipped(state, 0.0, 1.0, CORNER)
        size = sqrt(pull * pull + CORNER * CORNER)
        beyond = size - 1.0 + t.p.hysteresis * operated
        drive = beyond - (operated - 0.5) * SPAN / t.gain
        own = (limited(drive, FULL_DRIVE) if t.moving else drive) - (state - operated)
        t.zero("state", t.p.free * own + (1.0 - t.p.free) * (state - t.p.forced))
        driven = limited(1.0, FULL_DRIVE)
        below = recovery_time(t.p.move_on, driven, driven)
        above = recovery_time(t.p.move_off, driven, driven)
        recover(t, operated, below, above)
        return operated

    def _contacts(self, t: Terms, operated: Number) -> tuple[Number, Number, Number]:
        """State the contacts; power [W], sum of both currents [A], larger voltage across [V]."""
        made = {
            "closes": step((operated - TOUCHING) / (1.0 - TOUCHING)),
            "opens": step((APART - operated) / APART),
        }
        lost: Number = 0.0
        passed: Number = 0.0
        across: Number = 0.0
        for pin, share in made.items():
            if not t.connected(pin):
                continue
            voltage = t.v("common") - t.v(pin)
            conductance = OPEN_CONDUCTANCE + share * t.p.contact_conductance
            t.through("common", pin, voltage * conductance)
            t.noise("common", pin, thermal_noise(t.ambient, conductance))
            lost = lost + voltage * voltage * conductance
            passed = passed + voltage * conductance
            across = maximum(across, abs(voltage))
        return lost, passed, across
