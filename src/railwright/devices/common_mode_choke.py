"""Common-mode choke: two equal windings on one core."""

from __future__ import annotations

from typing import Any

from railwright.devices.device import Device, Fault, Number, Pin, Rating, Terms, Unknown, Value
from railwright.devices.inductor import BEND, saturating_flux
from railwright.devices.noise import thermal_noise
from railwright.devices.transformer import INSULATION


class CommonModeChoke(Device):
    """Each winding: v = R i + d(own leakage flux)/dt + d(core flux)/dt (Faraday, Ohm).

    The core's flux is that of the sum of both currents, and bends like that of `inductor`; what a
    current brings back through the other winding leaves it. One winding, the other open, has the
    stated inductance; both in series and against each other have the leakage inductance; side by
    side they have L - Ll/4 (coupled coils: Fitzgerald, Kingsley and Umans, Electric Machinery).
    `first_start` and `second_start` are the dotted ends. Loss and capacitances are left out, so
    it is too good from about a megahertz on.
    Faults and their shares: as of coils, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "common-mode-choke"
    pins = {
        "first_start": Pin("passive"),
        "first_end": Pin("passive"),
        "second_start": Pin("passive"),
        "second_end": Pin("passive"),
    }
    values = {
        "inductance": Value("H", "of one winding, the other open", least=1e-9),
        "leakage_inductance": Value("H", "both in series, against each other", least=1e-12),
        "winding_resistance": Value("Ω", "resistance of each winding", least=1e-6),
        "saturation_current": Value("A", "sum of both, at which 30 % is lost", least=1e-9),
    }
    ratings = {
        "rated_current": Rating("A", "current", "inductor", "current", over="rms"),
        "rated_voltage": Rating("V", "voltage", "inductor", "voltage"),
    }
    unknowns = {"first": Unknown("A"), "second": Unknown("A")}
    observes = {"current": "A", "common_current": "A", "voltage": "V", "power": "W"}
    faults = (
        Fault("open", 0.42, ("first_start",)),
        Fault("short", 0.42, ("first_start", "first_end")),
        Fault("drift", 0.16, moves=("inductance",)),
    )
    conducts = (("first_start", "first_end"), ("second_start", "second_end"))
    symbol = "common-mode-choke"

    def constants(self, v: Any) -> dict[str, Number]:
        return {
            "bend": BEND / v.saturation_current,
            "own": 0.5 * v.leakage_inductance,
            "mutual": v.inductance - 0.5 * v.leakage_inductance,
        }

    def equations(self, t: Terms) -> None:
        first, second = t.x("first"), t.x("second")
        common = first + second
        core = saturating_flux(t.p.mutual, t.p.bend, common)
        for name, current in (("first", first), ("second", second)):
            start, end = f"{name}_start", f"{name}_end"
            t.through(start, end, current)
            t.zero(name, t.v(start) - t.v(end) - t.p.winding_resistance * current)
            t.flux(name, core + t.p.own * current)
            t.noise_in(name, thermal_noise(t.ambient, t.p.winding_resistance))
        # Windings that nothing else joins still have a potential to each other.
        between = t.v("first_end") - t.v("second_end")
        t.through("first_end", "second_end", INSULATION * between)
        copper = t.p.winding_resistance * (first * first + second * second)
        t.observe("current", first)
        t.observe("common_current", common)
        t.observe("voltage", between)
        t.observe("power", copper + INSULATION * between * between)
