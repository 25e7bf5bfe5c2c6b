"""Single faults as findings, and as a table that a reviewer can read.

The table is after the idea of MIL-STD-1629A: item, mode, how often, local effect, effect on the
output, severity, what detects it. Its severity classes are that standard's four, put in terms of a
supply (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railwright.checks import every_faults
from railwright.checks.check import FaultAnswer, FaultCheck
from railwright.checks.faults import Harmed, fuses, harmed, in_limit
from railwright.circuit.circuit import Part
from railwright.circuit.design import Design
from railwright.prove.proof import Cause, FaultRow, Finding, Looked, Severity, Verdict
from railwright.prove.words import in_words, place_of
from railwright.quantity import show
from railwright.surveys.courses import unfed
from railwright.surveys.depth import DEEP, DEFAULT, Depth
from railwright.surveys.fault_courses import Outputs, never_above, outputs_with_faults
from railwright.surveys.fault_modes import FaultMode
from railwright.surveys.fixture import transforms
from railwright.surveys.single_faults import FaultStudy, single_faults
from railwright.surveys.survey import Survey
from railwright.surveys.trips import latch_gates

Array = NDArray[np.float64]
DEAD = 0.1
"""Share of its voltage below which an output counts as gone."""
ASTRAY = 0.05
"""Share by which an output may move before a person sees that it is wrong (common practice, no
source)."""
NOTICED = 0.01
"""Share of the highest input by which a net has to move, to be told."""
LIT = 3.0
"""Ratio of currents by which an indicator is seen to change."""
POWERED = 0.5
"""Share of its supply below which what a latch does means nothing."""
SHUT_DOWN = 25.0
"""K above the limit of its junction at which a regulator shuts down by itself (from memory)."""


def asked(design: Design, depth: Depth) -> bool:
    """Whether single faults are looked at: where a need asks for them, deep everywhere."""
    stated = any(output.never_above is not None for output in design.need.output)
    return depth.covers(DEFAULT if stated else DEEP)


def left_out(design: Design, depth: Depth) -> Iterator[str]:
    """What is not looked at of single faults."""
    if not asked(design, depth):
        since = DEFAULT if asked(design, DEFAULT) else DEEP
        yield f"{', '.join(check.id for check in every_faults())} ({since.name})"
    else:
        if not depth.covers(DEEP):
            yield f"faults.never-above over the spread of the parts ({DEEP.name})"
        replaced = [part.ref for part in design.circuit.parts if transforms(part)]
        if design.need.input.kind == "ac" and replaced:
            yield f"single faults of {', '.join(replaced)}, for which direct sources stand"
        yield "what changes only in time when a part fails: ripple, stability"


def findings(survey: Survey, assumed: Sequence[str]) -> Iterator[Finding]:
    """Every question about single faults."""
    study, told = survey.once(single_faults), survey.once(unfed)
    for check in every_faults():
        answers = check.answers(survey)
        if told:
            answers = (FaultAnswer(rail, told, unknown=True) for rail in survey.fixture.rails)
        for answer in answers:
            yield _finding(study, check, answer, assumed)


def _finding(
    study: FaultStudy, check: FaultCheck, answer: FaultAnswer, assumed: Sequence[str]
) -> Finding:
    margin = reserve = place = None
    if answer.value is not None and answer.limit is not None and np.isfinite(answer.value):
        margin = answer.limit - answer.value
        reserve = margin / answer.limit
    if answer.point is not None:
        place = place_of(study.points, answer.point)
    told = "" if place is None else in_words(place)
    lanes = study.mode.size
    return Finding(
        check.id,
        answer.subject,
        check.question,
        _verdict(study.survey, answer, reserve),
        answer.because.format(place=told) if place is not None else answer.because,
        check.source,
        check.unit,
        answer.value,
        answer.limit,
        margin,
        reserve,
        place,
        looked=Looked(study.points.count, 0, lanes, study.survey.depth.name),
        causes=[Cause(ref, what, 1.0 / len(answer.causes)) for ref, what in answer.causes],
        assumed=list(assumed),
    )


def _verdict(survey: Survey, answer: FaultAnswer, reserve: float | None) -> Verdict:
    if reserve is not None and reserve < 0:
        return "falls short"
    if answer.unknown:
        return "not proven"
    wanted = survey.fixture.design.need.parts.reserve
    return "marginal" if answer.doubtful or (reserve is not None and reserve < wanted) else "holds"


def table(survey: Survey) -> list[FaultRow]:
    """One row for each mode of each part, in the order of the design."""
    rows = _Rows(survey)
    return [rows.row(number) for number in range(len(rows.study.modes))]


@dataclass(frozen=True)
class _Rows:
    survey: Survey

    @cached_property
    def study(self) -> FaultStudy:
        return self.survey.once(single_faults)

    @cached_property
    def outputs(self) -> Outputs:
        return self.survey.once(outputs_with_faults)

    @cached_property
    def harmed(self) -> Mapping[int, list[Harmed]]:
        """Other parts that are destroyed, by lane."""
        found: dict[int, list[Harmed]] = {}
        for each in self.survey.once(harmed):
            found.setdefault(each.lane, []).append(each)
        return found

    @cached_property
    def rested(self) -> Mapping[str, Array]:
        """Voltage of each rail in the end (lane), of lanes followed in time theirs [V]."""
        found = {}
        for rail in self.survey.fixture.rails:
            found[rail] = self.survey.rail_voltage(self.study.rest, rail).copy()
            if self.outputs.followed.size:
                found[rail][self.outputs.followed] = self.outputs.last[rail]
        return found

    @cached_property
    def sound(self) -> Mapping[str, Array]:
        """Voltage of each rail without a fault (lane) [V]."""
        at, point = self.study.sound, self.study.point
        return {r: self.survey.rail_voltage(at, r)[point] for r in self.survey.fixture.rails}

    def row(self, number: int) -> FaultRow:
        """All that is known of one mode."""
        mode = self.study.modes[number]
        part = self.survey.fixture.circuit.part(mode.ref)
        lanes = np.flatnonzero(self.study.mode == number)
        if not lanes.size:
            return FaultRow(
                mode.ref,
                mode.words,
                mode.fault.share,
                "none at rest",
                "none at rest; what changes in time is not looked at",
                "not looked at",
                "",
            )
        highest = {
            rail: float(np.max(values[lanes])) for rail, values in self.outputs.highest.items()
        }
        if not self.study.solved[lanes].all() or any(map(np.isnan, highest.values())):
            text = "not known: no state at rest was found, or it could not be followed in time"
            return FaultRow(
                mode.ref, mode.words, mode.fault.share, mode.because or "", text, "not known", ""
            )
        worst = self._worst_lane(lanes)
        return FaultRow(
            mode.ref,
            mode.words,
            mode.fault.share,
            "; ".join(filter(None, [mode.because, self._local(part, worst)])),
            self._effect(lanes, highest),
            self._severity(mode, lanes, highest),
            self._seen(mode.ref, lanes),
            highest,
            place_of(self.study.points, int(self.study.point[worst])),
        )

    def _moved(self, lanes: NDArray[np.intp]) -> dict[str, Array]:
        """By which share of what was set each rail has moved, with its sign."""
        return {
            rail: (self.rested[rail] - self.sound[rail])[lanes] / np.abs(self.sound[rail][lanes])
            for rail in self.rested
        }

    def _worst_lane(self, lanes: NDArray[np.intp]) -> int:
        """Where the highest output is; where none rises, where one moves most."""
        moved = np.array(list(self._moved(lanes).values()))
        high, far = moved.max(axis=0), np.abs(moved).max(axis=0)
        place = np.argmax(high) if high.max() > ASTRAY else np.argmax(far)
        return int(lanes[place])

    def _local(self, part: Part, lane: int) -> str:
        """What becomes of the nets that the part is on, where that is a state of rest."""
        if self.outputs.elsewhere[lane]:
            return "something acts before its nets come to rest"
        point = int(self.study.point[lane])
        nets = dict.fromkeys(
            net for pin, net in part.pins.items() if part.device.pins[pin].role != "thermal"
        )
        least = NOTICED * self.survey.range.input[-1]
        told = []
        for net in nets:
            was = float(self.study.sound.potential(net)[point])
            now = float(self.study.rest.potential(net)[lane])
            if abs(now - was) > least:
                told.append(f"{net} from {show(was, 'V')} to {show(now, 'V')}")
        return ", ".join(told) or "no net of it moves"

    def _effect(self, lanes: NDArray[np.intp], highest: Mapping[str, float]) -> str:
        found = []
        for rail, moved in self._moved(lanes).items():
            limit = never_above(self.survey).get(rail)
            texts = []
            if limit is not None and highest[rail] > limit:
                texts.append(f"goes to {show(highest[rail], 'V')}, above {show(limit, 'V')}")
            up, down = int(np.argmax(moved)), int(np.argmin(moved))
            if not texts and moved[up] > ASTRAY:
                texts.append(self._from_to("rises", rail, lanes[up]))
            reached = max(self.sound[rail][lanes].max(), self.rested[rail][lanes].max())
            if highest[rail] > (1.0 + ASTRAY) * reached and (
                limit is None or highest[rail] <= limit
            ):
                texts.append(f"gets to {show(highest[rail], 'V')} on the way")
            if moved[down] < DEAD - 1.0:
                everywhere = bool((moved < DEAD - 1.0).all())
                texts.append("is gone" if everywhere else f"is gone at {self._at(lanes[down])}")
            elif moved[down] < -ASTRAY:
                texts.append(self._from_to("falls", rail, lanes[down]))
            if self.study.restless[lanes].any():
                texts.append("comes and goes")
            if texts:
                found.append(f"{rail} {', '.join(texts)}")
        return "; ".join(found) or "none"

    def _from_to(self, word: str, rail: str, lane: int) -> str:
        was, now = self.sound[rail][lane], self.rested[rail][lane]
        return f"{word} from {show(float(was), 'V')} to {show(float(now), 'V')}"

    def _at(self, lane: int) -> str:
        return in_words(place_of(self.study.points, int(self.study.point[lane])))

    def _resting(self, lanes: NDArray[np.intp]) -> NDArray[np.intp]:
        """Lanes whose state at rest is where they end."""
        return lanes[~self.outputs.elsewhere[lanes]]

    def _severity(
        self, mode: FaultMode, lanes: NDArray[np.intp], highest: Mapping[str, float]
    ) -> Severity:
        limits = never_above(self.survey)
        if any(highest[rail] > limit for rail, limit in limits.items()):
            return "I"
        if mode.destroys or any(int(lane) in self.harmed for lane in lanes):
            return "II"
        moved = np.array(list(self._moved(lanes).values()))
        hot = [
            part.ref
            for part in self.survey.fixture.circuit.parts
            if part.device.protects_itself and part.ref != mode.ref and self._too_hot(part, lanes)
        ]
        if hot or (np.abs(moved) > ASTRAY).any() or self.study.restless[lanes].any():
            return "III"
        return "IV"

    def _seen(self, ref: str, lanes: NDArray[np.intp]) -> str:
        """What acts, and what the person who uses the supply can see."""
        told = [*self._acts(ref, lanes), *self._shown(ref, lanes)]
        for rail, moved in self._moved(lanes).items():
            if (moved < DEAD - 1.0).all():
                told.append(f"{rail} has no output")
            elif (np.abs(moved) > ASTRAY).any():
                told.append(f"{rail} reads wrong")
        hit = [each for lane in lanes for each in self.harmed.get(int(lane), ())]
        hit.sort(key=lambda each: each.ratio)
        burnt = {each.part.ref: each.words for each in hit if each.burns}
        told += [f"burns: {words}" for words in burnt.values()]
        beyond = {
            f"{each.part.ref} ({each.rating.replace('_', ' ')})" for each in hit if not each.burns
        }
        if beyond:
            told.append(f"beyond their limit: {', '.join(sorted(beyond))}")
        return "; ".join(told) or "nothing: it stays hidden"

    def _acts(self, ref: str, lanes: NDArray[np.intp]) -> Iterator[str]:
        circuit = self.survey.fixture.circuit
        for fuse, seconds in self._melts.items():
            soonest = float(np.min(seconds[lanes]))
            if np.isfinite(soonest) and fuse != ref:
                yield f"{fuse} melts within {show(soonest, 's')}"
        limit = self.survey.fixture.design.need.input.limit
        if limit is not None and in_limit(self.study)[self._resting(lanes)].any():
            yield f"the source is overloaded ({limit.style.replace('-', ' ')})"
        if any(self._latched(each, lanes) for each in self._latches if each != ref):
            yield "the latch trips"
        for part in circuit.parts:
            if part.kind == "thyristor" and part.ref != ref:
                if self._fires(part.ref, lanes):
                    yield f"{part.ref} fires"
            elif part.kind == "relay" and part.ref != ref:
                turned = self._turned(part.ref, lanes)
                if (np.abs(turned) > 0.5).any():
                    yield f"{part.ref} {'pulls in' if turned.max() > 0.5 else 'drops out'}"
            elif part.device.protects_itself and part.ref != ref and self._too_hot(part, lanes):
                yield f"{part.ref} shuts down by its own heat"

    def _fires(self, ref: str, lanes: NDArray[np.intp]) -> bool:
        """Whether a part that rests without the fault is active at any time."""
        reached = self.study.reached[ref].copy()
        if self.outputs.followed.size:
            reached[self.outputs.followed] = self.outputs.reached[ref]
        return bool((reached[lanes] - self.study.sound_level(ref)[lanes] > 0.5).any())

    def _latched(self, ref: str, lanes: NDArray[np.intp]) -> bool:
        """Whether a gate of a latch turns over, while it has its supply."""
        study = self.study
        fed = study.rest.of(ref, "supply_voltage")[lanes]
        was = study.sound.of(ref, "supply_voltage")[study.point[lanes]]
        turned = np.abs(self._turned(ref, lanes)) > 0.5
        return bool((turned & (fed > POWERED * was)).any())

    def _too_hot(self, part: Part, lanes: NDArray[np.intp]) -> bool:
        return bool(self._hot[part.ref][self._resting(lanes)].any())

    @cached_property
    def _hot(self) -> Mapping[str, NDArray[np.bool_]]:
        """Ref of each part that protects itself -> lanes in which it has to."""
        found = {}
        for part in self.survey.fixture.circuit.parts:
            if part.device.protects_itself:
                limit = part.ratings.get("junction_limit", np.inf)
                junction = np.nan_to_num(self.study.rest.of(part.ref, "junction"))
                found[part.ref] = junction > limit + SHUT_DOWN
        return found

    def _turned(self, ref: str, lanes: NDArray[np.intp]) -> Array:
        found: Array = self._all_turned[ref][lanes]
        return found

    @cached_property
    def _all_turned(self) -> Mapping[str, Array]:
        """Ref of each two-state part -> by how much more active it ends, over lanes."""
        found = {}
        for ref in self.study.reached:
            found[ref] = self.study.turned_over(ref)
            if self.outputs.followed.size:
                sound = self.study.sound_level(ref)[self.outputs.followed]
                ends = np.clip(self.outputs.states[ref], 0.0, 1.0)
                found[ref][self.outputs.followed] = ends - sound
        return found

    @cached_property
    def _melts(self) -> Mapping[str, Array]:
        return fuses(self.study)

    @cached_property
    def _latches(self) -> tuple[str, ...]:
        return latch_gates(self.survey)

    def _shown(self, ref: str, lanes: NDArray[np.intp]) -> Iterator[str]:
        """Indicators that change."""
        for part in self.survey.fixture.circuit.parts:
            if part.kind != "light-emitting-diode" or part.ref == ref:
                continue
            now = np.maximum(self.study.rest.of(part.ref, "current")[lanes], 1e-6)
            was = np.maximum(self.study.sound.of(part.ref, "current"), 1e-6)
            ratio = now / was[self.study.point[lanes]]
            if (ratio > LIT).any():
                yield f"{part.ref} lights"
            elif (ratio < 1.0 / LIT).any():
                yield f"{part.ref} goes out"
