"""Thermal path: what is to be cooled, and what is to cool it, must touch."""

from __future__ import annotations

from collections.abc import Iterator

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.circuit.circuit import Circuit, Part, is_thermal
from railwright.circuit.names import AIR
from railwright.surveys.survey import Survey


class ThermalPath(WiringCheck):
    """Every heat sink must touch something that gets hot, every pad something on both sides.

    A case that touches nothing is cooled by the air alone; that is a question of its junction.
    """

    id = "wiring.thermal-path"
    question = "Do heat sinks and pads touch what they are to cool, and what is to cool it?"
    source = "thermal chain of JESD51-1: heat flows only where parts touch"
    analysis = (
        "Parts that touch on a thermal net conduct heat to each other. A heat sink or pad with a "
        "side that nothing else touches, and that is not the air, is at fault."
    )
    example = (
        "A regulator of 5 W on a pad, with the heat sink left out: the pad ends nowhere, and the "
        "chip with 60 K/W of its own warms by `5 W × 60 = 300` K; with 5 K/W, 1 K/W and 5 K/W on "
        "the way to the air it warms by `5 W × (5 + 1 + 5) = 55` K."
    )
    good = "Every heat sink and every pad touches what it should."
    order = 10

    def look(self, survey: Survey) -> WiringAnswer:
        circuit = survey.fixture.circuit
        looked = [part for part in circuit.parts if _leads_heat(part)]
        return WiringAnswer([part.ref for part in looked], list(_faults(circuit, looked)))


def _leads_heat(part: Part) -> bool:
    """Whether a part does nothing but lead heat."""
    return all(is_thermal(part.device, pin) for pin in part.device.pins)


def _faults(circuit: Circuit, looked: list[Part]) -> Iterator[WiringFault]:
    for part in looked:
        for pin in part.device.pins:
            net = part.pins.get(pin)
            if net is None or (net != AIR and len(circuit.on_net(net)) < 2):
                text = f"Nothing touches {part.ref} at {pin}: no heat flows through it."
                yield WiringFault(part.ref, text, ((part.ref, pin),))
