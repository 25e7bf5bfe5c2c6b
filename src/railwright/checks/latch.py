"""Latch: the state that a supply comes up in, and what a trip does to its output."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import pins_of_role
from railwright.engine.model import Name, chosen
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import MOST_PARTS, held, two_state_parts
from railwright.quantity import show
from railwright.surveys.depth import DEFAULT
from railwright.surveys.samples import quasi_random
from railwright.surveys.situations import AS_SET, knobs
from railwright.surveys.states import CLEAR, level, state_of
from railwright.surveys.survey import Survey
from railwright.surveys.trips import deciding_comparators, latch_gates, rest_and_trip

RAMP_POINTS = 40
RAMP_SAMPLES = 4
RESCUES, FAR = 4, 1000
"""Rounds of reaching lost lanes from solved ones, and how far another trial counts as away."""
SETTLED = 0.95
"""A rail counts as settled from this share of its final voltage on."""
DOWN = 0.1
"""A tripped output is down below this share of its setting."""


@dataclass(frozen=True)
class Ramp:
    """Stable states of the latch along a slow rise of the input.

    states[sample][point] is the set of gate states that the network keeps there; alive and
    settled tell where the latch's supply is high enough to work, and where it is near its end.
    pulling[point]: comparators that hold a latch input low there, with typical parts.
    """

    gates: tuple[str, ...]
    input: np.ndarray
    states: Sequence[Sequence[set[tuple[float, ...]]]]
    alive: np.ndarray
    settled: np.ndarray
    solved: bool
    pulling: Sequence[tuple[str, ...]]


def ramp(survey: Survey) -> Ramp:
    """Solve every state of the two-state parts along a slow rise of the input from nil.

    A state that the circuit keeps is one that it is still in when it is let go; held there,
    only the held parts have to give way. So none is overlooked as long as all held lanes solve.
    """
    gates = latch_gates(survey)
    inputs = np.linspace(0.0, survey.range.input[-1], RAMP_POINTS + 1)[1:]
    parts = two_state_parts(survey.model)
    trials = np.array(np.meshgrid(*[[0.0, 1.0]] * len(parts))).reshape(len(parts), -1)
    shape = (1 + RAMP_SAMPLES, RAMP_POINTS, trials.shape[1])
    sample, point, trial = np.indices(shape).reshape(3, -1)
    lanes = _ramp_lanes(survey, inputs[point], sample)
    forced = held(parts, {ref: row[trial] for ref, row in zip(parts, trials, strict=True)})
    bound = _bound(survey, {**lanes, **forced}, np.stack([sample, point, trial]))
    freed = survey.solve(lanes, sample.size, bound, reach="first")

    levels = np.array([level(freed, g) for g in gates])
    clear = freed.solved & np.all(np.minimum(levels, 1.0 - levels) < CLEAR, axis=0)
    states: list[list[set[tuple[float, ...]]]] = [
        [set() for _ in range(RAMP_POINTS)] for _ in range(1 + RAMP_SAMPLES)
    ]
    for lane in np.flatnonzero(clear):
        states[sample[lane]][point[lane]].add(tuple(np.round(levels[:, lane])))

    supply = _lowest_supply(freed, gates).reshape(shape)
    lowest: NDArray[np.float64] = np.asarray(np.min(supply, axis=2, initial=np.inf))
    lowest = np.where(np.isfinite(lowest), lowest, 0.0)
    alive: NDArray[np.bool_] = np.asarray(lowest >= max(_supply_minimum(survey, g) for g in gates))
    settled: NDArray[np.bool_] = np.asarray(lowest >= SETTLED * lowest[:, -1:])
    held_everywhere: NDArray[np.bool_] = np.asarray(bound.solved.reshape(shape).all(axis=2))
    some_lane = {int(point[lane]): int(lane) for lane in np.flatnonzero((sample == 0) & clear)}
    pulling = [
        _pulling(survey, freed, some_lane[p], gates) if p in some_lane else ()
        for p in range(RAMP_POINTS)
    ]
    solved = bool(held_everywhere[alive].all())
    return Ramp(gates, inputs, states, alive, settled, solved, pulling)


def _bound(
    survey: Survey, lanes: dict[Name, np.ndarray | float], index: np.ndarray
) -> OperatingPoints:
    """Solutions with all two-state parts held; lanes lost at first are reached from neighbours.

    index: (sample, point, trial) of every lane; neighbours have the same trial.
    """
    from scipy.spatial import cKDTree

    at = survey.solve(lanes, index.shape[1])
    place = (index * np.array([[1], [1], [FAR]])).T
    for _ in range(RESCUES):
        lost, found = np.flatnonzero(~at.solved), np.flatnonzero(at.solved)
        if not lost.size or not found.size:
            break
        nearest = found[cKDTree(place[found]).query(place[lost], p=1)[1]]
        again = survey.solve(chosen(lanes, lost), lost.size, at.take(nearest), reach="near")
        at = at.replaced(lost, again)
    return at


def _ramp_lanes(
    survey: Survey, inputs: np.ndarray, sample: np.ndarray
) -> dict[Name, np.ndarray | float]:
    """Lanes with light loads at these inputs; sample 0 is typical, the others are drawn."""
    uniform = quasi_random(survey.spread.size, RAMP_SAMPLES, 1)
    actual = np.concatenate([survey.typical(1), survey.spread.draw(uniform)], axis=1)
    middle = survey.range.middle().take(np.zeros(inputs.size, np.intp))
    light = {rail: np.full(inputs.size, a[0]) for rail, a in survey.range.loads.items()}
    return survey.lanes(replace(middle, input=inputs, loads=light), actual[:, sample])


def _lowest_supply(at: OperatingPoints, gates: Sequence[str]) -> np.ndarray:
    """The lowest supply of the gates over lanes; infinite where not solved."""
    supplies = np.array([at.of(g, "supply_voltage") for g in gates]).min(axis=0)
    return np.where(np.isnan(supplies), np.inf, supplies)


def _supply_minimum(survey: Survey, ref: str) -> float:
    return survey.fixture.circuit.part(ref).values["supply_minimum"].spread.high


def _pulling(
    survey: Survey, at: OperatingPoints, lane: int, gates: Sequence[str]
) -> tuple[str, ...]:
    circuit = survey.fixture.circuit
    nets = {
        net
        for g in gates
        for pin, net in circuit.part(g).pins.items()
        if circuit.part(g).device.pins[pin].role == "logic-input"
    }
    state = state_of(at, lane)
    return tuple(
        p.ref
        for p in circuit.parts
        if "open-collector" in {p.device.pins[pin].role for pin in p.pins}
        and p.pins.get("output") in nets
        and state.get(p.ref) == 0.0
    )


def _guilty(survey: Survey, found: Ramp, point: int, goal: tuple[float, ...]) -> tuple[str, ...]:
    """Those of the pulling comparators without which the latch could be in the wanted state."""
    middle = survey.range.middle()
    light = {rail: np.array([a[0]]) for rail, a in survey.range.loads.items()}
    points = replace(middle, input=found.input[[point]], loads=light)
    lanes = survey.lanes(points, survey.typical(1))
    guilty = []
    for ref in found.pulling[point]:
        states = survey.stable(lanes | held((ref,), {ref: 1.0})).found
        if any(tuple(state[g] for g in found.gates) == goal for state, _, _ in states):
            guilty.append(ref)
    return tuple(guilty)


class PowerUp(WiringCheck):
    """The network must force the wanted state until its rail settles, and keep it after."""

    id = "overload.power-up"
    question = "Does the latch come up in the state that is wanted?"
    since = DEFAULT
    source = "all stable states along a slow rise of the input; common practice, no source"
    analysis = (
        "The input rises slowly from nil in 40 steps; in each, every state of gates and "
        "comparators is held, solved and let go, with typical parts and 4 samples. Until the "
        "latch's rail has come to 95 % of its end the wanted state must be the only one that is "
        "kept, and a kept one after."
    )
    example = (
        "A comparator whose reference comes up later than what it senses sets the latch on every "
        "rise: the supply comes up off where on is wanted, and falls short with that comparator "
        "as the cause."
    )
    good = (
        "On a slow rise the network forces the wanted state until the latch's rail has settled, "
        "and keeps the latch in it up to the highest input."
    )
    order = 9

    def look(self, survey: Survey) -> WiringAnswer:
        gates = latch_gates(survey)
        wanted = self._wanted(survey)
        if wanted is None or not gates:
            return WiringAnswer([], [])
        subject = gates[0]
        parts = two_state_parts(survey.model)
        if len(parts) > MOST_PARTS:
            text = (
                f"{len(parts)} gates, comparators, thyristors and relays have more states than "
                f"can be tried; {MOST_PARTS} parts can be looked at."
            )
            return WiringAnswer([subject], [WiringFault(subject, text, proven=False)])
        states = survey.once(rest_and_trip)
        target = states.get("trip" if wanted == "off" else "rest")
        if target is None:
            text = f"No state was found in which the output is {wanted}."
            return WiringAnswer([subject], [WiringFault(subject, text, proven=False)])
        state = state_of(*target)
        goal = tuple(state[g] for g in gates)
        fault = self._fault(survey, subject, wanted, goal, ramp(survey))
        return WiringAnswer([subject], [] if fault is None else [fault])

    def _wanted(self, survey: Survey) -> str | None:
        for output in survey.fixture.rails.values():
            if output.overload is not None and output.overload.at_power_up is not None:
                return output.overload.at_power_up
        return None

    def _fault(
        self, survey: Survey, subject: str, wanted: str, goal: tuple[float, ...], found: Ramp
    ) -> WiringFault | None:
        if not found.solved:
            return WiringFault(subject, "Not every point of the rise was solved.", proven=False)
        for sample, row in enumerate(found.states):
            awake = np.flatnonzero(found.alive[sample])
            if not awake.size:
                text = "The latch's supply never gets high enough for it to work."
                return WiringFault(subject, text)
            last = int(np.argmax(found.settled[sample] & found.alive[sample]))
            for point in map(int, awake):
                here = row[point]
                volts = show(float(found.input[point]), "V")
                if not here:
                    text = f"No state of the latch was found while the input rises past {volts}."
                    return WiringFault(subject, text, proven=False)
                if goal not in here:
                    guilty = _guilty(survey, found, point, goal) or found.pulling[point]
                    forced = ", ".join(guilty) or "the network"
                    causes = [(ref, "output") for ref in guilty]
                    text = (
                        f"While the input rises past {volts}, {forced} puts the latch into the "
                        f"other state: the supply does not come up {wanted}, as is wanted."
                    )
                    return WiringFault(subject, text, causes)
                if len(here) > 1 and point <= max(last, int(awake[0])):
                    text = (
                        f"While the input rises past {volts}, the latch can rest in "
                        f"{len(here)} states: which one it takes depends on how fast the rails "
                        "rise, and transients decide that."
                    )
                    return WiringFault(subject, text, proven=False)
        return None


class TakesDown(WiringCheck):
    """While the trip acts, every rail it belongs to is down, at every operating point."""

    id = "overload.takes-down"
    question = "Does a trip take the output down?"
    source = "need.output.overload; operating points with the trip asserted"
    analysis = (
        "With the comparators that trip held in their tripped state, and the latch in its own, "
        "every operating point is solved with typical parts: the output must be below 10 % of its "
        "setting. The cause is what works on, or what senses where nothing trips."
    )
    example = (
        "A trip that disables a post-regulator whose output of 12 V falls to 1.5 V by leakage "
        "through a pass element leaves `1.5 V / 12 V = 12.5 %`: falls short."
    )
    good = "With the trip asserted the output is down at every operating point."
    order = 10

    def look(self, survey: Survey) -> WiringAnswer:
        rails = [
            n
            for n, o in survey.fixture.rails.items()
            if o.overload is not None and o.overload.style == "trip"
        ]
        faults = []
        for rail in rails:
            if rail not in survey.once(deciding_comparators):
                text = "No comparator turns over between a light load and a heavy overload."
                faults.append(WiringFault(rail, f"{text} Nothing trips.", _sensing(survey)))
                continue
            fault = self._fault(survey, rail, survey.once(deciding_comparators)[rail])
            if fault is not None:
                faults.append(fault)
        return WiringAnswer(rails, faults)

    def _fault(
        self, survey: Survey, rail: str, asserted: Mapping[str, float]
    ) -> WiringFault | None:
        before = survey.once(AS_SET.typical)
        points = before.points
        lanes = survey.lanes(points, survey.typical(points.count)) | knobs(survey, before.at)
        states = survey.once(rest_and_trip)
        if "trip" not in states:
            return WiringFault(rail, "No state after a trip was found.", proven=False)
        state = state_of(*states["trip"])
        tripped = states["trip"][0].take(np.array([states["trip"][1]]))
        lanes |= held(tuple(asserted), asserted)
        others = {ref: s for ref, s in state.items() if ref not in asserted}
        at = survey.solve(lanes, points.count, tripped, others)
        left = survey.rail_voltage(at, rail) / points.settings[rail]
        if not at.solved.all():
            text = f"{int((~at.solved).sum())} operating points after a trip were not solved."
            return WiringFault(rail, text, proven=False)
        worst = int(np.argmax(left))
        if left[worst] > DOWN:
            text = (
                f"After {', '.join(asserted)} has tripped, {show(float(left[worst]), '1')} of "
                "the output voltage stays."
            )
            working = [
                (part.ref, pin)
                for part, pin in pins_of_role(survey.fixture.circuit, "enable")
                if "enabled" in part.device.observes and at.of(part.ref, "enabled")[worst] > 0.5
            ]
            return WiringFault(rail, text, working or [(ref, "output") for ref in asserted])
        return None


def _sensing(survey: Survey) -> list[Name]:
    """What tells how much flows; where nothing does, what compares."""
    parts = survey.fixture.circuit.parts
    sensing = [p for p in parts if "sense_voltage" in p.device.observes]
    comparing = [p for p in parts if "difference" in p.device.observes]
    return [(part.ref, "output") for part in sensing or comparing]
