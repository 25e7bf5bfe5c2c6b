"""Ideal parts for tests of the small-signal analyses: the elements that textbooks draw."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from circuits import Board, BoardPart
from numpy.typing import NDArray

from railwright.devices.arithmetic import BOLTZMANN
from railwright.devices.device import Device, Number, Pin, Terms, Unknown, Value
from railwright.engine.assembly import LEAK
from railwright.engine.linear import Linear, linearise
from railwright.engine.model import Model, Name
from railwright.engine.quiescent import Quiescent

EQUATIONS = hashlib.sha256(Path(__file__).read_bytes()).hexdigest()
"""Code that was compiled for other equations of these parts must not be found again."""
TWO_PINS = {"one": Pin("passive"), "two": Pin("passive")}
FOUR_PINS = {
    "plus": Pin("plus"),
    "minus": Pin("minus"),
    "output": Pin("output"),
    "ground": Pin("ground"),
}


class IdealCapacitor(Device):
    """q = C v, and nothing else."""

    pins = TWO_PINS
    values = {"capacitance": Value("F", "capacitance")}

    def equations(self, t: Terms) -> None:
        t.charge("one", "two", t.p.capacitance * (t.v("one") - t.v("two")))


class IdealCoil(Device):
    """v = L di/dt, and nothing else."""

    pins = TWO_PINS
    values = {"inductance": Value("H", "inductance")}
    unknowns = {"current": Unknown("A")}

    def equations(self, t: Terms) -> None:
        t.through("one", "two", t.x("current"))
        t.zero("current", t.v("one") - t.v("two"))
        t.flux("current", t.p.inductance * t.x("current"))


class BentCapacitor(Device):
    """q = C v (1 + v / bend): its slope depends on where it rests; also driven by `shift`."""

    pins = TWO_PINS
    values = {"capacitance": Value("F", "capacitance"), "bend": Value("V", "where it doubles")}
    inputs = {"shift": 0.0}

    def equations(self, t: Terms) -> None:
        volts = t.v("one") - t.v("two") + t.p.shift
        t.charge("one", "two", t.p.capacitance * volts * (1.0 + volts / t.p.bend))


class IdealSource(Device):
    """A voltage, whatever the current."""

    pins = TWO_PINS
    inputs = {"voltage": 0.0}
    unknowns = {"current": Unknown("A")}
    observes = {"current": "A"}

    def equations(self, t: Terms) -> None:
        t.through("one", "two", t.x("current"))
        t.zero("current", t.v("one") - t.v("two") - t.p.voltage)
        t.observe("current", t.x("current"))


class SquareLaw(Device):
    """i = k v²: a resistance whose slope depends on where it rests."""

    pins = TWO_PINS
    values = {"curvature": Value("A/V", "k")}
    observes = {"current": "A", "power": "W"}

    def equations(self, t: Terms) -> None:
        volts = t.v("one") - t.v("two")
        t.through("one", "two", t.p.curvature * volts * volts)
        t.observe("current", t.p.curvature * volts * volts)
        t.observe("power", t.p.curvature * volts * volts * volts)


class NoisyResistor(Device):
    """A resistor with its thermal noise 4 k T / R at 300 K (Nyquist 1928), and 1/f if wanted."""

    pins = TWO_PINS
    values = {
        "resistance": Value("Ω", "resistance"),
        "corner": Value("Hz", "where 1/f noise is as large", default=0.0),
    }

    def equations(self, t: Terms) -> None:
        t.through("one", "two", (t.v("one") - t.v("two")) / t.p.resistance)
        t.noise("one", "two", 4.0 * BOLTZMANN * 300.0 / t.p.resistance, t.p.corner)


class Transconductance(Device):
    """Drives a current out of `output` in proportion to the difference of its inputs."""

    pins = FOUR_PINS
    values = {"slope": Value("A/V", "transconductance", signed=True)}

    def equations(self, t: Terms) -> None:
        amount = t.signal("current", t.p.slope * (t.v("plus") - t.v("minus")))
        t.through("ground", "output", amount)


class IdealAmplifier(Device):
    """Amplifies voltages by a gain of one pole; its output takes any current."""

    pins = FOUR_PINS
    values = {"gain": Value("V/V", "gain"), "pole": Value("Hz", "where it falls by 3 dB")}
    unknowns = {"inner": Unknown("V"), "current": Unknown("A")}

    def constants(self, v: Any) -> dict[str, Number]:
        return {"lag": 1.0 / (2.0 * np.pi * v.pole)}

    def equations(self, t: Terms) -> None:
        inner = t.x("inner")
        t.zero("inner", t.p.gain * t.signal("input", t.v("plus") - t.v("minus")) - inner)
        t.flux("inner", t.p.lag * inner)
        t.zero("current", t.v("output") - t.v("ground") - inner)
        t.through("output", "ground", t.x("current"))


class Compensator(Device):
    """Gain with one zero and one pole: G (1 + s/z) / (1 + s/p), from difference to output."""

    pins = FOUR_PINS
    values = {
        "gain": Value("V/V", "gain at nil"),
        "zero": Value("Hz", "zero"),
        "pole": Value("Hz", "pole"),
    }
    unknowns = {"lagged": Unknown("V"), "current": Unknown("A")}

    def constants(self, v: Any) -> dict[str, Number]:
        return {"lag": 1.0 / (2.0 * np.pi * v.pole), "lift": v.pole / v.zero}

    def equations(self, t: Terms) -> None:
        difference = t.v("plus") - t.v("minus")
        t.zero("lagged", difference - t.x("lagged"))
        t.flux("lagged", t.p.lag * t.x("lagged"))
        wanted = t.p.gain * (t.p.lift * difference + (1.0 - t.p.lift) * t.x("lagged"))
        t.zero("current", t.v("output") - t.v("ground") - wanted)
        t.through("output", "ground", t.x("current"))


class SwitchCell(Device):
    """The averaged switch in continuous conduction; its duty is a pin's voltage over a ramp.

    v(common, passive) = d v(active, passive), i(active) = d i(common). Source: Erickson and
    Maksimović, Fundamentals of Power Electronics, chapter on averaged switch models.
    """

    pins = {name: Pin("passive") for name in ("active", "passive", "common", "control", "ground")}
    values = {"ramp": Value("V", "voltage for the whole duty")}
    unknowns = {"current": Unknown("A")}

    def equations(self, t: Terms) -> None:
        duty = t.signal("duty", (t.v("control") - t.v("ground")) / t.p.ramp)
        current = t.x("current")
        whole = t.v("active") - t.v("passive")
        t.zero("current", duty * whole - (t.v("common") - t.v("passive")))
        t.through("active", "common", duty * current)
        t.through("passive", "common", (1.0 - duty) * current)


class IdealBoard(Board):
    """A board that takes ideal parts too."""

    def ideal(self, ref: str, device: Device, pins: str, /, **values: float) -> IdealBoard:
        """A part; pins are nets in the order in which the device lists its pins."""
        nets = dict(zip(device.pins, pins.split(), strict=True))
        self.parts.append(BoardPart(ref, device, nets, {"equations": EQUATIONS}))
        for name, value in values.items():
            self.nominal[ref, name] = value
        return self


def at_rest(board: Board, lanes: Mapping[Name, Any] | None = None, count: int = 1) -> Linear:
    """A linear circuit, linearised at nil, where nothing has to be solved; nets have no leak."""
    topology = board.topology
    x: NDArray[np.float64] = np.zeros((len(topology.unknowns), count))
    model = Model(topology, dict(board.nominal))
    rest = Quiescent(model, {LEAK: 0.0, **(lanes or {})}, x, np.ones(count, bool))
    return linearise(rest)
