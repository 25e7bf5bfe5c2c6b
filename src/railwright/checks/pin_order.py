"""Pin order: the terminals that a design states, against those of the package."""

from __future__ import annotations

from collections.abc import Iterator

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.circuit.circuit import Part, is_thermal
from railwright.surveys.survey import Survey

EXCHANGEABLE = {"logic-gate": ("a", "b")}
"""Pins of a kind that may change places."""


class PinOrder(WiringCheck):
    """No pin is stated to be on a terminal which the catalogue gives to another pin.

    Terminals of which it says nothing are those of a further one in the same package. In another
    package than the catalogue's the order may be another: nothing is known of it, and nothing
    proven.
    """

    id = "wiring.pin-order"
    question = "Is every pin on its own terminal of the package?"
    source = "pin order of the type in its package, from the catalogue"
    analysis = (
        "Terminals that the design states are held to those which the catalogue knows of the part "
        "in that package. Inputs of a gate may change places, and so may two ends without a "
        "polarity; terminals beyond those that it knows are passed over. Where it knows no order "
        "of the part in that package, that is not proven."
    )
    example = (
        "A transistor stated as emitter 1, base 2, collector 3 whose type in this package is "
        "collector 1, base 2, emitter 3 is wired the wrong way round: falls short with both pins "
        "named."
    )
    good = "Every terminal that the design states is that of its pin."
    order = 10

    def look(self, survey: Survey) -> WiringAnswer:
        stated = [p for p in survey.fixture.circuit.parts if p.terminals]
        faults = [fault for part in stated for fault in self._faults(part)]
        return WiringAnswer([part.ref for part in stated], faults)

    def _faults(self, part: Part) -> Iterator[WiringFault]:
        if not part.order:
            if not _has_equal_ends(part):
                text = (
                    f"{part.ref} states its terminals, and no pin order of {part.use or part.kind} "
                    f"in {part.package or 'an unnamed package'} is known to hold them to."
                )
                yield WiringFault(part.ref, text, proven=False)
            return
        of_pin = {
            terminal: pin
            for pin, terminal in part.order.items()
            if not is_thermal(part.device, pin)
        }
        same = EXCHANGEABLE.get(part.kind, ())
        wrong = {
            pin: terminal
            for pin, terminal in part.terminals.items()
            if not is_thermal(part.device, pin)
            and of_pin.get(terminal, pin) != pin
            and not (pin in same and of_pin[terminal] in same)
        }
        if wrong:
            told = ", ".join(f"{t} is its {of_pin[t]} and not its {p}" for p, t in wrong.items())
            text = f"Terminals of {part.ref}, a {part.use} in {part.package}: {told}."
            yield WiringFault(part.ref, text, [(part.ref, pin) for pin in wrong])


def _has_equal_ends(part: Part) -> bool:
    """Whether a part may be turned round, as a resistor or a coil."""
    roles = [pin.role for pin in part.device.pins.values() if pin.role != "thermal"]
    return roles == ["passive", "passive"] and not part.device.polar_pairs(part.options)
