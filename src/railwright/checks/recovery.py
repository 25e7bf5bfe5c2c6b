"""Recovery: whether the diodes of switching regulators are fast enough for their clock."""

from __future__ import annotations

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault, unknown
from railwright.circuit.circuit import Part
from railwright.quantity import show
from railwright.surveys.survey import Survey

LASTING = 0.05
"""Share of a cycle for which a diode may go on conducting backwards (common practice, no source):
for as long the switch carries the current of the coil once more, under the whole input."""


class Recovery(WiringCheck):
    """What a diode stores lasts for its transit time, whatever current it carried."""

    id = "wiring.recovery"
    question = "Is the diode of every switching regulator fast enough for its clock?"
    source = (
        "charge that a junction stores: Sze, Physics of Semiconductor Devices; share of the "
        "cycle: common practice, no source"
    )
    analysis = (
        "A diode that carries I stores I times its transit time. The switch draws that out of it "
        "in every cycle before it blocks, which heats both. Transit time × frequency, the share "
        "of a cycle for which I flows backwards, may be 5 %; both with their typical values. "
        "Schottky diodes store nothing, and a low switch in place of the diode is not asked."
    )
    example = (
        "A mains rectifier that stores for 4 µs, at 150 kHz, conducts backwards for `4 µs × 150 "
        "kHz = 60 %` of each cycle: falls short. A fast one of 30 ns does so for `30 ns × 150 kHz "
        "= 0.45 %`."
    )
    good = "The diode of every switching regulator is fast enough for its clock."
    order = 9

    def look(self, survey: Survey) -> WiringAnswer:
        looked, faults = [], []
        for regulator in survey.fixture.circuit.parts:
            if "freewheel" not in regulator.device.needed_links(regulator.options):
                continue
            ref = survey.model.topology.element[regulator.ref].links.get("freewheel")
            if ref is None:
                continue
            looked.append(ref)
            fault = self._fault(regulator, survey.fixture.circuit.part(ref))
            if fault is not None:
                faults.append(fault)
        return WiringAnswer(looked, faults)

    def _fault(self, regulator: Part, diode: Part) -> WiringFault | None:
        stored, clock = diode.values.get("transit_time"), regulator.values.get("frequency")
        if stored is None or clock is None:
            lacking = unknown(diode.ref, ["transit_time"] if stored is None else [])
            lacking = lacking or unknown(regulator.ref, ["frequency"])
            return WiringFault(diode.ref, lacking, proven=False)
        if stored.spread.typical * clock.spread.typical <= LASTING:
            return None
        text = (
            f"{diode.ref} stores charge for {show(stored.spread.typical, 's')}; a cycle of "
            f"{regulator.ref} takes {show(1.0 / clock.spread.typical, 's')}. It conducts backwards "
            "for too long: a Schottky or a fast diode is wanted."
        )
        return WiringFault(diode.ref, text, ((diode.ref, ""),))
