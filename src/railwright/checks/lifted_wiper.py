"""Lifted wiper: what the output does when the contact of its control fails."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Check, at_most
from railwright.checks.output import TERMINALS, tolerance_of
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey
from railwright.surveys.wipers import LIFTED_WIPER, wipers


class LiftedWiperVoltage(Check):
    """Of a control that is set in use, and of a trim where the need says what the load survives.

    A knob is at any setting when its wiper lifts; it stays where it is meanwhile.
    """

    id = "output.lifted-wiper"
    question = "Does the output stay down when the wiper of its control lifts off its track?"
    source = (
        "need.output.never_above, or the highest setting with its accuracy; wipers lift off with "
        f"wear and dust: common practice, no source; {TERMINALS}"
    )
    analysis = (
        "Margin = need's never_above - output voltage with the wiper off its track, the knob "
        "where it was. Where the need states none, of a control that is set in use: highest "
        "setting × (1 + accuracy) - that voltage. Reserve = margin / that limit."
    )
    example = (
        "A wiper that is tied to one end of a track of 1 kΩ leaves all of it in the lower leg of "
        "a divider when it lifts: `1.25 V × (1 + (1 kΩ + 500 Ω) / 240 Ω) = 9.06 V`. With the wiper "
        "as the only way to 0 V nothing would be left of that leg, and the output went to its top."
    )
    says = (
        "With the wiper of {subject} off its track the output is at {value}; {limit} is the most "
        "that is allowed ({place})."
    )
    unit = "V"
    situation = LIFTED_WIPER

    def subjects(self, survey: Survey) -> Sequence[str]:
        set_in_use = {ref for ref, _ in survey.controls_of_role("set")}
        return [
            ref
            for ref, rail in wipers(survey).items()
            if ref in set_in_use or survey.fixture.rails[rail].never_above is not None
        ]

    def answer(self, view: View, subject: str) -> Answer:
        name = wipers(view.survey)[subject]
        rail = view.survey.fixture.rails[name]
        limit = rail.never_above
        if limit is None:
            limit = rail.voltage.max * (1.0 + tolerance_of(view.survey, name))
        return at_most(np.abs(view.output(name, subject)), limit)
