"""Windings: secondaries that work against each other."""

from __future__ import annotations

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.circuit.circuit import Part
from railwright.surveys.fixture import transforms
from railwright.surveys.survey import Survey


class Windings(WiringCheck):
    """Secondaries side by side need their dotted ends together, else each shorts the other."""

    id = "wiring.windings"
    question = "Do secondaries that are joined work with each other?"
    source = "dotted ends of transformers; common practice, no source"
    good = "Secondaries that are joined work with each other."
    analysis = (
        "Of each transformer with two secondaries: where both ends of one are on the nets of the "
        "other, the starts must be together and the ends must."
    )
    example = (
        "Start of both at A and end of both at B holds; the second turned round, from B to A, is a "
        "short circuit of two windings."
    )
    order = 16

    def look(self, survey: Survey) -> WiringAnswer:
        parts = [p for p in survey.fixture.circuit.parts if transforms(p) and _two(p)]
        faults = [
            WiringFault(part.ref, f"The secondaries of {part.ref} are joined against each other.")
            for part in parts
            if _pins(part, "secondary") == _pins(part, "second")[::-1]
        ]
        return WiringAnswer([part.ref for part in parts], faults)


def _two(part: Part) -> bool:
    return {"second_start", "second_end"} <= part.pins.keys()


def _pins(part: Part, winding: str) -> tuple[str, str]:
    return part.pins[f"{winding}_start"], part.pins[f"{winding}_end"]
