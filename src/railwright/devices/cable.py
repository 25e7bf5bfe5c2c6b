"""Cable: two conductors side by side."""

from __future__ import annotations

from railwright.devices.device import Device, Fault, Pin, Rating, Terms, Unknown, Value
from railwright.devices.noise import thermal_noise
from railwright.devices.transformer import INSULATION


class Cable(Device):
    """Each conductor: v = (R/2) i + (L/2) di/dt, R and L those of the loop, there and back.

    Ohm, Faraday. R from the table of IEC 60228 (`standards.iec60228`), L of two parallel
    conductors (`standards.wire.pair_inductance`). A current that does not come back by the other
    conductor sees the halves, which is too little. The capacitance lies at the end; what travels
    along it as a wave is left out: a lead of a metre is short below some megahertz. An earth
    conductor is not part of it. Noise: thermal (Nyquist).
    Faults and their shares: cable assemblies, MIL-HDBK-338B (from memory).
    """

    kind = "cable"
    pins = {
        "start_plus": Pin("passive"),
        "start_minus": Pin("passive"),
        "end_plus": Pin("passive"),
        "end_minus": Pin("passive"),
    }
    values = {
        "loop_resistance": Value("Ω", "there and back", least=1e-6),
        "loop_inductance": Value("H", "there and back", least=0.0, dynamic=True),
        "capacitance": Value("F", "between the conductors", least=0.0, dynamic=True),
    }
    ratings = {
        "rated_current": Rating("A", "current", "wire", "current"),
        "rated_voltage": Rating("V", "voltage"),
    }
    unknowns = {"plus": Unknown("A"), "minus": Unknown("A")}
    observes = {"current": "A", "voltage": "V", "drop": "V", "power": "W"}
    faults = (
        Fault("short", 0.45, ("end_plus", "end_minus")),
        Fault("drift", 0.36, moves=("loop_resistance",)),
        Fault("open", 0.19, ("end_plus",)),
    )
    conducts = (("start_plus", "end_plus"), ("start_minus", "end_minus"))
    symbol = "cable"

    def equations(self, t: Terms) -> None:
        half = 0.5 * t.p.loop_resistance
        for name in ("plus", "minus"):
            start, end, current = f"start_{name}", f"end_{name}", t.x(name)
            t.through(start, end, current)
            t.zero(name, t.v(start) - t.v(end) - half * current)
            t.flux(name, 0.5 * t.p.loop_inductance * current)
            t.noise_in(name, thermal_noise(t.ambient, half))
        # Conductors that nothing else joins still have a potential to each other.
        between = t.v("end_plus") - t.v("end_minus")
        t.through("end_plus", "end_minus", INSULATION * between)
        t.charge("end_plus", "end_minus", t.p.capacitance * between)
        plus, minus = t.x("plus"), t.x("minus")
        t.observe("current", plus)
        t.observe("voltage", between)
        t.observe("drop", half * (plus - minus))
        copper = half * (plus * plus + minus * minus)
        t.observe("power", copper + INSULATION * between * between)
