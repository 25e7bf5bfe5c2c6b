"""Ideal parts for tests: the elements that textbooks draw, without the doubts of real ones.

They have no kind, so that the register of kinds does not see them.
"""

from __future__ import annotations

import hashlib
import inspect
import math
from typing import Any, Self

from circuits import Board, BoardPart

from railwright.devices.arithmetic import BOLTZMANN, exp, maximum, sin, where
from railwright.devices.device import Device, Number, Pin, Terms, Unknown, Value

TWO_PI = math.tau
TWO_ENDS = {"plus": Pin("passive"), "minus": Pin("passive")}
FOUR_PINS = {
    "plus": Pin("plus"),
    "minus": Pin("minus"),
    "output": Pin("output"),
    "ground": Pin("ground"),
}


class IdealCapacitor(Device):
    """q = C v."""

    pins = TWO_ENDS
    values = {"capacitance": Value("F", "capacitance")}

    def equations(self, t: Terms) -> None:
        t.charge("plus", "minus", t.p.capacitance * (t.v("plus") - t.v("minus")))


class IdealInductor(Device):
    """v = d(L i)/dt."""

    pins = TWO_ENDS
    values = {"inductance": Value("H", "inductance")}
    unknowns = {"current": Unknown("A")}

    def equations(self, t: Terms) -> None:
        t.through("plus", "minus", t.x("current"))
        t.zero("current", t.v("plus") - t.v("minus"))
        t.flux("current", t.p.inductance * t.x("current"))


class CoupledCoils(Device):
    """Two ideal coils that share a flux; v1 = d(L1 i1 + M i2)/dt, v2 = d(M i1 + L2 i2)/dt."""

    pins = TWO_ENDS | {"second_plus": Pin("passive"), "second_minus": Pin("passive")}
    values = {
        "first": Value("H", "inductance of the first coil"),
        "second": Value("H", "inductance of the second coil"),
        "mutual": Value("H", "mutual inductance", signed=True),
    }
    unknowns = {"current": Unknown("A"), "second_current": Unknown("A")}

    def equations(self, t: Terms) -> None:
        one, two = t.x("current"), t.x("second_current")
        t.through("plus", "minus", one)
        t.through("second_plus", "second_minus", two)
        t.zero("current", t.v("plus") - t.v("minus"))
        t.zero("second_current", t.v("second_plus") - t.v("second_minus"))
        t.flux("current", t.p.first * one + t.p.mutual * two)
        t.flux("second_current", t.p.mutual * one + t.p.second * two)


class IdealSource(Device):
    """A voltage whatever the current, which flows into `plus`."""

    pins = TWO_ENDS
    inputs = {"voltage": 0.0}
    unknowns = {"current": Unknown("A")}
    observes = {"current": "A"}

    def equations(self, t: Terms) -> None:
        t.through("plus", "minus", t.x("current"))
        t.zero("current", t.v("plus") - t.v("minus") - t.p.voltage)
        t.observe("current", t.x("current"))


class SineSource(IdealSource):
    """The same with a sine on top: voltage + amplitude sin(2 pi frequency time)."""

    values = {"amplitude": Value("V", "of the sine"), "frequency": Value("Hz", "of the sine")}

    def equations(self, t: Terms) -> None:
        sine = t.p.amplitude * sin(TWO_PI * t.p.frequency * t.time)
        t.through("plus", "minus", t.x("current"))
        t.zero("current", t.v("plus") - t.v("minus") - t.p.voltage - sine)
        t.observe("current", t.x("current"))


class NoisyResistor(Device):
    """A resistor with its thermal noise 4 k T / R at 300 K (Nyquist 1928), and 1/f if wanted."""

    pins = TWO_ENDS
    values = {
        "resistance": Value("Ω", "resistance"),
        "corner": Value("Hz", "where 1/f noise is as large", default=0.0),
    }

    def equations(self, t: Terms) -> None:
        t.through("plus", "minus", (t.v("plus") - t.v("minus")) / t.p.resistance)
        t.noise("plus", "minus", 4.0 * BOLTZMANN * 300.0 / t.p.resistance, t.p.corner)


class SquareLaw(Device):
    """i = k v²: a resistance whose slope depends on where it rests."""

    pins = TWO_ENDS
    values = {"curvature": Value("A/V", "k")}
    observes = {"current": "A", "power": "W"}

    def equations(self, t: Terms) -> None:
        volts = t.v("plus") - t.v("minus")
        t.through("plus", "minus", t.p.curvature * volts * volts)
        t.observe("current", t.p.curvature * volts * volts)
        t.observe("power", t.p.curvature * volts * volts * volts)


class BentCapacitor(Device):
    """q = C v (1 + v / bend): its slope depends on where it rests; also driven by `shift`."""

    pins = TWO_ENDS
    values = {"capacitance": Value("F", "capacitance"), "bend": Value("V", "where it doubles")}
    inputs = {"shift": 0.0}

    def equations(self, t: Terms) -> None:
        volts = t.v("plus") - t.v("minus") + t.p.shift
        t.charge("plus", "minus", t.p.capacitance * volts * (1.0 + volts / t.p.bend))


class ExponentialDiode(Device):
    """i = Is (exp(v / Vt) - 1), stated in volts as it stands."""

    pins = TWO_ENDS
    values = {
        "saturation": Value("A", "saturation current"),
        "slope": Value("V", "voltage per factor e"),
    }

    def equations(self, t: Terms) -> None:
        voltage = t.v("plus") - t.v("minus")
        t.through("plus", "minus", t.p.saturation * (exp(voltage / t.p.slope) - 1.0))


class SlopedRectifier(Device):
    """A rectified sine behind a resistance, of which only the forward current passes."""

    pins = TWO_ENDS
    values = {
        "amplitude": Value("V", "of the sine"),
        "frequency": Value("Hz", "of the sine"),
        "resistance": Value("Ω", "of source and diodes"),
    }
    observes = {"current": "A"}

    def equations(self, t: Terms) -> None:
        offered = abs(t.p.amplitude * sin(TWO_PI * t.p.frequency * t.time))
        voltage = t.v("plus") - t.v("minus")
        current = maximum((offered - voltage) / t.p.resistance, 0.0)
        t.through("minus", "plus", current)
        t.observe("current", current)


class IdealRectifier(Device):
    """A rectified sine without resistance, cut off while its current would flow back."""

    pins = TWO_ENDS
    values = {
        "amplitude": Value("V", "of the sine"),
        "frequency": Value("Hz", "of the sine"),
    }
    holds = {"on": 0.0}
    unknowns = {"current": Unknown("A")}

    def equations(self, t: Terms) -> None:
        offered = abs(t.p.amplitude * sin(TWO_PI * t.p.frequency * t.time))
        missing = offered - t.v("plus") + t.v("minus")
        current = t.x("current")
        t.zero("current", t.p.on * missing + (1.0 - t.p.on) * current)
        t.through("minus", "plus", current)
        # Just cut off, nothing is missing yet: a margin keeps both events from taking turns.
        t.event(where(0.5 - t.p.on, missing - 1e-7 * t.p.amplitude, -1.0), on=1.0)
        t.event(where(t.p.on - 0.5, -current - 1e-9, -1.0), on=0.0)


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
        return {"lag": 1.0 / (TWO_PI * v.pole)}

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
        return {"lag": 1.0 / (TWO_PI * v.pole), "lift": v.pole / v.zero}

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
    """A board that takes parts which are no kind."""

    def put(self, ref: str, device: Device, nets: str, /, **values: float) -> Self:
        """A part: its nets in the order of the device's pins, its values and inputs in SI units."""
        unknown = [n for n in values if n not in device.values and n not in device.inputs]
        if unknown:
            raise ValueError(f"{ref}: a {type(device).__name__} has no {', '.join(unknown)}")
        pins = dict(zip(device.pins, nets.split(), strict=True))
        self.parts.append(BoardPart(ref, device, pins, {"text": _text_of(device)}))
        for name, value in values.items():
            self.nominal[ref, name] = value
        return self


def _text_of(device: Device) -> str:
    """An option that keeps code away which was compiled for older equations of a part."""
    own = [kind for kind in type(device).__mro__ if issubclass(kind, Device) and kind is not Device]
    return hashlib.sha256("".join(map(inspect.getsource, own)).encode()).hexdigest()[:16]
