"""Lifted wiper: what the output does when the contact of its control fails."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Check, at_most
from railwright.checks.output import TERMINALS
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey
from railwright.surveys.wipers import LIFTED_WIPER, wipers


class LiftedWiperVoltage(Check):
    """Of every knob and trim on a rail of which the need says what the load survives.

    A knob is at any setting when its wiper lifts; it stays where it is meanwhile.
    """

    id = "output.lifted-wiper"
    question = "Does the output stay down when the wiper of its control lifts off its track?"
    source = (
        "need.output.never_above; wipers lift off with wear and dust: common practice, no source; "
        f"{TERMINALS}"
    )
    analysis = (
        "Margin = need's never_above - output voltage with the wiper off its track, the knob "
        "where it was. Reserve = margin / never_above."
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
        rails = survey.fixture.rails
        return [r for r, rail in wipers(survey).items() if rails[rail].never_above is not None]

    def answer(self, view: View, subject: str) -> Answer:
        name = wipers(view.survey)[subject]
        limit = view.survey.fixture.rails[name].never_above
        assert limit is not None  # or else it is no subject
        return at_most(np.abs(view.output(name, subject)), limit)
