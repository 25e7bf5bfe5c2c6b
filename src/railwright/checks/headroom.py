"""Headroom: what series elements, converters, amplifiers and references have left to work with."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import (
    Asked,
    Check,
    ObservedCheck,
    Worst,
    at_least,
    at_most,
    least,
    parts_that_observe,
)
from railwright.engine.solutions import OperatingPoints
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import AS_SET, PULLED_DOWN, THRESHOLD, View, trip_points
from railwright.surveys.survey import Survey
from railwright.surveys.trips import deciding_comparators, sensed_rails

IN_USE = 0.5
"""An observable that tells how far something is in use counts from here on."""


class SeriesHeadroom(ObservedCheck):
    """Input minus output, less the dropout at this current and junction temperature."""

    id = "headroom.series"
    question = "Does every series element keep the voltage across it that it needs?"
    source = "dropout voltage against current and temperature, datasheet of the part's type"
    says = "{subject} has {value} to work with and needs {limit} across it ({place})."
    unit, value, limit, must = "V", "unlimited_across", "dropout", "reach"
    least_scale = 1.0


class Duty(ObservedCheck):
    """The share of a cycle for which the switch must be on, against what the part can do."""

    id = "headroom.duty"
    question = "Can the switching regulator make the duty that is asked of it?"
    source = "maximum duty cycle, datasheet of the part's type"
    says = "{subject} must switch on for {value} of a cycle and can do {limit} ({place})."
    unit, value, limit = "1", "demanded_duty", "duty_limit"
    least_scale = 1.0


class ShortestPulse(ObservedCheck):
    """Pulses shorter than the part's least on-time are skipped."""

    id = "headroom.shortest-pulse"
    question = "Are the pulses of the switching regulator long enough to be made in every cycle?"
    source = "minimum on-time, datasheet of the part's type"
    says = (
        "{subject} must switch on for {value} of a cycle; its shortest pulse is {limit} ({place})."
    )
    unit, value, limit, must = "1", "duty", "duty_least", "reach"
    least_scale = 0.01

    def asked(self, view: View, subject: str) -> Asked:
        # At light load a pulse now and then is all that is needed: skipping is noted, not judged.
        steady = view.at.of(subject, "continuous") > IN_USE
        return steady & (view.at.of(subject, "duty_least") > 0)


class CoilCurrentLimit(ObservedCheck):
    """The coil's peak in normal use must stay below the cycle's current limit."""

    id = "headroom.switch-current"
    question = "Does the switching regulator stay clear of its own current limit?"
    source = "switch current limit, datasheet of the part's type"
    says = "The coil at {subject} would peak at {value}; cycles end at {limit} ({place})."
    unit, value, limit = "A", "demanded_peak", "current_limit"


class RegulatorCurrentLimit(ObservedCheck):
    """A linear regulator's own limit must lie above what it carries."""

    id = "headroom.regulator-current"
    question = "Does every linear regulator stay clear of its own current limit?"
    source = "current limit, datasheet of the part's type"
    says = "{subject} is asked for {value} and limits at {limit} ({place})."
    unit, value, limit = "A", "demanded_current", "current_limit"


class InputRangeTop(ObservedCheck):
    """The higher input against the top of the range that the supply leaves."""

    id = "headroom.input-top"
    question = "Do all inputs of amplifiers and comparators stay below the top of their range?"
    source = "input common-mode range, datasheet of the part's type"
    says = "An input of {subject} is at {value}; its range ends at {limit} there ({place})."
    unit, value, limit = "V", "input_high", "input_range_high"
    least_scale = 1.0


class InputRangeBottom(ObservedCheck):
    """The lower input against the bottom of its range."""

    id = "headroom.input-bottom"
    question = "Do all inputs of amplifiers and comparators stay above the bottom of their range?"
    source = "input common-mode range, datasheet of the part's type"
    says = "An input of {subject} is at {value}; its range begins at {limit} ({place})."
    unit, value, limit, must = "V", "input_low", "input_range_low", "reach"
    least_scale = 1.0

    def wanted(self, survey: Survey) -> float:
        # A range that ends at ground is met at ground: no distance from it is needed.
        return 0.0


def half_way(survey: Survey) -> View:
    """Typical parts at the middle of the range, controls set."""
    return AS_SET.view(survey, survey.range.middle(), survey.typical(1), None)


class OutputSwing(Check):
    """An amplifier that is in control must be inside its output swing."""

    id = "headroom.output-swing"
    question = "Do amplifiers have output swing left where they are in control?"
    source = "output voltage swing, datasheet of the part's type"
    says = "The output of {subject} is wanted at {value} and ends at {limit} ({place})."
    unit = "V"
    needs = ("demanded_output", "swing_low", "swing_high", "control")

    def subjects(self, survey: Survey) -> Sequence[str]:
        found = parts_that_observe(survey, *self.needs)
        return [part.ref for part in found if "sense_voltage" not in part.device.observes]

    def asked(self, survey: Survey, subject: str) -> bool:
        """Whether the output decides something: whether it is in control half way (or may be)."""
        return not survey.once(half_way).at.of(subject, "control")[0] <= IN_USE

    def answer(self, view: View, subject: str) -> Answer:
        return _within_swing(view.at, subject, self.asked(view.survey, subject))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return 1.0


def _within_swing(at: OperatingPoints, ref: str, asked: bool = True) -> Answer:
    output, low, high = (at.of(ref, n) for n in ("demanded_output", "swing_low", "swing_high"))
    below, above = at_most(output, high, asked), at_least(output, low, asked)
    nearer = np.where(high - output < output - low, high, low)
    margins = below.margin, above.margin
    return Answer(np.minimum(*margins), output, nearer, margins)


class SenseSwing(OutputSwing):
    """A sense amplifier must report the current at which the trip acts: inside its swing there."""

    id = "headroom.sense-swing"
    question = "Is every sense amplifier inside its output swing where the trip acts?"
    situation = THRESHOLD

    def subjects(self, survey: Survey) -> Sequence[str]:
        found = parts_that_observe(survey, *self.needs, "sense_voltage")
        tripped = set(survey.once(deciding_comparators))
        return [part.ref for part in found if tripped & set(sensed_rails(survey, part.ref))]

    def answer(self, view: View, subject: str) -> Answer:
        rails = sensed_rails(view.survey, subject)
        return least(
            [
                _within_swing(at, subject)
                for rail, thresholds in trip_points(view).items()
                if rail in rails
                for at in thresholds
            ]
        )


class SinkCurrent(ObservedCheck):
    """What an open collector has to sink while it is low, against what it is guaranteed to."""

    id = "headroom.sink-current"
    question = "Can every comparator output sink what is connected to it?"
    source = "output sink current, datasheet of the part's type"
    says = "The output of {subject} must sink {value} and is good for {limit} ({place})."
    situation = PULLED_DOWN
    unit, value, limit = "A", "demanded_sink", "sink_limit"


class ReferenceCurrent(ObservedCheck):
    """A shunt reference regulates only above its least cathode current."""

    id = "headroom.reference-current"
    question = "Does every shunt reference get the current that it needs?"
    source = "minimum cathode current for regulation, datasheet of the part's type"
    says = "{subject} gets {value} and needs {limit} ({place})."
    unit, value, limit, must = "A", "current", "minimum_current", "reach"


class SupplyFloor(Check):
    """Working supply voltage of every integrated circuit, over the whole range."""

    id = "headroom.supply"
    question = "Does every integrated circuit get the supply voltage that it needs to work?"
    source = "minimum supply voltage, datasheet of the part's type"
    says = "{subject} is supplied with {value} and needs {limit} ({place})."
    unit = "V"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [
            part.ref
            for part in parts_that_observe(survey, "supply_voltage")
            if "supply_minimum" in part.values and part.values["supply_minimum"].spread.high > 0
        ]

    def answer(self, view: View, subject: str) -> Answer:
        least = view.survey.fixture.circuit.part(subject).values["supply_minimum"].spread.high
        return at_least(view.at.of(subject, "supply_voltage"), least)
