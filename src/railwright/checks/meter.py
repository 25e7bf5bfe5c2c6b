"""Panel meter: whether it measures what the terminals have, or something beside it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Check, parts_that_observe, within
from railwright.checks.nets import near
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import load_ref, terminals
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

NEAR = 1.0
"""Ω; a meter further than this from every terminal of a rail is about no rail of the need."""


class _Meter(Check):
    """A question about every panel meter that measures something of a rail."""

    pin = ""
    """Where it measures."""
    quantity = ""

    def subjects(self, survey: Survey) -> Sequence[str]:
        meters = parts_that_observe(survey, f"shown_{self.quantity}")
        return [p.ref for p in meters if self.pin in p.pins and self.rail(survey, p.ref)]

    def rail(self, survey: Survey, ref: str) -> str:
        """The rail that a meter is about, that of the nearest terminal; empty where it is none."""
        circuit = survey.fixture.circuit
        there = near(circuit, [circuit.part(ref).pins[self.pin]], NEAR)
        rails = survey.fixture.rails.items()
        found = (
            name
            for net in there
            for name, output in rails
            if net in (terminals(output).plus, terminals(output).minus)
        )
        return next(found, "")

    def own_error(self, survey: Survey, ref: str, measured: np.ndarray) -> np.ndarray:
        """What a meter may be wrong by itself, over lanes."""
        values = survey.fixture.circuit.part(ref).values
        share, zero = (
            max(abs(spread.low), abs(spread.high))
            for spread in (values[f"{self.quantity}_{n}"].spread for n in ("error", "offset"))
        )
        return np.asarray(zero + share * np.abs(measured))


class MeterVoltage(_Meter):
    """Voltage at the meter's input against that at the terminals of its rail.

    Its own shunt in the return, and leads between it and the terminals, come between them.
    """

    id = "output.meter-voltage"
    question = "Does every panel meter measure the voltage that the terminals have?"
    source = "error of the meter, data of its type; where it is joined: common practice, no source"
    analysis = (
        "Margin = the meter's own error (of the zero + share × measured voltage) - |voltage at its "
        "input - voltage at the terminals|. What its place adds must not be more than what it may "
        "be wrong by itself. Reserve = margin / that error."
    )
    example = (
        "A meter of 1 % and 0.1 V, joined ahead of a lead of 50 mΩ that carries 1 A, is off by "
        "`50 mΩ × 1 A = 50 mV` at 12 V; `0.1 V + 1 % × 12 V = 0.22 V` are its own error."
    )
    says = "{subject} measures {value} beside the terminals; its own error is {limit} ({place})."
    unit, pin, quantity = "V", "input", "voltage"

    def answer(self, view: View, subject: str) -> Answer:
        measured = view.at.of(subject, "input_voltage")
        off = measured - view.output(self.rail(view.survey, subject))
        return within(off, self.own_error(view.survey, subject, measured))


class MeterCurrent(_Meter):
    """Current through the meter's shunt against that of the load.

    What returns through the shunt besides, as the current of a divider, of a whole supply or of
    the meter itself, is shown with it; a load that returns past the shunt is not shown.
    """

    id = "output.meter-current"
    question = "Does every panel meter have the current of the load in its shunt, and no other?"
    source = "error of the meter, data of its type; where it is joined: common practice, no source"
    analysis = (
        "Margin = the meter's own error (of the zero + share × measured current) - |current "
        "through its shunt - current of the load|. Reserve = margin / that error."
    )
    example = (
        "With 1 A of load and 60 mA of a supply's own current through its shunt, a meter of 3 % "
        "and 20 mA is off by 60 mA; `20 mA + 3 % × 1.06 A = 51.8 mA` are its own error: falls "
        "short."
    )
    says = "The shunt of {subject} is {value} off the load's current; its own error is {limit} "
    says += "({place})."
    unit, pin, quantity = "A", "shunt", "current"

    def answer(self, view: View, subject: str) -> Answer:
        measured = view.at.of(subject, "current")
        load = view.at.of(load_ref(self.rail(view.survey, subject)), "current")
        return within(measured - load, self.own_error(view.survey, subject, measured))
