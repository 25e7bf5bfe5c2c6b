"""Mains fuse: what opens before something burns where the mains feed the supply."""

from __future__ import annotations

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.surveys.fixture import terminals
from railwright.surveys.survey import Survey

EXTRA_LOW = 50.0
"""V effective; above it alternating voltage counts as mains here (IEC 61140, from memory)."""
IN_SERIES = 2
"""Pins of what may stand between the plug and the fuse: switches, filters' coils, wires."""


class MainsFuse(WiringCheck):
    """A short circuit behind the mains draws whatever the socket gives until something opens.

    From the live end every way must lead through a fuse before it comes to a transformer or to
    anything else with more than two pins, or back to neutral.
    """

    id = "wiring.mains-fuse"
    question = "Does a fuse stand between the mains and all that can fail short?"
    source = "IEC 62368-1 and IEC 61558-1: protection of what the mains feed, from memory"
    good = "A fuse stands between the mains and the supply."
    analysis = (
        "From the live net of an input above 50 V effective, through parts of two pins other than "
        "fuses: none of the parts that are met may have more pins, or end at neutral."
    )
    example = (
        "L - F1 - L1 - T1 holds: the transformer is met behind the fuse alone. L - S1 - T1 falls "
        "short at T1."
    )
    order = 15

    def look(self, survey: Survey) -> WiringAnswer:
        need = survey.fixture.design.need.input
        if not survey.fixture.alternating or need.voltage.max <= EXTRA_LOW:
            return WiringAnswer([], [])
        ends, parts = terminals(need), survey.fixture.circuit.parts
        met, nets = [], {ends.plus}
        while True:
            more = [
                part
                for part in parts
                if part not in met
                and "melting_integral" not in part.device.values
                and nets & set(part.pins.values())
            ]
            if not more:
                break
            met += more
            nets |= {
                net
                for part in more
                if len(part.pins) == IN_SERIES
                for net in part.pins.values()
                if net != ends.minus
            }
        bare = [p for p in met if len(p.pins) > IN_SERIES or ends.minus in p.pins.values()]
        faults = [
            WiringFault(part.ref, f"{part.ref} is at the mains without a fuse in between.")
            for part in bare
        ]
        fuses = [part.ref for part in parts if "melting_integral" in part.device.values]
        return WiringAnswer([part.ref for part in bare] or fuses, faults)
