"""Divider: what sets the voltage of a rail has two legs."""

from __future__ import annotations

from collections.abc import Iterator

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import near, pins_of_role
from railwright.checks.windows import first_end
from railwright.circuit.circuit import Part
from railwright.quantity import show
from railwright.surveys.fixture import terminals
from railwright.surveys.survey import Survey

TIED = 1.0
"""Ω; nets that are nearer than this are tied together."""
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
            looked.append(part.ref)
            faults += self._faults(survey, part, pin)
        return WiringAnswer(looked, faults)

    def _faults(self, survey: Survey, part: Part, pin: str) -> Iterator[WiringFault]:
        circuit, net = survey.fixture.circuit, part.pins[pin]
        output = first_end(survey, part, part.device.windows["output_capacitance"])
        beside = [(other, its) for other, its in circuit.on_net(net) if other.ref != part.ref]
        legs = [other for other, _ in beside if other.kind == "resistor"]
        if output is None or not legs or any(other.kind not in AROUND for other, _ in beside):
            return
        home = near(circuit, [output], TIED).keys()
        wanted = self._wanted(survey, set(home))
        reference = part.values["reference"].spread.typical if "reference" in part.values else 0.0
        ends = {end for leg in legs for end in leg.pins.values()} - {net}
        if not ends <= home or not 0 < ABOVE * reference < wanted:
            return
        text = (
            f"Every resistor at pin {pin} of {part.ref} ends on its own rail {output}: the rail "
            f"stays at {show(reference, 'V')}. The leg to the return is missing."
        )
        yield WiringFault(part.ref, text, [*self._astray(survey, legs, set(home)), (part.ref, pin)])

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
