"""Feedback: whether what a regulator looks at is the rail that it makes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import TIED, fed_nets, influenced, near, pins_of_role, reached, returns
from railwright.checks.windows import first_end
from railwright.circuit.circuit import Part
from railwright.devices.device import Role
from railwright.surveys.situations import AS_SET, knobs
from railwright.surveys.survey import Survey

PLAIN: tuple[Role, ...] = ("passive",)
"""Roles of pins between which a resistor, a coil or a wire conducts; a diode may not."""
ACTIVE: tuple[Role, ...] = ("output", "open-collector", "collector", "emitter", "drain", "source")
RAISED = 1e-3
"""Share by which a reference is raised to see whether its rail follows."""
FOLLOWS = 0.1
"""Volts per volt of the reference; a rail that is held follows it at least one to one."""


class Feedback(WiringCheck):
    """Resistors lead from the rail to the feedback pin, or at least the rail follows the reference
    when that is raised: then it is other parts that lead there. No other rail holds the pin.

    The rail of a switching regulator begins behind its coil or its diode.
    """

    id = "wiring.feedback"
    question = "Does the feedback of every regulator come from the rail that it makes?"
    source = "common practice, no source: a loop must be closed around what it holds"
    analysis = (
        "From the net at which a regulator's rail begins, behind its coil where it has one, "
        "resistors must lead to its feedback or adjust pin without passing another rail. Where "
        "none does, its reference is raised by a thousandth: the rail must follow by at least 0.1 "
        "V per volt. A pin that is tied to a wrong rail, by less than 1 Ω, falls short."
    )
    example = (
        "A divider from the input's net instead of the output's: the pin sees `5 V × 1 kΩ / (3 kΩ "
        "+ 1 kΩ) = 1.25 V` of the input whatever the output does, and the rail ignores its "
        "reference."
    )
    good = "The feedback of every regulator comes from its own rail."
    order = 7

    def look(self, survey: Survey) -> WiringAnswer:
        looked, faults = [], []
        for part, pin in pins_of_role(survey.fixture.circuit, "feedback", "adjust"):
            looked.append(part.ref)
            output = _output(survey, part)
            if output is None:
                text = f"Where the rail of {part.ref} begins is not to be told."
                faults.append(WiringFault(part.ref, text, proven=False))
            else:
                faults += self._faults(survey, part, pin, output)
        return WiringAnswer(looked, faults)

    def _faults(self, survey: Survey, part: Part, pin: str, output: str) -> Iterator[WiringFault]:
        circuit, net = survey.fixture.circuit, part.pins[pin]
        causes: tuple[tuple[str, str], ...] = ((part.ref, pin),)
        ends = _ends(survey) - {output}
        tied = _tied(survey, part, pin, output)
        if tied:
            text = f"Pin {pin} of {part.ref} is tied to {tied}: it does not see its rail {output}."
            yield WiringFault(part.ref, text, causes)
            return
        if net in reached(circuit, output, False, ends, PLAIN) or _stands(survey, part, pin):
            return
        causes = (*_astray(survey, net, output, ends), *causes)
        text = f"No resistor leads from {output}, the rail of {part.ref}, to its pin {pin} on {net}"
        if not _driven(survey, part, pin) or net not in influenced(circuit, output, ends, part.ref):
            yield WiringFault(part.ref, f"{text}, nor anything in its stead.", causes)
            return
        follows = survey.once(following)[part.ref]
        if np.isnan(follows):
            text += ", and whether the rail follows the reference could not be solved."
            yield WiringFault(part.ref, text, causes, proven=False)
        elif follows < FOLLOWS:
            yield WiringFault(part.ref, f"{text}, and the rail ignores the reference.", causes)


def _astray(survey: Survey, net: str, output: str, ends: frozenset[str]) -> list[tuple[str, str]]:
    """Resistors that may be meant to lead from the output to a feedback pin: those of the pin that
    end elsewhere, then those of the output."""
    circuit, found = survey.fixture.circuit, []
    home = survey.fixture.ground
    for here, wrong in ((net, set(circuit.nets) - {home, output}), (output, ends)):
        for part, pin in circuit.on_net(here):
            others = {n for p, n in part.pins.items() if p != pin}
            if part.kind == "resistor" and others & wrong:
                found.append((part.ref, pin))
    return found


def _stands(survey: Survey, part: Part, pin: str) -> bool:
    """Whether a regulator stands on a stiff net, by its adjust pin."""
    tied = near(survey.fixture.circuit, [part.pins[pin]], TIED)
    return part.device.pins[pin].role == "adjust" and not _ends(survey).isdisjoint(tied)


def _driven(survey: Survey, part: Part, pin: str) -> bool:
    """Whether something active drives an adjust pin, which follows its rail without a divider."""
    if part.device.pins[pin].role != "adjust":
        return True
    circuit, ends = survey.fixture.circuit, _ends(survey)
    nets = reached(circuit, part.pins[pin], False, ends, PLAIN) - ends
    return any(p.device.pins[each].role in ACTIVE for n in nets for p, each in circuit.on_net(n))


def _output(survey: Survey, part: Part) -> str | None:
    """The net at which the rail of a regulator begins."""
    window = part.device.windows["output_capacitance"]
    return first_end(survey, part, window)


def _ends(survey: Survey) -> frozenset[str]:
    """Nets of stiff voltage: sources, outputs of regulators, returns."""
    return fed_nets(survey.fixture.powered).union(returns(survey.fixture.design.need))


def _tied(survey: Survey, part: Part, pin: str, output: str) -> str:
    """The net that holds a feedback pin though it must not; empty where there is none.

    An adjust pin may be at 0 V or at another rail, on which the regulator then stands.
    """
    circuit = survey.fixture.circuit
    at_pin, own = near(circuit, [part.pins[pin]], TIED), near(circuit, [output], TIED)
    if part.device.pins[pin].role == "adjust":
        wrong = frozenset((output, part.pins.get("input", "")))
    elif part.pins[pin] in own:
        return ""
    else:
        switched = {p.pins[each] for p, each in pins_of_role(circuit, "switch")}
        wrong = (_ends(survey) | switched | {part.pins.get("ground", "")}) - own.keys()
    return min(wrong & at_pin.keys(), default="")


def following(survey: Survey) -> Mapping[str, float]:
    """Regulator -> change of its rail per change of its reference, at the middle of the range."""
    parts = [part for part, _ in pins_of_role(survey.fixture.circuit, "feedback", "adjust")]
    middle = AS_SET.view(survey, survey.range.middle(), survey.typical(1), None)
    stay = {name: np.repeat(place, len(parts)) for name, place in knobs(survey, middle.at).items()}
    points = survey.range.middle().take(np.zeros(len(parts), np.intp))
    lanes = survey.lanes(points, survey.typical(len(parts))) | stay
    start = middle.at.take(np.zeros(len(parts), np.intp))
    raised = {
        (part.ref, "reference"): _reference(part) * (1.0 + RAISED * (np.arange(len(parts)) == lane))
        for lane, part in enumerate(parts)
    }
    before, after = (
        survey.solve(lanes | more, len(parts), start, survey.states.working)
        for more in ({}, raised)
    )
    found = {}
    for lane, part in enumerate(parts):
        output = _output(survey, part)
        if output is not None:
            moved = (after.potential(output) - before.potential(output))[lane]
            found[part.ref] = float(np.abs(moved) / (RAISED * _reference(part)))
    return found


def _reference(part: Part) -> float:
    return part.values["reference"].spread.typical
