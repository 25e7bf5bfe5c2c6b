"""Headroom: what series elements, converters, amplifiers and references have left to work with."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

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
from railwright.checks.nets import NEAR, fed_nets, near, pins_of_role, reached
from railwright.checks.windows import first_end
from railwright.engine.solutions import OperatingPoints
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import AS_SET, PULLED_DOWN, THRESHOLD, View, trip_points
from railwright.surveys.survey import Survey
from railwright.surveys.trips import deciding_comparators, sensed_rails

REGULATES = 0.99
"""Of its reference voltage at its pin: from there on a shunt reference regulates what it watches;
a hundredth is more than its dynamic resistance makes of its current."""
AT_GROUND = 1e-3
"""V by which what is joined to a ground may be below it; ranges are stated to tenths of a volt."""
IN_USE = 0.5
"""An observable that tells how far something is in use counts from here on."""


class SeriesHeadroom(ObservedCheck):
    """Input minus output, less the dropout at this current and junction temperature."""

    id = "headroom.series"
    question = "Does every series element keep the voltage across it that it needs?"
    source = "dropout voltage against current and temperature, datasheet of the part's type"
    analysis = (
        "Margin = (input - output) - dropout at this current and junction temperature, both from "
        "the solved circuit; where the element lacks voltage, input - output is what it would be "
        "if the output stood at its setting. Reserve = margin / dropout, or / 1 V where the "
        "dropout is less."
    )
    example = (
        "18 V at the input and 12 V at the output leave `18 V - 12 V = 6 V` across a "
        "three-terminal regulator that needs 2.5 V: margin `6 V - 2.5 V = 3.5 V`, reserve `3.5 V "
        "/ 2.5 V = 140 %`."
    )
    says = "{subject} has {value} to work with and needs {limit} across it ({place})."
    unit, value, limit, must = "V", "unlimited_across", "dropout", "reach"
    least_scale = 1.0


class Duty(ObservedCheck):
    """The share of a cycle for which the switch must be on, against what the part can do."""

    id = "headroom.duty"
    question = "Can the switching regulator make the duty that is asked of it?"
    source = "maximum duty cycle, datasheet of the part's type"
    analysis = (
        "Margin = greatest duty - duty that the loop asks for. The duty balances the coil's "
        "volt-seconds with all drops in: step-down (Vout + Vdiode + I R) / (Vin - Vswitch + "
        "Vdiode) in continuous conduction. Reserve = margin / 1."
    )
    example = (
        "12 V out of 15 V, with 0.4 V of diode and 1.2 V of switch, needs a duty of `(12 V + 0.4 "
        "V) / (15 V - 1.2 V + 0.4 V) = 0.873`; a part that can do 0.98 has `0.98 - 0.873 = 0.107` "
        "left."
    )
    says = "{subject} must switch on for {value} of a cycle and can do {limit} ({place})."
    unit, value, limit = "1", "demanded_duty", "duty_limit"
    least_scale = 1.0


class ShortestPulse(ObservedCheck):
    """Pulses shorter than the part's least on-time are skipped."""

    id = "headroom.shortest-pulse"
    question = "Are the pulses of the switching regulator long enough to be made in every cycle?"
    source = "minimum on-time and blanking, datasheet of the part's type"
    analysis = (
        "Margin = duty - least on-time × frequency, where the coil conducts continuously; at "
        "light load pulses may be skipped, which is not judged. In current mode no pulse is "
        "shorter than the time in which its current is not seen. Reserve = margin / (least "
        "on-time × frequency), or / 0.01 where that is less."
    )
    example = (
        "A least on-time of 200 ns at 500 kHz is a duty of `200 ns × 500 kHz = 0.1`; 3.3 V out of "
        "24 V needs about `3.3 V / 24 V = 0.1375`: margin `0.1375 - 0.1 = 0.0375`."
    )
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
    analysis = (
        "Margin = limit of the cycle's current - peak that the loop asks of the coil, which is "
        "its mean plus half its ripple, (Vin - Vout) D / (2 L f) in a step-down stage. Reserve = "
        "margin / limit."
    )
    example = (
        "12 V to 5 V at 1 A, 68 µH, 150 kHz, duty 0.42: ripple `(12 V - 5 V) × 0.42 / (68 µH × "
        "150 kHz) = 0.288 A`, peak `1 A + 0.288 A / 2 = 1.144 A`; with a limit of 3.6 A `3.6 A - "
        "1.144 A = 2.456 A` are left."
    )
    says = "The coil at {subject} would peak at {value}; cycles end at {limit} ({place})."
    unit, value, limit = "A", "demanded_peak", "current_limit"


class RegulatorCurrentLimit(ObservedCheck):
    """A linear regulator's own limit must lie above what it carries."""

    id = "headroom.regulator-current"
    question = "Does every linear regulator stay clear of its own current limit?"
    source = "current limit, datasheet of the part's type"
    analysis = (
        "Margin = current limit of the part, at its voltage across and its temperature - current "
        "that it would have to carry to hold its output. Reserve = margin / limit."
    )
    example = (
        "A regulator that limits at 1.5 A and is asked for 1.1 A has `1.5 A - 1.1 A = 0.4 A`, a "
        "reserve of `0.4 A / 1.5 A = 26.7 %`."
    )
    says = "{subject} is asked for {value} and limits at {limit} ({place})."
    unit, value, limit = "A", "demanded_current", "current_limit"


class InputRangeTop(ObservedCheck):
    """The higher input against the top of the range that the supply leaves."""

    id = "headroom.input-top"
    question = "Do all inputs of amplifiers and comparators stay below the top of their range?"
    source = "input common-mode range, datasheet of the part's type"
    analysis = (
        "Margin = (supply - distance that the type keeps from it) - higher of both inputs, all "
        "against the part's ground. Reserve = margin / the top of the range, or / 1 V where that "
        "is less."
    )
    example = (
        "A comparator on 5 V whose inputs work up to 1.5 V below the supply ends at `5 V - 1.5 V "
        "= 3.5 V`; an input at 3.8 V is `3.5 V - 3.8 V = -0.3 V` beyond: falls short."
    )
    says = "An input of {subject} is at {value}; its range ends at {limit} there ({place})."
    unit, value, limit = "V", "input_high", "input_range_high"
    least_scale = 1.0


class InputRangeBottom(ObservedCheck):
    """The lower input against the bottom of its range."""

    id = "headroom.input-bottom"
    question = "Do all inputs of amplifiers and comparators stay above the bottom of their range?"
    source = "input common-mode range, datasheet of the part's type"
    analysis = (
        "Margin = lower of both inputs - bottom of the range + 1 mV, against the part's ground: "
        "what is joined to that over a shunt or a lead may be as much below it. Reserve = margin "
        "/ the bottom of the range, or / 1 V where that is less. No reserve is wanted: a range "
        "that ends at ground is met at ground."
    )
    example = (
        "An amplifier whose inputs work from 1.5 V up and see a shunt's 0.1 V is `0.1 V - 1.5 V "
        "+ 1 mV = -1.399 V` off its range: falls short."
    )
    says = "An input of {subject} is at {value}; its range begins at {limit} ({place})."
    unit, value, limit, must = "V", "input_low", "input_range_low", "reach"
    least_scale = 1.0

    def answer(self, view: View, subject: str) -> Answer:
        low, bottom = view.at.of(subject, self.value), view.at.of(subject, self.limit)
        return at_least(low, bottom - AT_GROUND)

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
    analysis = (
        "Margin = the lesser of (highest - wanted) and (wanted - lowest) output, both ends with "
        "the load that they carry; asked of amplifiers that are in control half way through the "
        "range. Reserve = margin / 1 V."
    )
    example = (
        "On 12 V a single-supply amplifier comes within 1.5 V of its supply: it ends at `12 V - "
        "1.5 V = 10.5 V`. Wanted at 9 V, it has `10.5 V - 9 V = 1.5 V` left."
    )
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
    analysis = (
        "Margin as of headroom.output-swing, at the load at which the trip acts: the load is "
        "turned up until each comparator that decides turns over, and the worst of those points "
        "counts."
    )
    example = (
        "A trip at 3 A over 50 mΩ with a gain of 50 wants `3 A × 50 mΩ × 50 = 7.5 V`; on a supply "
        "of 5 V, with a swing to 4.8 V, the amplifier ends `4.8 V - 7.5 V = -2.7 V` short and "
        "nothing trips."
    )
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
    analysis = (
        "Margin = current that the output is guaranteed to sink - current that what is connected "
        "pushes into it while it is low. Every comparator is held low for it, gates stay as they "
        "are. Reserve = margin / guaranteed current."
    )
    example = (
        "A pull-up of 10 kΩ to 12 V puts about `12 V / 10 kΩ = 1.2 mA` into an output that sinks "
        "6 mA: `6 mA - 1.2 mA = 4.8 mA` are left."
    )
    says = "The output of {subject} must sink {value} and is good for {limit} ({place})."
    situation = PULLED_DOWN
    unit, value, limit = "A", "demanded_sink", "sink_limit"


class ReferenceCurrent(ObservedCheck):
    """A shunt reference regulates only above its least cathode current."""

    id = "headroom.reference-current"
    question = "Does every shunt reference get the current that it needs?"
    source = "minimum cathode current for regulation, datasheet of the part's type"
    analysis = (
        "Margin = cathode current - least cathode current that keeps regulation, with what the "
        "load of the reference takes away. Reserve = margin / least current. One that watches "
        "what a source or a regulator holds, past its own cathode, regulates nothing while its pin "
        "is more than 1 % below its reference voltage: there nothing is asked."
    )
    example = (
        "1 kΩ from 5 V to a reference of 2.5 V gives `(5 V - 2.5 V) / 1 kΩ = 2.5 mA`; with 0.4 mA "
        "taken by a divider and 1 mA needed, `2.5 mA - 0.4 mA - 1 mA = 1.1 mA` are left."
    )
    says = "{subject} gets {value} and needs {limit} ({place})."
    unit, value, limit, must = "A", "current", "minimum_current", "reach"

    def asked(self, view: View, subject: str) -> Asked:
        if not _watches(view.survey, subject):
            return True
        pin = view.at.of(subject, "reference_voltage")
        return pin >= REGULATES * view.value(subject, "reference_voltage")


def _watches(survey: Survey, ref: str) -> bool:
    """Whether resistors lead to its pin from what something else holds, none from its cathode."""
    circuit = survey.fixture.circuit
    pins = circuit.part(ref).pins
    held = frozenset(near(circuit, fed_nets(circuit) | set(_rails(survey)), NEAR))
    own = {pins["cathode"], pins["anode"]}
    there = reached(circuit, pins["reference"], False, held | own, ("passive",))
    return pins["cathode"] not in there and bool((there - own) & held)


def _rails(survey: Survey) -> Iterator[str]:
    """Nets at which the rails of regulators begin, behind their coils where they have one."""
    for part, _ in pins_of_role(survey.fixture.circuit, "feedback", "adjust"):
        begins = first_end(survey, part, part.device.windows["output_capacitance"])
        if begins is not None:
            yield begins


class SupplyFloor(Check):
    """Working supply voltage of every integrated circuit, over the whole range."""

    id = "headroom.supply"
    question = "Does every integrated circuit get the supply voltage that it needs to work?"
    source = "minimum supply voltage, datasheet of the part's type"
    analysis = (
        "Margin = voltage between supply and ground pin - least supply of the type. Reserve = "
        "margin / least supply."
    )
    example = (
        "A circuit that needs 4.5 V and hangs on 5 V behind a diode of 0.7 V gets `5 V - 0.7 V = "
        "4.3 V`: margin `4.3 V - 4.5 V = -0.2 V`, falls short."
    )
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
