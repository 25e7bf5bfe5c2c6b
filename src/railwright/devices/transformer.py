"""Transformer with one primary and one or two equal secondary windings."""

from __future__ import annotations

from typing import Any

from railwright.devices.device import Device, Fault, Number, Pin, Terms, Unknown, Value
from railwright.devices.inductor import BEND, saturating_flux

INSULATION = 1e-10  # S; between the windings' ends: keeps a floating secondary defined


class Transformer(Device):
    """Windings on one core: v = R i + d(flux)/dt each, with the core's flux in common (Faraday).

    The core's flux follows the magnetising current, the sum of all currents times their turns
    over the primary's; it bends like that of `inductor` where the core saturates. Half of the
    leakage belongs to the primary, the other half to each secondary. Core loss is a resistance
    across the primary's terminals. This is the equivalent circuit of every textbook of electrical
    machines (Fitzgerald, Kingsley and Umans, Electric Machinery, chapter on transformers).
    `start` is the dotted end. Two secondaries in series make one with a centre tap: join the end
    of one to the start of the other. Capacitances between the windings are left out.
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
        "saturation_current": Value("A", "primary current at which 30 % of it is lost", least=1e-9),
        "core_resistance": Value("Ω", "core loss as a resistance across the primary", least=1.0),
    }
    unknowns = {"primary": Unknown("A"), "secondary": Unknown("A"), "second": Unknown("A")}
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
        Fault("drift", 0.16),
    )
    conducts = (
        ("primary_start", "primary_end"),
        ("secondary_start", "secondary_end"),
        ("second_start", "second_end"),
    )
    symbol = "transformer"

    def constants(self, v: Any) -> dict[str, Number]:
        return {
            "bend": BEND / v.saturation_current,
            "primary_leakage": 0.5 * v.leakage_inductance,
            "secondary_leakage": 0.5 * v.leakage_inductance / (v.turns_ratio * v.turns_ratio),
        }

    def equations(self, t: Terms) -> None:
        windings = ["secondary"]
        if t.connected("second_start") and t.connected("second_end"):
            windings.append("second")
        magnetising = t.x("primary") + sum(t.x(w) for w in windings) / t.p.turns_ratio
        flux = saturating_flux(t.p.magnetising_inductance, t.p.bend, magnetising)
        lost = _winding(t, "primary", t.p.primary_resistance, t.p.primary_leakage, flux)
        lost = lost + self._core(t)
        for name in ("secondary", "second"):
            if name in windings:
                own = t.p.secondary_resistance, t.p.secondary_leakage, flux / t.p.turns_ratio
                lost = lost + _winding(t, name, *own) + _insulation(t, name)
            else:
                t.zero(name, -t.x(name))
            t.observe(f"{name}_current", t.x(name))
        t.observe("primary_current", t.x("primary"))
        t.observe("secondary_voltage", t.v("secondary_start") - t.v("secondary_end"))
        t.observe("magnetising_current", magnetising)
        t.observe("power", lost)

    def _core(self, t: Terms) -> Number:
        """State the core loss [W]."""
        voltage = t.v("primary_start") - t.v("primary_end")
        t.through("primary_start", "primary_end", voltage / t.p.core_resistance)
        t.observe("primary_voltage", voltage)
        return voltage * voltage / t.p.core_resistance


def _winding(t: Terms, name: str, resistance: Number, leakage: Number, core_flux: Number) -> Number:
    """State one winding; its copper loss [W]."""
    start, end, current = f"{name}_start", f"{name}_end", t.x(name)
    t.through(start, end, current)
    t.zero(name, t.v(start) - t.v(end) - resistance * current)
    t.flux(name, leakage * current + core_flux)
    return resistance * current * current


def _insulation(t: Terms, name: str) -> Number:
    """State the insulation between a secondary and the primary; its loss [W]."""
    voltage = t.v("primary_end") - t.v(f"{name}_end")
    t.through("primary_end", f"{name}_end", INSULATION * voltage)
    return INSULATION * voltage * voltage
