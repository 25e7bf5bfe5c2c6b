"""Output: what the terminals give, against what the need says."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import (
    Check,
    WiringAnswer,
    WiringCheck,
    WiringFault,
    Worst,
    at_least,
    at_most,
    least,
    parts_that_observe,
    within,
)
from railwright.circuit.circuit import Part
from railwright.circuit.need import Output
from railwright.quantity import show
from railwright.surveys.extremes import Answer
from railwright.surveys.operating_range import goes_to_nothing
from railwright.surveys.situations import END_STOPS, HELD, NUDGE, NUDGED, Array, View
from railwright.surveys.survey import Survey

TERMINALS = "measured at the output terminals named in the need"


def controls_of(survey: Survey, rail: str, role: str) -> list[str]:
    """Refs of the parts that set or trim a rail's voltage."""
    return [
        c.part
        for c in survey.fixture.design.controls
        if c.rail == rail and c.quantity == "voltage" and c.role == role
    ]


class _RailCheck(Check):
    """A question about each rail of which the need says something."""

    unit = "V"

    def asked_of(self, survey: Survey, output: Output) -> bool:
        return True

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [n for n, output in survey.fixture.rails.items() if self.asked_of(survey, output)]


class _SetCheck(_RailCheck):
    """A question about each rail that a control sets."""

    def asked_of(self, survey: Survey, output: Output) -> bool:
        return bool(controls_of(survey, output.name, "set"))


class _EndStop(_SetCheck):
    """A question about such a rail with its controls at their stops."""

    situation = END_STOPS

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        voltage = survey.fixture.rails[subject].voltage
        return voltage.max - voltage.min


class HighestSetting(_EndStop):
    """Vmax at the control's upper stop, with every part at its worst."""

    id = "output.range-top"
    question = "Does the control reach the highest output that is wanted?"
    source = f"need.output.voltage.max, {TERMINALS}"
    analysis = (
        "Margin = output with every control at its upper stop - need's highest voltage, with end "
        "resistances, tolerances and leads in. Reserve = margin / (highest - lowest setting)."
    )
    example = (
        "A 317 type with 240 Ω and a 2 kΩ knob in series with 68 Ω reaches about `1.25 V × (1 + "
        "(2 kΩ + 68 Ω) / 240 Ω) = 12.02 V`; where 12 V are wanted that is a margin of `12.02 V - "
        "12 V = 0.02 V`, of which the knob's 20 % leave nothing: falls short."
    )
    says = (
        "With the control at its upper stop the terminals give {value}; {limit} is wanted "
        "({place})."
    )

    def answer(self, view: View, subject: str) -> Answer:
        wanted = view.survey.fixture.rails[subject].voltage.max
        return at_least(view.output(subject), wanted)


REVERSED = 0.2
"""V below 0 V that harm no load: no junction conducts yet (common practice, no source)."""


class LowestSetting(_EndStop):
    """Vmin at the control's lower stop, with every part at its worst."""

    id = "output.range-bottom"
    question = "Does the control reach the lowest output that is wanted?"
    source = f"need.output.voltage.min, {TERMINALS}"
    analysis = (
        "Margin = need's lowest voltage - output with every control at its lower stop. Where the "
        "need goes down to 0 V, what the accuracy allows at a tenth of the highest setting counts "
        "as 0 V, and the output may be reversed by 0.2 V at most, which no junction of a load "
        "notices. Reserve = margin / (highest - lowest setting), or margin / what counts as 0 V."
    )
    example = (
        "A 317 type cannot come below its reference, 1.25 V: where 1.2 V are wanted the margin is "
        "`1.2 V - 1.25 V = -0.05 V`."
    )
    says = (
        "With the control at its lower stop the terminals still give {value}; {limit} is "
        "wanted ({place})."
    )

    def answer(self, view: View, subject: str) -> Answer:
        rail, low = view.survey.fixture.rails[subject], view.output(subject, "low")
        if not goes_to_nothing(rail):
            return at_most(low, rail.voltage.min)
        nothing = float(allowed_off(view.survey, subject, 0.0))
        above = at_most(low, max(rail.voltage.min, nothing))
        return least([above, at_least(low, -REVERSED)])

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        if goes_to_nothing(survey.fixture.rails[subject]):
            return float(allowed_off(survey, subject, 0.0))
        return super().scale(survey, subject, worst)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        if worst.limit < 0:
            return (
                "With the control at its lower stop the terminals are reversed, at "
                f"{show(worst.value, 'V')}; a load stands {show(worst.limit, 'V')} ({worst.place})."
            )
        return super().because(survey, subject, worst)


class Reached(_SetCheck):
    """The control is solved for the wanted output; what is missing is what it cannot give."""

    id = "output.reached"
    question = "Does the output come up to every setting, at every load and input?"
    source = f"need.output.voltage, {TERMINALS}"
    analysis = (
        "The controls are solved for the wanted output; margin = accuracy × setting - |output - "
        "setting|, what remains where no position of the control gives it. The accuracy is the "
        "need's, 5 % where it says nothing; where the need goes down to 0 V, below a tenth of the "
        "highest setting that of the tenth. Reserve = margin / (accuracy × setting)."
    )
    example = (
        "Set to 12 V from a low line of 13 V, a regulator that needs 2.5 V gives `13 V - 2.5 V = "
        "10.5 V`: it is `12 V - 10.5 V = 1.5 V` off where `5 % × 12 V = 0.6 V` is allowed."
    )

    def answer(self, view: View, subject: str) -> Answer:
        setting = view.points.settings[subject]
        return within(view.output(subject) - setting, allowed_off(view.survey, subject, setting))

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        if worst.margin < 0:
            return f"The output stays {show(worst.value, 'V')} off its setting ({worst.place})."
        return "At every point the control brings the output to its setting."


DEFAULT_ACCURACY = 0.05
"""Where the need says nothing: a setting missed by more would be called wrong by anybody."""


def tolerance_of(survey: Survey, rail: str) -> float:
    """Share of its setting by which a rail may be off."""
    return survey.fixture.rails[rail].accuracy or DEFAULT_ACCURACY


LEAST_SHARE = 0.1
"""Of its highest setting is the least of which the accuracy of a rail that goes down to 0 V is a
share: further down it may be off as much as there, or else nothing would be accurate at 0 V
(common practice, no source)."""


def allowed_off(survey: Survey, rail: str, setting: Array | float) -> Array:
    """By how much a rail may be off a setting [V]."""
    output = survey.fixture.rails[rail]
    least = LEAST_SHARE * output.voltage.max if goes_to_nothing(output) else 0.0
    return np.asarray(tolerance_of(survey, rail) * np.maximum(setting, least))


class Resolution(_RailCheck):
    """dV per degree of the knob; a hand sets a knob to about one degree (common practice)."""

    id = "output.resolution"
    question = "Can a hand set the output finely enough?"
    source = "one degree of rotation is about what a hand can set (common practice, no source)"
    analysis = (
        "Margin = accuracy × setting - change of the output per degree of the knob. The knob is "
        "turned by a thousandth of its travel and the change is divided by the degrees that this "
        "is. Reserve = margin / (accuracy × setting)."
    )
    example = (
        "A knob with 270° of travel over 3.3 V to 12 V moves the output by `(12 V - 3.3 V) / 270 "
        "= 32.2 mV` per degree; at 3.3 V, 2 % allow `2 % × 3.3 V = 66 mV`."
    )
    says = (
        "One degree of the knob moves the output by {value}; the accuracy asked allows "
        "{limit} ({place})."
    )
    situation = NUDGED

    def asked_of(self, survey: Survey, output: Output) -> bool:
        return output.accuracy is not None and bool(_turned(survey, output.name))

    def answer(self, view: View, subject: str) -> Answer:
        survey = view.survey
        travel = _turned(survey, subject)[0].values["travel"].spread.low
        moved = np.abs(view.output(subject, "nudged") - view.output(subject))
        per_degree = moved / (NUDGE * travel)
        return at_most(per_degree, allowed_off(survey, subject, view.points.settings[subject]))


def _turned(survey: Survey, rail: str) -> list[Part]:
    """The knobs of a rail that are turned through an angle."""
    knobs = [survey.fixture.circuit.part(ref) for ref in controls_of(survey, rail, "set")]
    return [knob for knob in knobs if "travel" in knob.values]


class Drift(_SetCheck):
    """The change from the temperature alone, after setting at 25 °C."""

    id = "output.drift"
    question = "Does the output stay where it was set when the temperature changes?"
    source = f"need.output.accuracy after setting, {TERMINALS}"
    analysis = (
        "Margin = accuracy × setting - |output here - output at 25 °C|, controls untouched, "
        "nominal input and half load, self-heating in. Reserve = margin / (accuracy × setting)."
    )
    example = (
        "100 ppm/K from 25 °C to 50 °C move 12 V by `100e-6 × (50 - 25) × 12 V = 30 mV`; 1 % "
        "allows `1 % × 12 V = 120 mV`: margin `120 mV - 30 mV = 90 mV`."
    )
    says = (
        "Set at 25 °C, the output moves by {value} with the temperature; {limit} is "
        "allowed ({place})."
    )
    situation = HELD

    def asked_of(self, survey: Survey, output: Output) -> bool:
        return output.accuracy is not None and super().asked_of(survey, output)

    def answer(self, view: View, subject: str) -> Answer:
        moved = view.output(subject, "when set") - view.output(subject, "set")
        return within(moved, allowed_off(view.survey, subject, view.points.settings[subject]))


class Accuracy(_RailCheck):
    """The deviation of a rail that nobody sets in use, everything included."""

    id = "output.accuracy"
    question = "Is the fixed output within its accuracy, everything included?"
    source = f"need.output.accuracy, or 5 % where it says nothing, {TERMINALS}"
    analysis = (
        "Margin = accuracy × nominal voltage - |output - nominal voltage|, of a rail that no "
        "control sets in use: reference, dividers, load, line and temperature all in. The "
        "accuracy is the need's, 5 % where it says nothing. Reserve = margin / (accuracy × "
        "nominal voltage)."
    )
    example = (
        "10 V halved by resistors of 1 % and 2 %, at worst 1010 Ω over 980 Ω: `10 V × 980 Ω / "
        "(1010 Ω + 980 Ω) = 4.925 V`, off by `5 V - 4.925 V = 75 mV`; 3 % allow `3 % × 5 V = 150 "
        "mV`."
    )
    says = "The output is {value} off its nominal voltage; {limit} is allowed ({place})."
    situation = HELD

    def asked_of(self, survey: Survey, output: Output) -> bool:
        return not controls_of(survey, output.name, "set")

    def answer(self, view: View, subject: str) -> Answer:
        setting = view.points.settings[subject]
        off = view.output(subject) - setting
        return within(off, allowed_off(view.survey, subject, setting))


class LineRegulation(_RailCheck):
    """|V(input) - V(nominal input)| with the control untouched and the same load."""

    id = "output.line-regulation"
    question = "Does the output hold when the input changes?"
    source = f"need.output.line_regulation, {TERMINALS}"
    analysis = (
        "Margin = need's line regulation - |output here - output at nominal input|, same load, "
        "controls untouched. Reserve = margin / line regulation."
    )
    example = (
        "0.01 %/V over 5 V of input moves 12 V by `0.01 % × 5 × 12 V = 6 mV`; where 20 mV are "
        "allowed, `20 mV - 6 mV = 14 mV` are left."
    )
    says = (
        "Between nominal input and here the output moves by {value}; {limit} is allowed ({place})."
    )
    situation = HELD

    def asked_of(self, survey: Survey, output: Output) -> bool:
        return output.line_regulation is not None

    def answer(self, view: View, subject: str) -> Answer:
        moved = view.output(subject) - view.output(subject, "nominal input")
        return within(moved, view.survey.fixture.rails[subject].line_regulation or np.nan)


class LoadRegulation(_RailCheck):
    """|V(load) - V(least load)| with the control untouched and the same input."""

    id = "output.load-regulation"
    question = "Does the output hold when the load changes?"
    source = f"need.output.load_regulation, {TERMINALS}"
    analysis = (
        "Margin = need's load regulation - |output here - output at the least load|, same input, "
        "controls untouched, measured at the terminals: leads and shunts inside the supply count. "
        "Reserve = margin / load regulation."
    )
    example = (
        "A shunt of 50 mΩ and leads of 30 mΩ outside the loop drop `1 A × (50 mΩ + 30 mΩ) = 80 "
        "mV` at 1 A; where 50 mV are allowed the margin is `50 mV - 80 mV = -30 mV`."
    )
    says = (
        "Between the least load and here the output moves by {value}, leads included; "
        "{limit} is allowed ({place})."
    )
    situation = HELD

    def asked_of(self, survey: Survey, output: Output) -> bool:
        return output.load_regulation is not None

    def answer(self, view: View, subject: str) -> Answer:
        moved = view.output(subject) - view.output(subject, "light load")
        return within(moved, view.survey.fixture.rails[subject].load_regulation or np.nan)


class MinimumLoad(Check):
    """The current that a linear regulator always passes must have somewhere to go."""

    id = "output.minimum-load"
    question = "Does every regulator have the load that it needs to regulate?"
    source = "minimum load current, datasheets of three-terminal regulators"
    analysis = (
        "Margin = current drawn from the regulator, divider included - least load of the type. "
        "Reserve = margin / least load."
    )
    example = (
        "A divider of 240 Ω at 1.25 V draws `1.25 V / 240 Ω = 5.21 mA`; a 317 type needs up to 10 "
        "mA, so without a load `5.21 mA - 10 mA = -4.79 mA` are missing and the output creeps up."
    )
    says = (
        "{subject} is loaded with {value} and needs {limit}; with less its output creeps "
        "up ({place})."
    )
    unit = "A"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [p.ref for p in parts_that_observe(survey, "drawn_current", "minimum_load")]

    def answer(self, view: View, subject: str) -> Answer:
        drawn = view.at.of(subject, "drawn_current")
        needed = view.at.of(subject, "minimum_load")
        return at_least(drawn, needed, asked=needed > 0)


class Adjustable(WiringCheck):
    """A rail whose voltage is to be set needs a control that a person can turn."""

    id = "output.control"
    question = "Has every adjustable rail a control that sets it?"
    source = "need.output.voltage and [[control]] of the design"
    analysis = (
        "Every rail whose highest and lowest wanted voltage differ is looked for among the rails "
        "of the design's controls whose role is to set."
    )
    example = (
        "A need of 3.3 V to 12 V with a divider of fixed resistors and no control falls short; "
        "with one control whose rail is the output's it holds."
    )
    good = "Every adjustable rail has a control that sets it."

    def look(self, survey: Survey) -> WiringAnswer:
        rails = [name for name, rail in survey.fixture.rails.items() if rail.is_adjustable]
        faults = [
            WiringFault(
                rail, f"The need lets {rail} be set, but no [[control]] of role set does that."
            )
            for rail in rails
            if not controls_of(survey, rail, "set")
        ]
        return WiringAnswer(rails, faults)
