"""Transformer with one primary and one or two equal secondary windings."""

from __future__ import annotations

from typing import Any

from railwright.devices.device import Device, Fault, Number, Pin, Terms, Unknown, Value
from railwright.devices.inductor import BEND, saturating_flux

BENT = (1.0 + BEND * BEND) ** 0.5  # inductance times current over flux, at the saturation flux
STRAY = 0.01  # of the core loss: what each secondary's own stray field loses in what is around it
INSULATION = 1e-7  # S; between windings, about what their capacitance lets through at the mains
SECONDARIES = ("secondary", "second")


class Transformer(Device):
    """Windings on one core: v = R i + d(own leakage flux)/dt + (turns) d(core flux)/dt (Faraday).

    The node `core` is the voltage that the core's flux induces in the primary's turns; the
    currents of all windings, times their turns over the primary's, meet there and feed the
    magnetising current and the core loss. The core's flux bends like that of `inductor` where it
    saturates. Where it does is told as a flux, which turns and iron settle within a tenth; the
    current that goes with it varies with the joints of the core, as the inductance does. Half of
    the leakage belongs to the primary, the other half to each secondary. This is the equivalent
    circuit of every textbook of electrical machines (Fitzgerald, Kingsley and Umans, Electric
    Machinery, chapter on transformers).
    `start` is the dotted end. Two secondaries in series make one with a centre tap: join the end
    of one to the start of the other; a switch between the tap and the far end makes a switched
    one. Secondaries that differ are not covered. A hundredth of the core loss is taken across each
    secondary: without it two of them ring against each other, and nothing in the core damps that
    (common practice, no source). Capacitances between the windings are left out.
    Faults and their shares: as of coils, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "transformer"
    pins = {
        "primary_start": Pin("passive"),
        "primary_end": Pin("passive"),
        "secondary_start": Pin("passive"),
        "secondary_end": Pin("passive"),
        "second_start": Pin("passive", optional=True),
        "second_end": Pin("passive", optional=True),
    }
    values = {
        "turns_ratio": Value("1", "turns of the primary over those of one secondary", least=1e-3),
        "primary_resistance": Value("Ω", "resistance of the primary", least=1e-6),
        "secondary_resistance": Value("Ω", "resistance of each secondary", least=1e-6),
        "leakage_inductance": Value(
            "H", "seen from the primary, one secondary shorted, the other open", least=1e-12
        ),
        "magnetising_inductance": Value("H", "seen from the primary, unloaded", least=1e-9),
        "saturation_flux": Value("Vs", "of the primary, at which 30 % of it is lost", least=1e-9),
        "core_resistance": Value(
            "Ω", "core loss as a resistance, seen from the primary", least=1.0
        ),
        "rated_current": Value("A", "effective, of each secondary", least=1e-6, dynamic=True),
        "rated_rise": Value("K", "of its windings at full load", least=1.0, dynamic=True),
        "winding_limit": Value("°C", "of its windings in use", least=300.0, dynamic=True),
    }
    unknowns = {
        "core": Unknown("V", node=True),
        "magnetising": Unknown("A"),
        "primary": Unknown("A"),
        "secondary": Unknown("A"),
        "second": Unknown("A"),
    }
    observes = {
        "primary_current": "A",
        "secondary_current": "A",
        "second_current": "A",
        "primary_voltage": "V",
        "secondary_voltage": "V",
        "magnetising_current": "A",
        "power": "W",
    }
    faults = (
        Fault("open", 0.42, ("primary_start",)),
        Fault("short", 0.42, ("secondary_start", "secondary_end")),
        Fault("drift", 0.16, moves=("magnetising_inductance",)),
    )
    conducts = (
        ("primary_start", "primary_end"),
        ("secondary_start", "secondary_end"),
        ("second_start", "second_end"),
    )
    symbol = "transformer"

    def constants(self, v: Any) -> dict[str, Number]:
        return {
            "bend": BEND * v.magnetising_inductance / (v.saturation_flux * BENT),
            "primary_leakage": 0.5 * v.leakage_inductance,
            "secondary_leakage": 0.5 * v.leakage_inductance / (v.turns_ratio * v.turns_ratio),
        }

    def equations(self, t: Terms) -> None:
        wired = [n for n in SECONDARIES if t.connected(f"{n}_start") and t.connected(f"{n}_end")]
        lost = self._core(t, 1.0 - STRAY * len(wired))
        lost = lost + _winding(t, "primary", t.p.primary_resistance, t.p.primary_leakage, 1.0)
        own = t.p.secondary_resistance, t.p.secondary_leakage, t.p.turns_ratio
        for name in SECONDARIES:
            if name in wired:
                lost = lost + _winding(t, name, *own) + _insulation(t, name) + _stray(t, name)
            else:
                t.zero(name, -t.x(name))
            t.observe(f"{name}_current", t.x(name))
        t.observe("primary_current", t.x("primary"))
        t.observe("primary_voltage", t.v("primary_start") - t.v("primary_end"))
        t.observe("secondary_voltage", t.v("secondary_start") - t.v("secondary_end"))
        t.observe("power", lost)

    def _core(self, t: Terms, share: float) -> Number:
        """State the core's flux and that share of its loss [W]."""
        induced, current = t.v("core"), t.x("magnetising")
        lossy = share * induced / t.p.core_resistance
        t.flow("core", current + lossy)
        t.zero("magnetising", induced)
        flux = saturating_flux(t.p.magnetising_inductance, t.p.bend, current)
        t.flux("magnetising", flux)
        t.observe("magnetising_current", current)
        return induced * lossy


def _winding(t: Terms, name: str, resistance: Number, leakage: Number, ratio: Number) -> Number:
    """State one winding, of which the primary has `ratio` times the turns; its copper loss [W]."""
    start, end, current = f"{name}_start", f"{name}_end", t.x(name)
    t.through(start, end, current)
    t.flow("core", -current / ratio)
    t.zero(name, t.v(start) - t.v(end) - resistance * current - t.v("core") / ratio)
    t.flux(name, leakage * current)
    return resistance * current * current


def _insulation(t: Terms, name: str) -> Number:
    """State the insulation between a secondary and the primary; its loss [W]."""
    voltage = t.v("primary_end") - t.v(f"{name}_end")
    t.through("primary_end", f"{name}_end", INSULATION * voltage)
    return INSULATION * voltage * voltage


def _stray(t: Terms, name: str) -> Number:
    """State what a secondary's stray field loses, as a resistance across it; its loss [W]."""
    start, end = f"{name}_start", f"{name}_end"
    voltage = t.v(start) - t.v(end)
    current = STRAY * t.p.turns_ratio * t.p.turns_ratio / t.p.core_resistance * voltage
    t.through(start, end, current)
    return voltage * current
