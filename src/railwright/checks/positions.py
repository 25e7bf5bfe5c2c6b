"""Positions: whether what switches with the setting does so with hysteresis, and its relays pull.

The taps of a winding are such a thing. Each position is looked at as far as it can be on
(`surveys.positions`), its parts held in it; these checks ask whether they would stay there.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Check, WiringAnswer, WiringCheck, WiringFault
from railwright.quantity import show
from railwright.surveys.extremes import Answer
from railwright.surveys.positions import Positions, positions
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

OPERATED = 0.5


def _relays(survey: Survey, refs: Sequence[str]) -> list[str]:
    return [ref for ref in refs if survey.fixture.circuit.part(ref).kind == "relay"]


class RelayCoil(Check):
    """The coil of a relay that switches with the setting, against pull-in and drop-out."""

    id = "headroom.relay-coil"
    question = "Does every relay that switches with the setting pull where it has to, and let go?"
    source = "pull-in and drop-out voltage at 20 °C, datasheet of the part's type; IEC 61810-1"
    analysis = (
        "Asked of relays whose state differs from the lowest setting to the highest. Value: coil "
        "current × resistance at 20 °C, for it is the current that pulls, and a warm coil takes "
        "less of it. Where the relay is on, margin = value - pull-in voltage, since it may have to "
        "pull again while it is warm; where it is off, margin = drop-out voltage - value. Reserve "
        "= margin / that limit."
    )
    example = (
        "A coil of 400 Ω that has warmed to 480 Ω takes 24 mA of 11.5 V: `24 mA × 400 Ω = 9.6 V`, "
        "`9.6 V - 9 V = 0.6 V` above a pull-in voltage of 9 V: reserve `0.6 V / 9 V = 6.7 %`, "
        "marginal."
    )
    says = "The coil of {subject} has what {value} are at 20 °C; {limit} are the limit ({place})."
    unit = "V"

    def subjects(self, survey: Survey) -> Sequence[str]:
        moving = [ref for found in survey.once(positions) for ref in found.moving]
        return _relays(survey, list(dict.fromkeys(moving)))

    def answer(self, view: View, subject: str) -> Answer:
        cold = view.value(subject, "coil_resistance")
        value = np.abs(view.at.of(subject, "coil_current")) * cold
        pulls, drops = (view.value(subject, f"{n}_voltage") for n in ("pull_in", "drop_out"))
        on = view.at.of(subject, "state") > OPERATED
        limit = np.where(on, pulls, drops)
        return Answer(np.where(on, value - limit, limit - value), value, limit)


class SwitchesOver(WiringCheck):
    """Every setting has a position that lasts, and the way back is another than the way up."""

    id = "output.positions"
    question = "Is it known where what switches with the setting does so, with hysteresis?"
    source = "settings at which the deciding comparator turns over; common practice, no source"
    analysis = (
        "Parts that rest in another state at the highest setting than at the lowest are held in "
        "each, and the setting is sought at which the comparator among them turns over, at the "
        "corners of loads, input and ambient, with all quantities at their limits. Below the "
        "ripple that is allowed, or nil, no hysteresis keeps the position while the output "
        "ripples. Not proven where several comparators turn over, or parts other than "
        "comparators and relays, or the same parts with several rails."
    )
    example = (
        "A comparator that goes up at 6.3 V and comes down at 5.9 V has `6.3 V - 5.9 V = 0.4 V` of "
        "hysteresis."
    )
    good = "Between both positions lies hysteresis, wherever parts within their spread put it."

    def look(self, survey: Survey) -> WiringAnswer:
        each = survey.once(positions)
        subjects = list(dict.fromkeys(found.deciding or found.moving[0] for found in each))
        faults = [fault for found in each if (fault := _fault(survey, found)) is not None]
        return WiringAnswer(subjects, faults)


def _fault(survey: Survey, found: Positions) -> WiringFault | None:
    """What is wrong with the positions of one rail, or not known of them."""
    subject = found.deciding or found.moving[0]
    if found.why:
        text = f"{', '.join(found.moving)} switch with the setting; {found.why}"
        return WiringFault(subject, text, proven=False)
    others = set(found.moving) - {found.deciding, *_relays(survey, found.moving)}
    if others:
        text = f"Whether {', '.join(sorted(others))} keep to {found.deciding} is not looked at."
        return WiringFault(subject, text, proven=False)
    least = survey.fixture.rails[found.rail].ripple or 0.0
    if found.width > least:
        return None
    text = (
        f"{subject} switches up from {show(found.rising[0], 'V')} on and back from "
        f"{show(found.falling[1], 'V')} on; in one supply {show(found.width, 'V')} may lie "
        f"between both, and {show(least, 'V')} of ripple are allowed: it may chatter."
    )
    return WiringFault(subject, text, [(subject, "difference")])
