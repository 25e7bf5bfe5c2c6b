"""Polarity: polar parts in every lasting state, and the sense of enable pins."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from railwright.checks.check import Mend, WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import pins_of_role
from railwright.circuit.circuit import Part
from railwright.engine.solutions import OperatingPoints
from railwright.quantity import show
from railwright.surveys.situations import AS_SET
from railwright.surveys.survey import Survey
from railwright.surveys.trips import rest_and_trip

REVERSE_ALLOWED = 0.3
"""V; electrolytic capacitors stand about this much the wrong way round (from memory)."""


class Reversed(WiringCheck):
    """No polar part stands the wrong way round in any lasting state over the range."""

    id = "wiring.reversed"
    question = "Is every polar part the right way round in every lasting state?"
    source = "common practice, no source: polar parts stand a few tenths of a volt reversed"
    analysis = (
        "Over the operating range and in every stable state of gates and comparators, with "
        "typical parts: no polar part may have its plus more than 0.3 V below its minus. A bridge "
        "rectifier with its plus on that minus is the first cause."
    )
    example = (
        "An electrolytic capacitor from OUT (plus) to a net at 5 V, beside an output that is set "
        "down to 3.3 V, sees `5 V - 3.3 V = 1.7 V` reversed: falls short."
    )
    good = "Every polar part is the right way round."
    order = 8

    def look(self, survey: Survey) -> WiringAnswer:
        over_range, stable = survey.once(AS_SET.typical).at, survey.states
        lasting = [over_range, *stable.solutions]
        looked, faults = [], []
        for part in survey.fixture.circuit.parts:
            for plus, minus in part.device.polar_pairs(part.options):
                if plus not in part.pins or minus not in part.pins:
                    continue
                looked.append(part.ref)
                reverse = max(self._reverse(at, part, plus, minus) for at in lasting)
                if reverse > REVERSE_ALLOWED:
                    bridges = _bridges(survey, part.pins[minus], part.pins[plus])
                    text = (
                        f"{part.ref} stands the wrong way round: {plus} is "
                        f"{show(reverse, 'V')} below {minus}."
                    )
                    if bridges:
                        text = f"{text} The plus of {' and '.join(bridges)} is on its {minus}."
                    causes = [*((ref, "") for ref in bridges), (part.ref, plus)]
                    faults.append(WiringFault(part.ref, text, causes))
                elif not over_range.solved.all():
                    text = f"{int((~over_range.solved).sum())} operating points were not solved."
                    faults.append(WiringFault(part.ref, text, proven=False))
                elif not stable.complete:
                    text = "Not every state of the gates and comparators could be looked at."
                    faults.append(WiringFault(part.ref, text, proven=False))
        return WiringAnswer(list(dict.fromkeys(looked)), faults)

    def _reverse(self, at: OperatingPoints, part: Part, plus: str, minus: str) -> float:
        across = at.potential(part.pins[minus]) - at.potential(part.pins[plus])
        return float(np.max(across[at.solved], initial=-np.inf))


def _bridges(survey: Survey, plus: str, minus: str) -> list[str]:
    """Bridge rectifiers that have their plus and their minus on these nets."""
    return [
        part.ref
        for part in survey.fixture.circuit.parts
        if part.kind == "bridge-rectifier"
        and (part.pins.get("plus"), part.pins.get("minus")) == (plus, minus)
    ]


class EnableSense(WiringCheck):
    """No part is disabled at rest; whether a trip takes the output down is another question."""

    id = "wiring.enable"
    question = "Does every enable pin have the right sense?"
    source = "enable level, datasheet of the part's type"
    analysis = (
        "The circuit is solved at rest and after its trip. A part that can be disabled must be "
        "enabled at rest, by the level of its enable pin against its threshold; one that is off "
        "at rest and on after the trip has the wrong sense, and the other questions see it turned "
        "over."
    )
    example = (
        "A regulator that is off above 1.3 V at its pin, driven by a latch that gives 5 V at "
        "rest, is off when it should work: falls short."
    )
    good = "Every part that can be disabled works at rest, and stays so or is disabled by a trip."
    order = 6

    def look(self, survey: Survey) -> WiringAnswer:
        looked, faults = [], []
        for part, pin in pins_of_role(survey.fixture.circuit, "enable"):
            looked.append(part.ref)
            fault = self._fault(part, pin, survey.once(rest_and_trip))
            if fault is not None:
                faults.append(fault)
        return WiringAnswer(looked, faults)

    def _fault(
        self, part: Part, pin: str, states: Mapping[str, tuple[OperatingPoints, int]]
    ) -> WiringFault | None:
        if "rest" not in states:
            text = f"No state of rest was found in which {part.ref} could be looked at."
            return WiringFault(part.ref, text, proven=False)
        enabled = {
            name: float(at.of(part.ref, "enabled")[lane]) for name, (at, lane) in states.items()
        }
        level = {
            name: float(at.of(part.ref, "enable_level")[lane])
            for name, (at, lane) in states.items()
        }
        if np.isnan(list(enabled.values())).any():
            text = f"Whether {part.ref} is enabled at rest and after a trip could not be solved."
            return WiringFault(part.ref, text, proven=False)
        causes = ((part.ref, pin),)
        if enabled["rest"] < 0.5 and enabled.get("trip", 1.0) > 0.5:
            also = f" and {show(level['trip'], 'V')} after a trip" if "trip" in level else ""
            text = (
                f"Pin {pin} of {part.ref} gets {show(level['rest'], 'V')} at rest{also}: "
                f"{part.ref} is off when it should work"
                + (", and works after a trip." if "trip" in level else ".")
                + " The pin is driven with the wrong sense."
            )
            mend = Mend(
                f"the sense of {part.ref}.{pin} turned over",
                None,
                {(part.ref, "enable_inverted"): 1.0},
            )
            return WiringFault(part.ref, text, causes, mend, off=True)
        if enabled["rest"] < 0.5:
            text = f"{part.ref} is disabled at rest and after a trip alike."
            return WiringFault(part.ref, text, causes, off=True)
        return None
