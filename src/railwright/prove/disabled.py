"""What keeps a part switched off that should work, or a supply down.

Where the state in which it works is none that the circuit keeps, some gate, comparator or thyristor
leaves it. Of all such states those are taken that a single one leaves while all others stay; who
does is told, since it is what drives that one which looks wrong. So is a part at its inputs that
nothing needs, and without which it would stay.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from railwright.checks.nets import fed_nets, reached
from railwright.checks.wiring import INPUTS
from railwright.circuit.circuit import Part
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import State, combinations, held, two_state_parts
from railwright.prove.proof import Cause, Finding, Looked
from railwright.surveys.rewired import RewiredSurvey, at_every, bridged
from railwright.surveys.states import level
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
LEAVES = 0.5
"""A part that goes farther than this from the state it was held in leaves it."""
DOWN, UP = 0.1, 0.5
"""Of their greatest setting, what rails have at most that are down; and of the most that rails have
in any state, what they have at least in one in which the supply works."""


def findings(
    survey: Survey, off: Sequence[str], depth: str, assumed: Sequence[str]
) -> list[Finding]:
    """One finding for each part that by itself keeps another switched off, or the supply down.

    off: refs of the parts that are switched off when they should work. Where there are none it is
    asked whether the rails come up.
    """
    found = []
    for ref in off or [""]:
        would = f"{ref} would work" if ref else "the rails would come up"
        for part, states in sorted(kept_off_by(survey, ref).items()):
            words = f"{part} in its other state"
            because = (
                f"With {words} all others would stay as they are, and {would}: what drives "
                f"{part}, or {part} itself, looks wrong."
            )
            found.append(_finding(part, words, because, depth, assumed))
            for other in needless(survey, part, states):
                words = f"no {other} at an input of {part}"
                because = (
                    f"With {words} it would stay in the state in which {would}, and nothing else "
                    f"needs {other} there: where it is joined looks wrong."
                )
                found.append(_finding(other, words, because, depth, assumed))
    return found


def kept_off_by(survey: Survey, ref: str = "") -> Mapping[str, Sequence[State]]:
    """The two-state parts that leave states in which a part works and all others stay, with these.

    Without a part it is the rails that work. None where it works in some state that lasts.
    """
    parts = two_state_parts(survey.model)
    trials = combinations(parts)
    if not parts or len(trials) < len(parts) or (not ref and not _is_down(survey)):
        return {}  # or more than are tried in every combination
    at = _held(survey, trials, np.zeros_like(trials))
    works = _working(survey, at, ref)
    if not works.size:
        return {}
    each = np.repeat(works, len(parts))
    free = np.tile(np.eye(len(parts)), works.size)
    alone = _held(survey, trials[:, each], free, at.take(each))
    leaves = ~_stays(alone, parts, trials[:, each]).reshape(works.size, len(parts))
    if (leaves.sum(axis=1) == 0).any():
        return {}  # it works in a state that lasts: its sense is wrong
    found = defaultdict[str, list[State]](list)
    for place in np.flatnonzero(leaves.sum(axis=1) == 1):
        state = dict(zip(parts, trials[:, works[place]].tolist(), strict=True))
        found[parts[int(np.argmax(leaves[place]))]].append(state)
    return found


def _is_down(survey: Survey) -> bool:
    """Whether no state that lasts brings the rails up."""
    start = survey.states.start
    return start is not None and bool(survey.alive(start)[0] < DOWN)


def _working(survey: Survey, at: OperatingPoints, ref: str) -> NDArray[np.intp]:
    """Lanes in which a part is not switched off, and the rails are up as far as they can be."""
    able = at.solved.copy()
    if ref:
        able &= at.of(ref, "enabled") > LEAVES
    alive = np.where(able, survey.alive(at), -np.inf)
    most = alive.max(initial=0.0)
    if not ref and most <= DOWN:
        return np.empty(0, np.intp)
    return np.flatnonzero(alive >= UP * most)


def _stays(at: OperatingPoints, parts: Sequence[str], states: Array) -> NDArray[np.bool_]:
    """Lanes in which all parts are in the states (part, lane) that they were held in."""
    levels = np.array([level(at, part) for part in parts])
    stays: NDArray[np.bool_] = np.all(np.abs(levels - states) < LEAVES, axis=0)
    return stays


def needless(survey: Survey, ref: str, states: Sequence[State]) -> list[str]:
    """Parts at the inputs of one without which some of these states would last.

    Only such as nothing needs: without them all that they are on is fed as before.
    """
    circuits = [bridged(part) for part in _at_inputs(survey, ref)]
    if not circuits:
        return []
    rewired = RewiredSurvey.of(survey, circuits)
    points = survey.range.middle().take(np.zeros(len(states), np.intp))
    points = at_every(points, range(len(circuits)))
    parts = two_state_parts(survey.model)
    wanted = np.tile(np.array([[s[part] for s in states] for part in parts]), len(circuits))
    lanes = rewired.lanes(points, survey.typical(points.count), trim=False)
    bound = rewired.engine(lanes | held(parts, dict(zip(parts, wanted, strict=True))), points.count)
    at = rewired.engine(lanes, points.count, bound)
    lasts = bound.solved & at.solved & _stays(at, parts, wanted)
    good = np.flatnonzero(lasts.reshape(len(circuits), len(states)).any(axis=1))
    return [circuits[number].ref for number in good]


def _at_inputs(survey: Survey, ref: str) -> Iterator[Part]:
    """Parts of two pins at the inputs of another that leave nothing without a feed if they go."""
    circuit, own = survey.fixture.at_rest, survey.fixture.circuit.part(ref)
    firm = fed_nets(circuit) | {survey.fixture.ground}
    inputs = {net for pin, net in own.pins.items() if own.device.pins[pin].role in INPUTS} - firm
    for part in survey.fixture.circuit.parts:
        nets = set(part.pins.values())
        if len(part.pins) == len(nets) == 2 and part.kind != "capacitor" and nets & inputs:
            rest = circuit.without(part.ref)
            if all(reached(rest, net, False, firm) & fed_nets(rest) for net in nets - firm):
                yield part


def _held(
    survey: Survey, states: Array, free: Array, start: OperatingPoints | None = None
) -> OperatingPoints:
    """Two-state parts held in states, or free, (part, lane)."""
    parts, count = two_state_parts(survey.model), states.shape[1]
    points = survey.range.middle().take(np.zeros(count, np.intp))
    lanes = survey.lanes(points, survey.typical(count), trim=False)
    lanes |= held(parts, dict(zip(parts, states, strict=True)))
    lanes |= {(part, "free"): row for part, row in zip(parts, free, strict=True)}
    return survey.engine(lanes, count, start)


def _finding(subject: str, words: str, because: str, depth: str, assumed: Sequence[str]) -> Finding:
    return Finding(
        "design.drive",
        subject,
        "Is there a part that keeps another switched off, or the supply down?",
        "falls short",
        because,
        "every combination of states of gates and comparators, with typical parts",
        looked=Looked(1, 0, 0, depth),
        causes=[Cause(subject, "", 1.0, words)],
        assumed=list(assumed),
    )
