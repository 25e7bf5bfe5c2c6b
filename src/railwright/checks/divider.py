"""Divider: what sets the voltage of a rail has two legs."""

from __future__ import annotations

from collections.abc import Iterator

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import TIED, near, pins_of_role
from railwright.checks.windows import first_end
from railwright.circuit.circuit import Circuit, Part
from railwright.quantity import show
from railwright.surveys.fixture import terminals
from railwright.surveys.survey import Survey

ABOVE = 1.2
"""A rail that is wanted above its reference by this factor needs a divider."""
AROUND = ("resistor", "capacitor", "diode")
"""Kinds beside which a missing leg is plain to see; what else is there may set the voltage."""


class LowerLeg(WiringCheck):
    """A rail that is to be above its regulator's reference needs a leg to the return.

    Without one the whole of the rail is fed back, and it stays at the reference.
    """

    id = "wiring.divider"
    question = "Has the divider of every rail a leg to the return?"
    source = "datasheets of adjustable regulators: V = reference x (1 + upper / lower leg)"
    analysis = (
        "Of every feedback or adjust pin at which nothing but resistors, capacitors and diodes is, "
        "and whose rail is wanted at more than 1.2 times its reference: not all resistors at the "
        "pin may end on the rail itself."
    )
    example = (
        "With the lower resistor of 2 kΩ on the output instead of the pin, a rail that was to be "
        "`1.23 V × (6.2 kΩ + 2 kΩ) / 2 kΩ = 5.04 V` stays at 1.23 V."
    )
    good = "The divider of every rail has both its legs."
    order = 7

    def look(self, survey: Survey) -> WiringAnswer:
        looked: list[str] = []
        faults: list[WiringFault] = []
        for part, pin in pins_of_role(survey.fixture.circuit, "feedback", "adjust"):
            output = first_end(survey, part, part.device.windows["output_capacitance"])
            legs = _legs(survey.fixture.circuit, part, pin)
            if output is None or not legs:
                continue
            home = set(near(survey.fixture.circuit, [output], TIED))
            reference = part.values["reference"].spread.typical
            if self._wanted(survey, home) <= ABOVE * reference:
                continue
            looked.append(part.ref)
            if {end for leg in legs for end in leg.pins.values()} - {part.pins[pin]} <= home:
                text = (
                    f"Every resistor at pin {pin} of {part.ref} ends on its own rail {output}: the "
                    f"rail stays at {show(reference, 'V')}. The leg to the return is missing."
                )
                causes = [*self._astray(survey, legs, home), (part.ref, pin)]
                faults.append(WiringFault(part.ref, text, causes))
        return WiringAnswer(looked, faults)

    @staticmethod
    def _wanted(survey: Survey, home: set[str]) -> float:
        """The voltage that is wanted of the rail; nil where the need does not speak of it."""
        rails = survey.fixture.rails.values()
        own = [r.voltage.max for r in rails if {terminals(r).plus, terminals(r).minus} & home]
        return max(own, default=0.0)

    @staticmethod
    def _astray(survey: Survey, legs: list[Part], home: set[str]) -> Iterator[tuple[str, str]]:
        """Resistors that may be meant: from the rail to the return, then one leg too many."""
        back = terminals(survey.fixture.design.need.input)
        returns = {back.plus, back.minus}
        for part in survey.fixture.circuit.parts:
            ends = set(part.pins.values())
            if part.kind == "resistor" and ends & home and ends & returns - home:
                yield part.ref, "one"
        if len(legs) > 1:
            yield legs[-1].ref, "one"


def _legs(circuit: Circuit, part: Part, pin: str) -> list[Part]:
    """Resistors at a pin; none where something else is there that may set the voltage."""
    beside = [other for other, _ in circuit.on_net(part.pins[pin]) if other.ref != part.ref]
    if any(other.kind not in AROUND for other in beside):
        return []
    return [other for other in beside if other.kind == "resistor"]
