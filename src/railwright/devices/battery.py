"""Battery of cells in series, by chemistry."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from railwright.devices.arithmetic import clipped, exp, step
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

SPENT = 0.02  # share of the capacity beyond its end over which the voltage of a cell collapses
CORNER = 1e-3


@dataclass(frozen=True)
class Curve:
    """Rest voltage of a cell [V] at a state of charge s: the cubic in s less b e^(-k s)."""

    cubic: tuple[float, float, float, float]
    b: float
    k: float

    def __call__(self, s: Number) -> Number:
        first, second, third, fourth = self.cubic
        return first + s * (second + s * (third + s * fourth)) - self.b * exp(-self.k * s)


CURVES: Mapping[str, Curve] = {
    # Table of the Battery Council International for 12.65 V when full (6 cells), within 2 mV.
    "lead-acid": Curve((1.9815, 0.1102, 0.0171, 0.0), 0.0, 1.0),
    # Chen and Rincon-Mora, IEEE Transactions on Energy Conversion 21 (2006), p. 504: a polymer
    # cell of 850 mAh; coefficients from memory.
    "lithium-ion": Curve((3.685, 0.2156, -0.1178, 0.3201), 1.031, 35.0),
    # Usual curves of these, from memory.
    "lithium-iron-phosphate": Curve((3.1997, 0.3479, -0.4678, 0.2933), 0.690, 30.0),
    "nickel-metal-hydride": Curve((1.1406, 0.7087, -1.2620, 0.8097), 0.091, 30.0),
    "alkaline": Curve((1.0364, 1.0498, -1.5073, 1.0198), 0.0869, 40.0),
}


class Battery(Device):
    """The rest voltage of its cells behind a resistance and a slow one with its time constant.

    v = n U(s) - R i - u, with tau du/dt = Rs i - u: the battery model of Thévenin's form of
    Chen and Rincon-Mora, Accurate Electrical Battery Model Capable of Predicting Runtime and I-V
    Performance (2006), with one time constant; the rest voltages are in `CURVES`. Empty, its
    voltage collapses; nothing else of overcharge and exhaustion is looked at, and the
    resistances do not rise towards the end.
    Operating points have the state of charge that is given as `charge`, and the slow resistance
    in full. In courses it stays there too, unless `state` is `spent`: then the current moves it,
    and nothing that repeats is to be sought, since no course of a battery that runs down does.
    Noise: thermal, of its resistance (Nyquist). Faults and their shares: lithium batteries,
    MIL-HDBK-338B (from memory).
    """

    kind = "battery"
    pins = {"plus": Pin("power-output"), "minus": Pin("ground")}
    values = {
        "cells": Value("1", "in series", least=1.0),
        "capacity": Value("C", "charge of a full one", least=1.0),
        "resistance": Value("Ω", "at once", least=1e-6),
        "slow_resistance": Value("Ω", "on top of it later", default=0.0, least=0.0),
        "slow_time": Value("s", "time constant of that", default=0.0, least=0.0, dynamic=True),
    }
    inputs = {"charge": 1.0}
    """State of charge, at the start where it is spent; 1 is full."""
    options = {"chemistry": tuple(CURVES), "state": ("held", "spent")}
    ratings = {"rated_current": Rating("A", "current")}
    unknowns = {"spent": Unknown("1"), "lag": Unknown("V")}
    observes = {
        "current": "A",
        "voltage": "V",
        "power": "W",
        "rest_voltage": "V",
        "charge": "1",
    }
    faults = (
        Fault("drift", 0.92, moves=("resistance",)),
        Fault("short", 0.06),
        Fault("open", 0.02),
    )
    conducts = (("plus", "minus"),)
    symbol = "battery"

    def equations(self, t: Terms) -> None:
        spent, lag = t.x("spent"), t.x("lag")
        voltage = t.v("plus") - t.v("minus")
        charge = t.p.charge - spent
        cell = CURVES[t.option("chemistry")](clipped(charge, 0.0, 1.0, CORNER))
        rest = t.p.cells * cell * (1.0 - step(-charge / SPENT))
        current = (rest - lag - voltage) / t.p.resistance
        t.through("minus", "plus", current)
        t.zero("lag", t.p.slow_resistance * current - lag)
        t.flux("lag", t.p.slow_time * lag)
        if t.moving and t.option("state") == "spent":
            t.zero("spent", current)
            t.flux("spent", t.p.capacity * spent)
        else:
            t.zero("spent", -spent)
        t.noise("plus", "minus", thermal_noise(t.ambient, 1.0 / t.p.resistance))
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("power", -voltage * current)
        t.observe("rest_voltage", rest)
        t.observe("charge", charge)
