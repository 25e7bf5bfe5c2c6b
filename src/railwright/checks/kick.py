"""Kick: what takes the current of a coil at an output that is not fed any more."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.life import promised
from railwright.checks.nets import NEAR, near
from railwright.checks.polarity import REVERSE_ALLOWED
from railwright.circuit.circuit import Part
from railwright.quantity import show
from railwright.surveys.fixture import terminals
from railwright.surveys.survey import Survey

FORWARD = 1.0
"""V; across a part that conducts forward (common practice, no source)."""


class Kick(WiringCheck):
    """A fuse, a trip or a contact stops the supply at once; the coil goes on taking its current.

    Leads alone have some 1 µH per metre, whose energy at currents of a bench no capacitor at the
    output notices: only coils that the need tells of are looked at.
    """

    id = "wiring.kick"
    question = "Does something take the current of a coil when the output is not fed any more?"
    source = (
        "need.output.load.inductance; free response of R, L and C; 0.3 V of reverse voltage: "
        "common practice, no source"
    )
    analysis = (
        "Of rails whose load has an inductance. Either a diode leads from the lower to the upper "
        "terminal, whose surge or forward current covers the load's, or the capacitors across the "
        "terminals take it: then the coil, with the resistance that lets the greatest current flow "
        "at the highest voltage, must not swing them more than 0.3 V below nil. Nets count up to 1 "
        "Ω from the terminals; what a contact takes away does not count."
    )
    example = (
        "A coil of 50 mH at 12 V and 1 A has 12 Ω; across 100 µF its damping is `12 Ω / 2 × "
        "sqrt(100 µF / 50 mH) = 0.268`: it swings to -13 V. A diode that carries 1 A, anode at "
        "the lower terminal, holds that at -1 V."
    )
    good = "Every coil at an output has something that takes its current."
    order = 14

    def look(self, survey: Survey) -> WiringAnswer:
        coils = {
            rail: max((load.inductance or 0.0 for load in output.load), default=0.0)
            for rail, output in survey.fixture.rails.items()
        }
        looked = [rail for rail, henries in coils.items() if henries > 0]
        faults = [fault for rail in looked for fault in _kicked(survey, rail, coils[rail])]
        return WiringAnswer(looked, faults)


def _kicked(survey: Survey, rail: str, henries: float) -> Iterator[WiringFault]:
    output = survey.fixture.rails[rail]
    volts, amperes = output.voltage.max, output.current.max
    diodes, capacitors = _across(survey, rail)
    if any(_bears(part) >= amperes for part in diodes) or not amperes:
        return
    farads = sum(part.values["capacitance"].spread.low for part in capacitors)
    lowest = swing(volts, amperes, henries, farads)
    if lowest >= -REVERSE_ALLOWED:
        return
    unrated = next((part for part in diodes if not _bears(part)), None)
    if unrated is not None:
        text = (
            f"what {unrated.ref} bears of the {show(amperes, 'A')} that the coil goes on taking is "
            "not known. State its forward_current, or name a catalogue part with use."
        )
        yield WiringFault(rail, text, [(unrated.ref, "forward_current")], proven=False)
        return
    if diodes:
        weak = diodes[0]
        text = f"{weak.ref} is not made for the {show(amperes, 'A')} that the coil goes on taking"
        causes = [(weak.ref, "forward_current")]
    else:
        text = "No diode leads from the lower to the upper terminal"
        causes = [(part.ref, "capacitance") for part in capacitors]
    swings = f"to {show(lowest, 'V')}" if np.isfinite(lowest) else "until something breaks down"
    yield WiringFault(
        rail,
        f"{text}: when {rail} is not fed any more, {show(henries, 'H')} at {show(amperes, 'A')} "
        f"swing it {swings}; {show(-REVERSE_ALLOWED, 'V')} is the most.",
        causes,
    )


def _across(survey: Survey, rail: str) -> tuple[Sequence[Part], Sequence[Part]]:
    """Parts that conduct from the lower to the upper terminal, and capacitors across both."""
    circuit, nets = survey.fixture.circuit, terminals(survey.fixture.rails[rail])
    upper, lower = (set(near(circuit, [net], NEAR)) for net in (nets.plus, nets.minus))
    diodes = [
        part
        for part in circuit.parts
        if part.pins.get("anode") in lower
        and part.pins.get("cathode") in upper
        and "gate" not in part.device.pins
    ]
    capacitors = [
        part
        for part in circuit.parts
        if part.kind == "capacitor"
        and len(upper & set(part.pins.values())) == len(lower & set(part.pins.values())) == 1
    ]
    return diodes, capacitors


def _bears(part: Part) -> float:
    """The current that a part bears forward [A]; nil where nobody says."""
    forward = max(part.ratings.get("forward_current", 0.0), promised(part, "surge_current"))
    return forward or part.ratings.get("rated_power", 0.0) / FORWARD


def swing(volts: float, amperes: float, henries: float, farads: float) -> float:
    """The lowest voltage of a capacitor that a coil with a resistance goes on discharging [V].

    C dv/dt = -i, L di/dt = v - R i from v and i = v/R; not below nil where it is damped.
    """
    if farads <= 0:
        return -np.inf
    ohms = volts / amperes
    decay, square = 0.5 * ohms / henries, 1.0 / (henries * farads)
    if decay**2 >= square:
        return 0.0
    turns = np.sqrt(square - decay**2)
    angle = np.linspace(0.0, 2.0 * np.pi, 4001)
    slope = decay * volts - amperes / farads
    course = volts * np.cos(angle) + slope / turns * np.sin(angle)
    return min(float(np.min(np.exp(-decay * angle / turns) * course)), 0.0)
