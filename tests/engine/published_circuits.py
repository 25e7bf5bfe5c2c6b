"""Circuits of the Test Set for IVP Solvers, whose end values are published to many digits.

Equations and data: Mazzia, Magherini, Iavernaro, Test Set for Initial Value Problem Solvers
(problems transamp, ringmod, nand, pump), Universities of Bari, after work at the CWI.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from circuits import GROUND
from engine.by_sundials import MOST_CALLS, by_sundials
from engine.by_sundials import Course as CourseBySundials
from engine.charge_form import ChargeForm
from engine.ideal_parts import TWO_PI, IdealBoard, IdealCapacitor, IdealSource
from numpy.typing import NDArray

from railwright.devices.arithmetic import exp, maximum, minimum, sin, sqrt, where
from railwright.devices.device import Device, Number, Pin, Terms, Unknown, Value
from railwright.engine.model import Model, Name
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Course, Tolerance, transient

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Problem:
    """A circuit, where it starts, and which of its quantities have published values at the end."""

    model: Model
    end: float
    quantities: Mapping[int, Name]
    """Unknowns and observables by the number under which they are published."""
    starts: Mapping[Name, float]
    stimuli: Mapping[Name, PiecewiseLinear] = field(default_factory=dict)
    unjudged: tuple[Name, ...] = ()
    """Currents of ideal sources, which jump with the slope of their voltage (index 2)."""

    @property
    def lanes(self) -> dict[Name, float]:
        """The published circuits have no leak to ground."""
        return {("", "leak"): 0.0}

    @property
    def start(self) -> Array:
        """Unknowns (row,) at the start."""
        return np.array([self.starts.get(n, 0.0) for n in self.model.topology.index])

    def course(self, relative: float, longest: float | None = None) -> Course:
        """Our course, at a relative error allowed per step and a hundredth of it absolute."""
        isothermal = replace(self.model.topology, isothermal=True)
        return transient(
            replace(self.model, topology=isothermal),
            self.lanes,
            1,
            np.array([0.0, self.end]),
            self.start[:, None],
            self.stimuli,
            Tolerance(relative, 1e-2 * relative),
            longest=longest,
        )

    @cached_property
    def form(self) -> ChargeForm:
        """Its equations as SUNDIALS gets them."""
        return ChargeForm(self.model.topology, tuple(self.stimuli))

    def by_sundials(self, relative: float, most_calls: int = MOST_CALLS) -> CourseBySundials:
        """The course by SUNDIALS at the same errors, with no limit on what is not judged."""
        index = self.model.topology.index
        absolute = [1e6 if name in self.unjudged else 1e-2 * relative for name in index]
        return by_sundials(
            self.model,
            self.lanes,
            [0.0, self.end],
            self.start,
            self.stimuli,
            relative,
            np.array(absolute),
            self.form,
            most_calls,
        )

    def quantity(self, course: Any, number: int) -> Array:
        """A published quantity over time (..., time), from a course of any integrator."""
        owner, name = self.quantities[number]
        if not name:
            found = course.potential(owner)
        elif (owner, name) in self.model.topology.index:
            found = course.unknown(owner, name)
        else:
            found = course.of(owner, name)
        return np.asarray(found)


# Transistor amplifier (transamp)


class SineBehindResistor(Device):
    """A sine voltage behind a resistance, seen from one pin."""

    pins = {"plus": Pin("passive")}
    values = {
        "amplitude": Value("V", "of the sine"),
        "frequency": Value("Hz", "of the sine"),
        "resistance": Value("Ω", "in series"),
    }

    def equations(self, t: Terms) -> None:
        voltage = t.p.amplitude * sin(TWO_PI * t.p.frequency * t.time)
        t.flow("plus", (t.v("plus") - voltage) / t.p.resistance)


class ForwardTransistor(Device):
    """An exponential diode from base to emitter; the share `alpha` of it is the collector's."""

    pins = {"base": Pin("base"), "collector": Pin("collector"), "emitter": Pin("emitter")}
    values = {
        "saturation": Value("A", "saturation current"),
        "slope": Value("V", "voltage per factor e"),
        "alpha": Value("1", "collector over emitter current"),
    }

    def equations(self, t: Terms) -> None:
        across = t.v("base") - t.v("emitter")
        current = t.p.saturation * (exp(across / t.p.slope) - 1.0)
        t.through("base", "emitter", (1.0 - t.p.alpha) * current)
        t.through("collector", "emitter", t.p.alpha * current)


def transistor_amplifier() -> Problem:
    """Two stages, fed by 6 V, driven by a sine of 0.1 V and 100 Hz."""
    board, whole = IdealBoard(), 9000.0
    transistor = {"saturation": 1e-6, "slope": 0.026, "alpha": 0.99}
    board.put("UE", SineBehindResistor(), "1", amplitude=0.1, frequency=100.0, resistance=1e3)
    board.put("UB", IdealSource(), "B 0", voltage=6.0)
    resistors = (("2", GROUND), ("2", "B"), ("3", GROUND), ("4", "B"), ("5", GROUND), ("5", "B"))
    for i, (one, two) in enumerate((*resistors, ("6", GROUND), ("7", "B"), ("8", GROUND))):
        board.resistor(f"R{i + 1}", one, two, whole)
    capacitors = (("1", "2"), ("3", GROUND), ("4", "5"), ("6", GROUND), ("7", "8"))
    for i, (one, two) in enumerate(capacitors):
        board.put(f"C{i + 1}", IdealCapacitor(), f"{one} {two}", capacitance=(i + 1) * 1e-6)
    for i, (base, emitter, collector) in enumerate((("2", "3", "4"), ("5", "6", "7"))):
        nets = f"{base} {collector} {emitter}"
        board.put(f"Q{i + 1}", ForwardTransistor(), nets, **transistor)
    starts = dict(zip("12345678B", (0.0, 3.0, 3.0, 6.0, 3.0, 3.0, 6.0, 0.0, 6.0), strict=True))
    nets = {int(net): (net, "") for net in "12345678"}
    return Problem(board.model, 0.2, nets, {(net, ""): v for net, v in starts.items()})


# Ring modulator (ringmod)


class RingModulator(Device):
    """Four diodes in a ring between two transformers; Horneber's circuit with the small Cs."""

    pins = {"ground": Pin("ground")}
    values = {"small": Value("F", "capacitance across each diode", default=2e-12)}
    unknowns = {f"y{i}": Unknown("V" if i < 8 else "A") for i in range(1, 16)}

    def equations(self, t: Terms) -> None:
        y: list[Number] = [0.0, *(t.x(f"y{i}") for i in range(1, 16))]
        first = 0.5 * sin(1e3 * TWO_PI * t.time)
        second = 2.0 * sin(1e4 * TWO_PI * t.time)
        across = (
            y[3] - y[5] - y[7] - second,
            -y[4] + y[6] - y[7] - second,
            y[4] + y[5] + y[7] + second,
            -y[3] - y[6] + y[7] + second,
        )
        q1, q2, q3, q4 = (4.067286402e-8 * (exp(17.7493332 * u) - 1.0) for u in across)
        large, load, wound = 1.6e-8, 25e3, 4.45
        rows = (
            (large, y[8] - 0.5 * y[10] + 0.5 * y[11] + y[14] - y[1] / load),
            (large, y[9] - 0.5 * y[12] + 0.5 * y[13] + y[15] - y[2] / load),
            (t.p.small, y[10] - q1 + q4),
            (t.p.small, -y[11] + q2 - q3),
            (t.p.small, y[12] + q1 - q3),
            (t.p.small, -y[13] - q2 + q4),
            (1e-8, -y[7] / 50.0 + q1 + q2 - q3 - q4),
            (wound, -y[1]),
            (wound, -y[2]),
            (5e-4, 0.5 * y[1] - y[3] - 17.3 * y[10]),
            (5e-4, -0.5 * y[1] + y[4] - 17.3 * y[11]),
            (5e-4, 0.5 * y[2] - y[5] - 17.3 * y[12]),
            (5e-4, -0.5 * y[2] + y[6] - 17.3 * y[13]),
            (2e-3, -y[1] + first - (50.0 + 36.3) * y[14]),
            (2e-3, -y[2] - (600.0 + 36.3) * y[15]),
        )
        for i, (inertia, rate) in enumerate(rows):
            t.zero(f"y{i + 1}", rate)
            t.flux(f"y{i + 1}", inertia * y[i + 1])


def ring_modulator() -> Problem:
    """A signal of 1 kHz mixed with one of 10 kHz; all at rest at the start."""
    board = IdealBoard().put("M", RingModulator(), GROUND)
    return Problem(board.model, 1e-3, {i: ("M", f"y{i}") for i in range(1, 16)}, {})


# NAND gate (nand)


class ShichmanHodges(Device):
    """Field-effect transistor of Shichman and Hodges with its resistances and capacitances.

    `reverse_gain` is the gain with drain and source exchanged: the published program has another
    one there, and its end values hold for that program.
    """

    pins = {
        "drain": Pin("passive"),
        "gate": Pin("gate"),
        "source": Pin("passive"),
        "bulk": Pin("passive"),
    }
    values = {
        "threshold": Value("V", "at no bulk voltage", signed=True),
        "body": Value("V", "body effect, per root of a volt"),
        "surface": Value("V", "surface potential"),
        "gain": Value("A", "per square volt"),
        "reverse_gain": Value("A", "per square volt, upside down"),
    }
    unknowns = {
        name: Unknown("V", node=True)
        for name in ("inner_source", "inner_drain", "bulk_source", "bulk_drain")
    }

    def equations(self, t: Terms) -> None:
        for end, bulk in (("source", "bulk_source"), ("drain", "bulk_drain")):
            inner, across = f"inner_{end}", t.v(bulk) - t.v(end)
            t.through(inner, end, (t.v(inner) - t.v(end)) / 4.0)
            t.through(bulk, "bulk", (t.v(bulk) - t.v("bulk")) / 10.0)
            t.charge("gate", inner, 6e-5 * (t.v("gate") - t.v(inner)))
            leak = 1e-14 * (exp(minimum(across, 0.0) / 25.85) - 1.0)
            t.through(bulk, end, leak)
            t.charge(bulk, end, _junction_charge(across))
        across = t.v("inner_drain") - t.v("inner_source")
        ahead = self._channel(t, "source", across, t.p.gain)
        back = self._channel(t, "drain", -across, t.p.reverse_gain)
        t.through("inner_drain", "inner_source", where(across, ahead, -back))

    def _channel(self, t: Terms, end: str, across: Number, gain: Number) -> Number:
        """Current where `end` is the lower side."""
        bulk = t.v(f"bulk_{end}") - t.v(end)
        bent = sqrt(maximum(t.p.surface - bulk, 1e-9)) - sqrt(t.p.surface)
        over = maximum(t.v("gate") - t.v(f"inner_{end}") - t.p.threshold - t.p.body * bent, 0.0)
        reach = minimum(across, over)
        return gain * reach * (2.0 * over - reach) * (1.0 + 0.02 * across)


def _junction_charge(across: Number) -> Number:
    """Integral of C / sqrt(1 - v/0.87) below nil and C (1 + v/1.74) above."""
    built, capacitance = 0.87, 2.4e-5
    below = 2.0 * built * (1.0 - sqrt(1.0 - minimum(across, 0.0) / built))
    above = maximum(across, 0.0)
    return capacitance * (below + above * (1.0 + above / (4.0 * built)))


def _pulses(delay: float, rise: float, high: float, fall: float, count: int) -> PiecewiseLinear:
    """Pulses of 5 V; times in the unit of the published problem."""
    period = delay + rise + high + fall
    corners = np.cumsum([0.0, delay, rise, high])
    times = (period * np.arange(count)[:, None] + corners).reshape(-1)
    return PiecewiseLinear(
        np.append(times, period * count), np.append(np.tile([0.0, 0.0, 5.0, 5.0], count), 0.0)
    )


def nand_gate() -> Problem:
    """Two enhancement transistors in series under a depletion one; two trains of pulses."""
    depletion = {"threshold": -2.43, "body": 0.2, "surface": 1.28}
    depletion |= {"gain": 5.35e-4, "reverse_gain": 5.35e-4}
    enhancement = {"threshold": 0.2, "body": 0.035, "surface": 1.01}
    enhancement |= {"gain": 1.748e-3, "reverse_gain": 1.748e-4}
    board = IdealBoard()
    for ref, net, volts in (("VDD", "DD", 5.0), ("VBB", "BB", -2.5), ("V1", "A", 0.0)):
        board.put(ref, IdealSource(), f"{net} 0", voltage=volts)
    board.put("V2", IdealSource(), "B 0", voltage=0.0)
    stack = (("M1", "DD", "5", "5"), ("M2", "5", "A", "10"), ("M3", "10", "B", GROUND))
    for ref, drain, gate, source in stack:
        values = depletion if ref == "M1" else enhancement
        board.put(ref, ShichmanHodges(), f"{drain} {gate} {source} BB", **values)
    for net in ("5", "10"):
        board.put(f"C{net}", IdealCapacitor(), f"{net} 0", capacitance=5e-5)
    inner = [
        [(ref, n) for n in ("inner_source", "inner_drain", "bulk_source", "bulk_drain")]
        for ref in ("M1", "M2", "M3")
    ]
    unknowns = (*inner[0], ("5", ""), *inner[1], ("10", ""), *inner[2])
    published = (5.0, 5.0, -2.5, -2.5, 5.0, 3.62385, 5.0, -2.5, -2.5, 3.62385, 0.0, 3.62385)
    starts = dict(zip(unknowns, (*published, -2.5, -2.5), strict=True))
    return Problem(
        board.model,
        80.0,
        dict(enumerate(unknowns, start=1)),
        starts | {("DD", ""): 5.0, ("BB", ""): -2.5},
        {
            ("V1", "voltage"): _pulses(5.0, 5.0, 5.0, 5.0, 4),
            ("V2", "voltage"): _pulses(15.0, 5.0, 15.0, 5.0, 2),
        },
        tuple((ref, "current") for ref in ("VDD", "VBB", "V1", "V2")),
    )


# Charge pump (pump)


class ChargeTransistor(Device):
    """Charges of a field-effect transistor in accumulation, depletion and inversion.

    Günther, Denk, Feldmann, How models for MOS transistors reflect charge distribution effects,
    Technische Hochschule Darmstadt, preprint 1745, 1995.
    """

    pins = {
        "gate": Pin("gate"),
        "source": Pin("passive"),
        "drain": Pin("passive"),
        "bulk": Pin("passive"),
    }
    values = {
        "threshold": Value("V", "at no bulk voltage", default=0.2),
        "body": Value("V", "body effect, per root of a volt", default=0.035),
        "surface": Value("V", "surface potential", default=1.01),
        "oxide": Value("F", "capacitance of the gate", default=4e-12),
    }
    observes = {"gate_charge": "C"}

    def equations(self, t: Terms) -> None:
        body, oxide = t.p.body, t.p.oxide
        gate = t.v("gate") - t.v("bulk")
        first, second = t.v("gate") - t.v("source"), t.v("gate") - t.v("drain")
        upper, lower = maximum(first, second), minimum(first, second)
        flat = t.p.threshold - body * sqrt(t.p.surface) - t.p.surface
        bent = sqrt(maximum(t.p.surface - upper + gate, 1e-12))
        turned = t.p.threshold + body * (bent - sqrt(t.p.surface))
        one, two = maximum(upper - turned, 0.0), maximum(lower - turned, 0.0)
        channel = one + two - one * two / maximum(one + two, 1e-30)

        beyond = gate - flat
        half = 0.5 * body
        depleted = body * (sqrt(half * half + maximum(beyond, 0.0)) - half)
        inverted = 2.0 / 3.0 * channel + body * bent
        on = where(upper - turned, inverted, depleted)
        charge = oxide * where(beyond, on, beyond)
        t.observe("gate_charge", charge)
        t.charge("gate", "bulk", charge)
        shared = -oxide / 3.0 * where(beyond, channel, 0.0)
        t.charge("source", "bulk", shared)
        t.charge("drain", "bulk", shared)


def charge_pump() -> Problem:
    """A gate driven by pulses of 20 V, capacitors at source and drain; 10 periods of 120 ns.

    Published are the gate's charge and the source's current, which has index 2.
    """
    board = IdealBoard().put("VIN", IdealSource(), "G 0")
    board.put("M", ChargeTransistor(), "G S D 0")
    board.put("CS", IdealCapacitor(), "S 0", capacitance=1.6e-12)
    board.put("CD", IdealCapacitor(), "D 0", capacitance=0.4e-12)
    times = 120e-9 * np.arange(10)[:, None] + np.array([0.0, 50e-9, 60e-9, 110e-9])
    pulses = PiecewiseLinear(
        np.append(times.reshape(-1), 1200e-9), np.append(np.tile([0.0, 0.0, 20.0, 20.0], 10), 0.0)
    )
    return Problem(
        board.model,
        1200e-9,
        {1: ("M", "gate_charge"), 9: ("VIN", "current")},
        {},
        {("VIN", "voltage"): pulses},
        (("VIN", "current"),),
    )


PROBLEMS: Mapping[str, Callable[[], Problem]] = {
    "transistor amplifier": transistor_amplifier,
    "ring modulator": ring_modulator,
    "NAND gate": nand_gate,
    "charge pump": charge_pump,
}
"""Each by the family of its published numbers."""
