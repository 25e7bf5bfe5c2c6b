"""Ideal parts for tests: textbook elements without the doubts of real ones.

They have no kind, so that the register of kinds does not see them. Compiled code is kept by
topology; an option that changes with a part's text keeps code of older equations away.
"""

from __future__ import annotations

import hashlib
import inspect
from collections.abc import Mapping
from typing import Self

from circuits import GROUND, Board, BoardPart

from railwright.devices.arithmetic import exp, maximum, sin, where
from railwright.devices.device import Device, Pin, Terms, Unknown, Value

TWO_PI = 6.283185307179586
TWO_ENDS = {"plus": Pin("passive"), "minus": Pin("passive")}


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

    pins = {"plus": Pin("passive"), "minus": Pin("passive")} | {
        "second_plus": Pin("passive"),
        "second_minus": Pin("passive"),
    }
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
    """A voltage that nothing bends: offset + input + a sine; its current flows into `plus`."""

    pins = TWO_ENDS
    values = {
        "amplitude": Value("V", "of the sine", default=0.0),
        "frequency": Value("Hz", "of the sine", default=0.0),
    }
    inputs = {"voltage": 0.0}
    unknowns = {"current": Unknown("A")}

    def equations(self, t: Terms) -> None:
        wanted = t.p.voltage + t.p.amplitude * sin(TWO_PI * t.p.frequency * t.time)
        t.through("plus", "minus", t.x("current"))
        t.zero("current", t.v("plus") - t.v("minus") - wanted)


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


class IdealBoard(Board):
    """A board that takes parts which are no kind."""

    def put(self, ref: str, device: Device, pins: Mapping[str, str], **values: float) -> Self:
        """A part by its device, with all its values and the inputs that matter."""
        self.parts.append(BoardPart(ref, device, dict(pins), {"text": _text_of(device)}))
        for name, value in values.items():
            self.nominal[ref, name] = value
        return self

    def between(self, ref: str, device: Device, plus: str, minus: str = GROUND, **v: float) -> Self:
        """A part with two ends."""
        return self.put(ref, device, {"plus": plus, "minus": minus}, **v)


def _text_of(device: Device) -> str:
    return hashlib.sha256(inspect.getsource(type(device)).encode()).hexdigest()[:16]
