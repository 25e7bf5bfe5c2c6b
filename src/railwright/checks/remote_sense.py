"""Remote sense: leads from the terminals that carry no load, and what happens without them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.circuit.circuit import Circuit, Part, PartValue
from railwright.devices import kinds
from railwright.engine.faults import OPEN
from railwright.engine.model import Lanes, Name
from railwright.quantity import Spread, show
from railwright.surveys.fault_modes import SHORTED
from railwright.surveys.fixture import terminals
from railwright.surveys.situations import AS_SET, knobs
from railwright.surveys.survey import Survey

LEADS = ("wire", "terminal")
IDLE = 0.01
"""A lead at a terminal that carries less than this share of the load is there to sense."""


@dataclass(frozen=True)
class _Lead:
    """A lead that senses a rail, and the net of its far end."""

    part: Part
    rail: str
    far: str
    plus: bool
    """Whether it is at the terminal plus."""

    @property
    def name(self) -> Name:
        """What opens it."""
        return self.part.ref, "resistance"


class RemoteSense(WiringCheck):
    """Each lead of a rail of which the need says what its load survives: off, or mixed up.

    A sense lead is a wire or contact at a terminal with next to none of the load's current.
    """

    id = "output.remote-sense"
    question = "Does the output stay down when a sense lead comes off or is mixed up?"
    source = (
        "need.output.never_above; a resistor of about 100 Ω beside the lead keeps hold of the "
        "output: common practice"
    )
    analysis = (
        "Wires and contacts at the terminals with less than 1 % of the load's current are sense "
        "leads. With typical parts, over the operating range and with the controls where they "
        "were set, the output is at most never_above: with each of them open, with that from plus "
        "off and touching minus, and with both exchanged."
    )
    example = (
        "A divider of 3 kΩ and 1 kΩ that senses 5 V by a lead, with 100 Ω from the output beside "
        "it: when the lead comes off, `5 V × (100 Ω + 3 kΩ + 1 kΩ) / (3 kΩ + 1 kΩ) = 5.125 V`. "
        "Without those 100 Ω nothing holds the output."
    )
    good = "The output stays down without its sense leads."
    order = 14

    def look(self, survey: Survey) -> WiringAnswer:
        leads = _sense_leads(survey)
        faults = [fault for lead in leads for fault in _when_off(survey, lead, leads)]
        return WiringAnswer([lead.part.ref for lead in leads], faults)


def _sense_leads(survey: Survey) -> list[_Lead]:
    return [
        _Lead(part, rail, part.pins["two" if pin == "one" else "one"], net == nets.plus)
        for rail, output in survey.fixture.rails.items()
        if output.never_above is not None
        for nets in [terminals(output)]
        for net in (nets.plus, nets.minus)
        for part, pin in survey.fixture.circuit.on_net(net)
        if part.kind in LEADS and {"one", "two"} <= part.pins.keys()
        if _carries_nothing(survey, part, rail)
    ]


def _carries_nothing(survey: Survey, part: Part, rail: str) -> bool:
    at, full = survey.once(AS_SET.typical).at, survey.fixture.rails[rail].current.max
    carried = np.max(np.abs(at.of(part.ref, "current"))[at.solved], initial=0.0)
    return bool(carried < IDLE * full)


def _when_off(survey: Survey, lead: _Lead, leads: Sequence[_Lead]) -> Iterator[WiringFault]:
    """A lead comes off; that from plus touches minus then, or is where the other one should be."""
    yield from _judged(survey, survey, lead, "comes off", {lead.name: OPEN})
    if not lead.plus:
        return
    circuit, rail = survey.fixture.circuit, survey.fixture.rails[lead.rail]
    bridge = {"resistance": PartValue(Spread.exact(SHORTED), "Ω", "a lead that touches", False)}
    ends = {"one": lead.far, "two": terminals(rail).minus}
    touching = Part("a lead that touches", "wire", kinds()["wire"], ends, bridge, {}, {})
    touched = _around(survey, circuit.with_part(touching))
    what = f"comes off and touches {ends['two']}"
    yield from _judged(survey, touched, lead, what, {lead.name: OPEN})
    other = next((each for each in leads if each.rail == lead.rail and not each.plus), None)
    if other is not None:
        swapped = _exchanged(circuit, lead, other)
        what = f"is exchanged with {other.part.ref}"
        yield from _judged(survey, _around(survey, swapped), lead, what)


def _around(survey: Survey, circuit: Circuit) -> Survey:
    """The same need and knobs around another circuit."""
    fixture = survey.fixture.with_circuit(circuit)
    return Survey(fixture, survey.assumptions, survey.announce, survey.effort)


def _exchanged(circuit: Circuit, one: _Lead, other: _Lead) -> Circuit:
    """A circuit in which the far ends of two leads have changed places."""
    far = {one.part.ref: (one.far, other.far), other.part.ref: (other.far, one.far)}

    def moved(part: Part) -> Part:
        if part.ref not in far:
            return part
        was, becomes = far[part.ref]
        pins = {pin: becomes if net == was else net for pin, net in part.pins.items()}
        return replace(part, pins=pins)

    return Circuit(tuple(moved(part) for part in circuit.parts))


def _judged(
    survey: Survey, changed: Survey, lead: _Lead, what: str, lanes: Lanes | None = None
) -> Iterator[WiringFault]:
    """A fault, if the rail then exceeds somewhere what its load survives."""
    limit = survey.fixture.rails[lead.rail].never_above
    assert limit is not None  # or else nothing is asked
    view = survey.once(AS_SET.typical)
    count = view.points.count
    given = {
        **changed.lanes(view.points, changed.typical(count)),
        **knobs(survey, view.at),
        **(lanes or {}),
    }
    start = view.at if changed is survey else None
    at = changed.solve(given, count, start, survey.states.working)
    volts = np.abs(changed.rail_voltage(at, lead.rail))
    volts = np.where(at.solved & view.at.solved, volts, np.nan)
    begins = f"When {lead.part.ref}, which senses {lead.rail}, {what}, the output"
    if np.nanmax(volts, initial=0.0) > limit:
        text = (
            f"{begins} goes to {show(float(np.nanmax(volts)), 'V')}; {show(limit, 'V')} is the "
            "most that is allowed."
        )
        yield WiringFault(lead.part.ref, text, [lead.name])
    elif np.isnan(volts).any():
        text = f"{begins} could not be solved at every point."
        yield WiringFault(lead.part.ref, text, [lead.name], proven=False)
