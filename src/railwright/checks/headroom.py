"""Headroom: what series elements, converters, amplifiers and references have left to work with."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import Check, Worst, at_least, at_most, parts_that_observe
from railwright.quantity import show
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

IN_USE = 0.5
"""An observable that tells how far something is in use counts from here on."""


class _PartCheck(Check):
    """A question about every part that reports certain observables."""

    needs: tuple[str, ...] = ()

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [part.ref for part in parts_that_observe(survey, *self.needs)]


class SeriesHeadroom(_PartCheck):
    """Input minus output, less the dropout at this current and junction temperature."""

    id = "headroom.series"
    question = "Does every series element keep the voltage across it that it needs?"
    source = "dropout voltage against current and temperature, datasheet of the part's type"
    unit = "V"
    needs = ("across", "dropout")

    def answer(self, view: View, subject: str) -> Answer:
        return at_least(view.at.of(subject, "across"), view.at.of(subject, "dropout"))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return max(abs(worst.limit), 1.0)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"{subject} has {show(worst.value, 'V')} across it and needs "
            f"{show(worst.limit, 'V')} ({worst.place})."
        )


class Duty(_PartCheck):
    """The share of a cycle for which the switch must be on, against what the part can do."""

    id = "headroom.duty"
    question = "Can the switching regulator make the duty that is asked of it?"
    source = "maximum duty cycle, datasheet of the part's type"
    unit = "1"
    needs = ("duty", "duty_limit")

    def answer(self, view: View, subject: str) -> Answer:
        return at_most(view.at.of(subject, "duty"), view.at.of(subject, "duty_limit"))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return 1.0

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"{subject} must switch on for {show(worst.value, '1')} of a cycle and can do "
            f"{show(worst.limit, '1')} ({worst.place})."
        )


class ShortestPulse(_PartCheck):
    """Pulses shorter than the part's least on-time are skipped."""

    id = "headroom.shortest-pulse"
    question = "Are the pulses of the switching regulator long enough to be made in every cycle?"
    source = "minimum on-time, datasheet of the part's type"
    unit = "1"
    needs = ("duty", "duty_least", "continuous")

    def answer(self, view: View, subject: str) -> Answer:
        # At light load a pulse now and then is all that is needed: skipping is noted, not judged.
        steady = view.at.of(subject, "continuous") > IN_USE
        least = view.at.of(subject, "duty_least")
        return at_least(view.at.of(subject, "duty"), least, asked=steady & (least > 0))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return max(abs(worst.limit), 0.01)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"{subject} must switch on for {show(worst.value, '1')} of a cycle; its shortest "
            f"pulse is {show(worst.limit, '1')} ({worst.place})."
        )


class CoilCurrentLimit(_PartCheck):
    """The coil's peak in normal use must stay below the cycle's current limit."""

    id = "headroom.switch-current"
    question = "Does the switching regulator stay clear of its own current limit?"
    source = "switch current limit, datasheet of the part's type"
    unit = "A"
    needs = ("coil_peak", "current_limit")

    def answer(self, view: View, subject: str) -> Answer:
        return at_most(view.at.of(subject, "coil_peak"), view.at.of(subject, "current_limit"))

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"The coil at {subject} peaks at {show(worst.value, 'A')}; the part ends the cycle "
            f"at {show(worst.limit, 'A')} ({worst.place})."
        )


class RegulatorCurrentLimit(_PartCheck):
    """A linear regulator's own limit must lie above what it carries."""

    id = "headroom.regulator-current"
    question = "Does every linear regulator stay clear of its own current limit?"
    source = "current limit, datasheet of the part's type"
    unit = "A"
    needs = ("output_current", "current_limit")

    def answer(self, view: View, subject: str) -> Answer:
        return at_most(view.at.of(subject, "output_current"), view.at.of(subject, "current_limit"))

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"{subject} carries {show(worst.value, 'A')} and limits at "
            f"{show(worst.limit, 'A')} ({worst.place})."
        )


class InputRangeTop(_PartCheck):
    """The higher input against the top of the range that the supply leaves."""

    id = "headroom.input-top"
    question = "Do all inputs of amplifiers and comparators stay below the top of their range?"
    source = "input common-mode range, datasheet of the part's type"
    unit = "V"
    needs = ("input_high", "input_range_high")

    def answer(self, view: View, subject: str) -> Answer:
        high = view.at.of(subject, "input_high")
        return at_most(high, view.at.of(subject, "input_range_high"))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return max(abs(worst.limit), 1.0)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"An input of {subject} is at {show(worst.value, 'V')}; its range ends at "
            f"{show(worst.limit, 'V')} with this supply ({worst.place})."
        )


class InputRangeBottom(_PartCheck):
    """The lower input against the bottom of its range."""

    id = "headroom.input-bottom"
    question = "Do all inputs of amplifiers and comparators stay above the bottom of their range?"
    source = "input common-mode range, datasheet of the part's type"
    unit = "V"
    needs = ("input_low", "input_range_low")

    def answer(self, view: View, subject: str) -> Answer:
        low = view.at.of(subject, "input_low")
        return at_least(low, view.at.of(subject, "input_range_low"))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return 1.0

    def wanted(self, survey: Survey) -> float:
        # A range that ends at ground is met at ground: no distance from it is needed.
        return 0.0

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"An input of {subject} is at {show(worst.value, 'V')}; its range begins at "
            f"{show(worst.limit, 'V')} ({worst.place})."
        )


class OutputSwing(_PartCheck):
    """An amplifier that is in control must be inside its output swing."""

    id = "headroom.output-swing"
    question = "Do amplifiers have output swing left where they are in control?"
    source = "output voltage swing, datasheet of the part's type"
    unit = "V"
    needs = ("output", "swing_low", "swing_high")

    def subjects(self, survey: Survey) -> Sequence[str]:
        found = parts_that_observe(survey, *self.needs)
        return [part.ref for part in found if "sense_voltage" not in part.device.observes]

    def answer(self, view: View, subject: str) -> Answer:
        output = view.at.of(subject, "output")
        to_top = view.at.of(subject, "swing_high") - output
        to_bottom = output - view.at.of(subject, "swing_low")
        nearest_top = to_top < to_bottom
        limit = np.where(
            nearest_top, view.at.of(subject, "swing_high"), view.at.of(subject, "swing_low")
        )
        margin = np.minimum(to_top, to_bottom)
        margin = np.where(_asked(view, subject), margin, np.inf)
        return Answer(margin, output, limit)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return 1.0

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"The output of {subject} is at {show(worst.value, 'V')} and cannot go beyond "
            f"{show(worst.limit, 'V')} ({worst.place})."
        )


def _asked(view: View, subject: str) -> NDArray[np.bool_]:
    """Lanes in which an amplifier's output decides something."""
    device = view.survey.fixture.circuit.part(subject).device
    if "control" not in device.observes:
        return np.ones(view.points.count, bool)
    return view.at.of(subject, "control") > IN_USE


class SenseSwing(OutputSwing):
    """A sense amplifier must report the current at which the trip acts: inside its swing there."""

    id = "headroom.sense-swing"
    question = "Is every sense amplifier inside its output swing where the trip acts?"
    situation = "threshold"

    def subjects(self, survey: Survey) -> Sequence[str]:
        if not survey.deciding:
            return []
        found = parts_that_observe(survey, *self.needs, "sense_voltage")
        return [part.ref for part in found]


class SinkCurrent(_PartCheck):
    """What an open collector has to sink, against what it is guaranteed to."""

    id = "headroom.sink-current"
    question = "Can every comparator output sink what is connected to it?"
    source = "output sink current, datasheet of the part's type"
    unit = "A"
    needs = ("sink_current", "sink_limit")
    situation = "pulled down"

    def answer(self, view: View, subject: str) -> Answer:
        return at_most(view.at.of(subject, "sink_current"), view.at.of(subject, "sink_limit"))

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"The output of {subject} sinks {show(worst.value, 'A')} and is guaranteed for "
            f"{show(worst.limit, 'A')} ({worst.place})."
        )


class ReferenceCurrent(_PartCheck):
    """A shunt reference regulates only above its least cathode current."""

    id = "headroom.reference-current"
    question = "Does every shunt reference get the current that it needs?"
    source = "minimum cathode current for regulation, datasheet of the part's type"
    unit = "A"
    needs = ("current", "minimum_current")

    def answer(self, view: View, subject: str) -> Answer:
        current = view.at.of(subject, "current")
        return at_least(current, view.at.of(subject, "minimum_current"))

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"{subject} gets {show(worst.value, 'A')} and needs {show(worst.limit, 'A')} "
            f"({worst.place})."
        )


class SupplyFloor(Check):
    """Working supply voltage of every integrated circuit, over the whole range."""

    id = "headroom.supply"
    question = "Does every integrated circuit get the supply voltage that it needs to work?"
    source = "minimum supply voltage, datasheet of the part's type"
    unit = "V"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [
            p.ref
            for p in parts_that_observe(survey, "supply_voltage")
            if "supply_minimum" in p.values and p.values["supply_minimum"].spread.high > 0
        ]

    def answer(self, view: View, subject: str) -> Answer:
        least = view.survey.fixture.circuit.part(subject).values["supply_minimum"].spread.high
        return at_least(view.at.of(subject, "supply_voltage"), least)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"{subject} is supplied with {show(worst.value, 'V')} and needs "
            f"{show(worst.limit, 'V')} ({worst.place})."
        )
