"""Decoupling: the capacitor that feeds an integrated circuit while the rail is too slow for it."""

from __future__ import annotations

from collections.abc import Mapping

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import near
from railwright.circuit.circuit import Circuit, Part
from railwright.quantity import show
from railwright.surveys.survey import Survey

LEAST = 10e-9
"""F; of a capacitor that counts. 100 nF is usual (common practice, no source)."""
WIRING = 0.1
"""Ω; a net on the other side of a wire or terminal of less than this is the same one."""
MODULES = ("panel-meter",)
"""Kinds that are a board by themselves, with a capacitor on it."""


class Decoupling(WiringCheck):
    """Logic, timers, comparators and amplifiers need a capacitor from their supply to their ground,
    or one from each to the same net. One serves all that share its nets.

    What a regulator needs its datasheet says: that is a question of its windows.
    """

    id = "wiring.decoupling"
    question = "Has every integrated circuit a capacitor across its supply?"
    source = (
        "datasheets of logic, comparators and amplifiers ask for one; common practice, no source"
    )
    analysis = (
        "For every integrated circuit with a supply and a ground pin, of which no window tells "
        "more: a capacitor of at least 10 nF must lie between both nets, or one from each to the "
        "same third net; conductors of less than 0.1 Ω count as the net itself."
    )
    example = (
        "A comparator fed through 10 Ω from 5 V with its 100 nF on the far side of that resistor "
        "has none at its own pins: falls short. Moved to the near side it makes a filter of `10 Ω "
        "× 100 nF = 1 µs`."
    )
    good = "Every integrated circuit has a capacitor across its supply."
    order = 9

    def look(self, survey: Survey) -> WiringAnswer:
        circuit = survey.fixture.circuit
        looked, faults = [], []
        for part in circuit.parts:
            pins = _supply_pins(part)
            if not pins:
                continue
            looked.append(part.ref)
            supply, ground = (part.pins[pin] for pin in pins)
            if not _is_decoupled(circuit, supply, ground):
                text = (
                    f"No capacitor of at least {show(LEAST, 'F')} lies between {supply} and "
                    f"{ground}, from which {part.ref} is fed. One of about 100 nF is missing."
                )
                faults.append(WiringFault(part.ref, text, ((part.ref, pins[0]),)))
        return WiringAnswer(looked, faults)


def _supply_pins(part: Part) -> list[str]:
    """Supply and ground pin of an integrated circuit that needs a capacitor across them."""
    if part.device.windows or part.kind in MODULES:
        return []
    by_role = {part.device.pins[pin].role: pin for pin in part.pins}
    found = [by_role[role] for role in ("supply", "ground") if role in by_role]
    return found if len(found) == 2 else []


def _is_decoupled(circuit: Circuit, supply: str, ground: str) -> bool:
    above, below = (near(circuit, [net], WIRING) for net in (supply, ground))
    across = _across_capacitors(circuit, above)
    return bool(across & (below.keys() | _across_capacitors(circuit, below)))


def _across_capacitors(circuit: Circuit, nets: Mapping[str, object]) -> set[str]:
    """Nets on the other side of the capacitors at some nets, and all that wires join to them."""
    found: set[str] = set()
    for net in nets:
        for part, pin in circuit.on_net(net):
            if part.kind == "capacitor" and part.values["capacitance"].spread.typical >= LEAST:
                other = part.pins.get("minus" if pin == "plus" else "plus")
                if other is not None:
                    found |= near(circuit, [other], WIRING).keys()
    return found - set(nets)
