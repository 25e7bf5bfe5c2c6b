"""Cross regulation: what the loads of the other rails do to one."""

from __future__ import annotations

from collections.abc import Sequence

from railwright.checks.check import Check, within
from railwright.checks.output import TERMINALS, allowed_off
from railwright.surveys.extremes import Answer
from railwright.surveys.other_loads import OTHER_LOADS
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey


class CrossRegulation(Check):
    """|V(loads of the others) - V(their least)| with its own load and the controls untouched."""

    id = "output.cross-regulation"
    question = "Does every rail hold when the loads of the others change?"
    source = f"need.output.load_regulation, or the accuracy where it says nothing; {TERMINALS}"
    analysis = (
        "Margin = need's load_regulation - |voltage of the rail - voltage with the least load on "
        "all others|, its own load and the controls untouched. Where the need states no load "
        "regulation: accuracy × setting. Reserve = margin / limit."
    )
    example = (
        "Two rails share a lead of 50 mΩ to the source's minus: 1 A of the other one lifts it by "
        "`50 mΩ × 1 A = 50 mV`, of the 250 mV that 5 % of 5 V allow."
    )
    says = "The loads of the other rails move {subject} by {value}; {limit} is allowed ({place})."
    unit = "V"
    situation = OTHER_LOADS

    def subjects(self, survey: Survey) -> Sequence[str]:
        rails = survey.fixture.rails
        varies = {name for name, each in rails.items() if each.current.min < each.current.max}
        return [name for name in rails if varies - {name}]

    def answer(self, view: View, subject: str) -> Answer:
        limit = view.survey.fixture.rails[subject].load_regulation
        allowed = allowed_off(view.survey, subject, view.points.settings[subject])
        moved = view.output(subject) - view.output(subject, subject)
        return within(moved, allowed if limit is None else limit)
