"""Switching on: whether an output that stays off at first can be brought on at all."""

from __future__ import annotations

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import pins_of_role
from railwright.surveys.courses import contacts
from railwright.surveys.survey import Survey


class SwitchOn(WiringCheck):
    """What a person operates is there; what it does is a matter of `transient.switched-on`."""

    id = "wiring.switch-on"
    question = "Is there anything with which a person switches the output on?"
    source = "need.output.overload.at_power_up"
    analysis = (
        "Asked where at_power_up is off: the circuit must have a switch or a button. Whether it "
        "brings the output on is followed in time."
    )
    example = (
        "A latch is set as its rail comes up and holds the regulator off, and the button that "
        "resets it was forgotten: nobody ever gets an output, falls short."
    )
    good = "There is something that a person operates."

    def look(self, survey: Survey) -> WiringAnswer:
        off = [
            rail
            for rail, output in survey.fixture.rails.items()
            if output.overload is not None and output.overload.at_power_up == "off"
        ]
        if contacts(survey):
            return WiringAnswer(off, [])
        held = [part.ref for part, _ in pins_of_role(survey.fixture.circuit, "enable")]
        return WiringAnswer(off, [self._fault(rail, held) for rail in off])

    def _fault(self, rail: str, held: list[str]) -> WiringFault:
        text = (
            f"{rail} is to stay off until it is switched on, and the circuit has no switch and no "
            "button."
        )
        return WiringFault(rail, text, [(ref, "enable") for ref in held])
