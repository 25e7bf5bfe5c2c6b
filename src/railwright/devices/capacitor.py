"""Capacitor of any dielectric."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from railwright.devices.arithmetic import ROOM, exp, log, maximum, minimum, sqrt
from railwright.devices.device import (
    Device,
    Fault,
    Number,
    Pin,
    Rating,
    Terms,
    Unknown,
    Value,
)
from railwright.devices.noise import thermal_noise

POLAR = ("electrolytic", "polymer", "tantalum")
FAMILY = {
    "electrolytic": "capacitor aluminium electrolytic",
    "polymer": "capacitor polymer",
    "tantalum": "capacitor tantalum",
    "class-1": "capacitor ceramic",
    "class-2": "capacitor ceramic",
    "film": "capacitor film",
}
FAR = 100.0  # K from 25 °C, where the loss of class 2 by its temperature is stated: its upper end


def kept_warm(temperature_loss: Number, ambient: Number) -> Number:
    """Share of the capacitance that the temperature leaves one of class 2; see `Capacitor`."""
    away = (ambient - ROOM) / FAR
    return 1.0 - temperature_loss * (2.0 * away * away / (1.0 + away * away))


def bend(bias_loss: Number, rated_voltage: Number) -> Number:
    """1/Vk² of one of class 2 [1/V²]; see `Capacitor`."""
    lost = exp(log(1.0 - bias_loss) * (-2.0 / 3.0)) - 1.0
    return lost / (rated_voltage * rated_voltage)


def kept_under_bias(bent: Number, stored: Number) -> Number:
    """Share of the capacitance that is left for small changes at a voltage [V]: slope of q."""
    narrowed = sqrt(1.0 + bent * stored * stored)
    return 1.0 / (narrowed * narrowed * narrowed)


def capacitance(t: Terms, stored: Number) -> Number:
    """Slope of a capacitor's charge at a voltage [F], from its own terms."""
    if t.option("dielectric") != "class-2":
        return t.p.capacitance
    within = minimum(maximum(stored, -t.p.reach), t.p.reach)
    left = kept_warm(t.p.temperature_loss, t.ambient) * kept_under_bias(t.p.bend, within)
    return left * t.p.capacitance


class Capacitor(Device):
    """Capacitance with its series resistance, and its leakage as a resistance across it.

    q = C v (definition). One of class 2 loses capacitance under bias, as its ferroelectric
    saturates: q = C v / sqrt(1 + (v/Vk)^2), the shape of a saturating core, with a slope that has
    lost the stated share at the rated voltage (common practice, no source). Beyond that voltage
    nothing is published, and it keeps the slope that it has there: were the charge to end, a cable
    would ring without bound against it. Away from 25 °C, on
    either side, it loses as well: 2 s² / (1 + s²) of the share stated at 125 °C, with s in
    hundreds of kelvins, a shape within the limits that IEC 60384-9 sets its letters, but more than
    they allow far below nil (common practice, no source). Class 1 and film drift in proportion, as
    the capacitance says. The leakage is stated at the rated voltage and taken as proportional to
    the voltage (common practice, no source).
    Only electrolytic, polymer and tantalum capacitors are polar. Faults and their shares:
    aluminium electrolytic capacitors, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "capacitor"
    pins = {"plus": Pin("passive"), "minus": Pin("passive")}
    values = {
        "capacitance": Value("F", "capacitance", least=1e-14),
        "esr": Value("Ω", "series resistance", least=1e-4),
        "leakage": Value("A", "leakage current at the rated voltage", least=0.0),
        "rated_voltage": Value("V", "rated voltage", least=0.1),
        "bias_loss": Value(
            "1",
            "share of the capacitance lost at the rated voltage, of class 2 alone",
            default=0.0,
            least=0.0,
            most=0.95,
            dynamic=True,
        ),
        "temperature_loss": Value(
            "1",
            "share of the capacitance lost 100 K above 25 °C, of class 2 alone",
            default=0.0,
            least=0.0,
            most=0.45,
            dynamic=True,
        ),
        "rated_ripple": Value(
            "A",
            "effective, at 100 kHz and the greatest temperature; nil: none is promised",
            default=0.0,
            least=0.0,
            dynamic=True,
        ),
        "rated_life": Value(
            "s",
            "there, with that ripple; nil: none is promised",
            default=0.0,
            least=0.0,
            dynamic=True,
        ),
        "rated_temperature": Value(
            "°C", "greatest of the air around it", least=300.0, dynamic=True
        ),
    }
    ratings = {"rated_voltage": Rating("V", "voltage", "capacitor", "voltage")}
    unknowns = {"plate": Unknown("V", node=True)}
    observes = {"voltage": "V", "current": "A", "power": "W"}
    options = {"dielectric": tuple(FAMILY)}
    faults = (
        Fault("short", 0.53),
        Fault("open", 0.35),
        Fault("leaky", 0.10),
        Fault("drift", 0.02, moves=("capacitance",)),
    )
    conducts = ()
    polar = (("plus", "minus"),)
    symbol = "capacitor"

    def polar_pairs(self, options: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
        return self.polar if options["dielectric"] in POLAR else ()

    def derating_family(self, rating: str, options: Mapping[str, str]) -> str:
        return FAMILY[options["dielectric"]]

    def constants(self, v: Any) -> dict[str, Number]:
        return {
            "plate_conductance": 1.0 / v.esr,
            "leakage_conductance": v.leakage / v.rated_voltage,
            "bend": bend(v.bias_loss, v.rated_voltage),
            "kept": 1.0 - v.bias_loss,
            "reach": v.rated_voltage,
        }

    def equations(self, t: Terms) -> None:
        stored = t.v("plate") - t.v("minus")
        lost = t.v("plus") - t.v("plate")
        current = lost * t.p.plate_conductance
        leakage = stored * t.p.leakage_conductance
        t.through("plus", "plate", current)
        t.through("plate", "minus", leakage)
        charge = t.p.capacitance * stored
        if t.option("dielectric") == "class-2":
            left = kept_warm(t.p.temperature_loss, t.ambient)
            within = minimum(maximum(stored, -t.p.reach), t.p.reach)
            bent = within / sqrt(1.0 + t.p.bend * within * within)
            charge = left * t.p.capacitance * (bent + t.p.kept * (stored - within))
        t.charge("plate", "minus", charge)
        t.noise("plus", "plate", thermal_noise(t.ambient, t.p.plate_conductance))
        t.observe("voltage", stored + lost)
        t.observe("current", current)
        t.observe("power", lost * current + stored * leakage)
