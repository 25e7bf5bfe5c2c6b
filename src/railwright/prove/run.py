"""Proving a design: wiring first, then every check over the range and the spread."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from threading import Event

import numpy as np

from railwright.checks import every, every_wiring
from railwright.checks.check import Check, Mend, WiringAnswer, WiringCheck, WiringFault, Worst
from railwright.circuit.circuit import Circuit, Part, PartValue
from railwright.circuit.design import Design
from railwright.devices import kinds
from railwright.prove import disabled, mistyped, miswired, single_faults
from railwright.prove.causes import shares
from railwright.prove.nets import seen
from railwright.prove.proof import (
    Cause,
    FaultRow,
    Finding,
    Looked,
    MarginMap,
    Proof,
    Share,
    Took,
    Verdict,
)
from railwright.prove.suspects import Suspect, findings, leaking, likely_slips, suspects, tried
from railwright.prove.unasked import cautions, not_asked
from railwright.prove.words import in_words, place_of
from railwright.quantity import Spread
from railwright.standards.statistics import yield_interval
from railwright.surveys.depth import DEEP, DEFAULT, QUICK, Depth
from railwright.surveys.extremes import Answer, Extreme, explore
from railwright.surveys.fixture import Fixture
from railwright.surveys.mains import as_fed, put
from railwright.surveys.operating_range import Choice
from railwright.surveys.situations import AS_SET, Situation, View
from railwright.surveys.survey import Survey

LEAST_SCALE = 1e-12
LEAST_SHARE = 0.01
"""Causes below this share of the spread are not told."""
LEANING = 0.05
"""A finding leans on an assumed spread that makes at least this share of its own."""
MOST_CAUSES = 6
FAULTS = "faults"
"""Family of the questions about single faults."""

SIDE_BY_SIDE = 2
"""Situations at the same time: the engine leaves the interpreter free half of the time."""

Progress = Callable[[str, float], None]
Task = tuple[Check, str]


class _Ended(Exception):
    """Raised in threads whose results nobody waits for any more."""


@dataclass
class _Put:
    """What the questions of one situation brought."""

    findings: list[Finding] = field(default_factory=list)
    suspects: list[Suspect] = field(default_factory=list)
    of_rails: list[miswired.Asked] = field(default_factory=list)
    placed: list[miswired.Placed] = field(default_factory=list)
    on_mains: list[mistyped.Asked] = field(default_factory=list)


class NothingToProve(ValueError):
    """The design is a need without a circuit."""


def prove(
    design: Design,
    *,
    seed: int = 1,
    depth: Depth = DEFAULT,
    only: Collection[str] = (),
    suspecting: bool = True,
    nets: Choice | None = None,
    progress: Progress = lambda stage, share: None,
    announce: Callable[[str], None] | None = None,
) -> Proof:
    """Put every question to a design. NothingToProve where it has no circuit.

    only: ids or families ("headroom") of the questions to put; all where empty. Wiring is always
    looked at, since the other questions stand on it. suspecting: whether values are sought that
    look wrong, where something falls short. nets: the operating point for which the voltage of
    every net is told, beside all that it sees over the range; BeyondRange where that is outside.
    """
    if design.is_need_only:
        raise NothingToProve(f"{design.title}: the file has a need but no parts to prove.")
    proving = _Proving(design, seed, depth, only, suspecting, progress, announce)
    if nets is None:
        return proving.run()
    at = place_of(proving.survey.range.chosen(nets), 0)
    proof = proving.run()
    found = seen(proving.survey, nets)
    return replace(proof, nets=found.nets, losses=found.losses, nets_at=at)


def looked_past(survey: Survey) -> Survey:
    """The survey as questions see it: past the faults of wiring that have a provisional mend."""
    for check in every_wiring():
        if check.since == QUICK:
            for fault in check.look(survey).faults:
                if fault.mend is not None:
                    survey = _past(survey, fault.mend)
    return survey


def _past(survey: Survey, mend: Mend) -> Survey:
    fixture = survey.fixture
    if mend.bridge is not None:
        fixture = fixture.with_circuit(_bridged(fixture.circuit, mend))
    return Survey(
        fixture,
        {**survey.assumptions, **mend.inputs},
        survey.announce,
        survey.effort,
        depth=survey.depth,
    )


class _Proving:
    def __init__(
        self,
        design: Design,
        seed: int,
        depth: Depth,
        only: Collection[str],
        suspecting: bool,
        progress: Progress,
        announce: Callable[[str], None] | None,
    ) -> None:
        self.design = design
        self.seed = seed
        self.depth = depth
        self.only = only
        self.suspecting = suspecting
        self.progress = progress
        self.ended = Event()
        """Set where something went wrong: whatever still runs ends at its next step."""
        self.survey = Survey(Fixture.of(design), announce=announce, depth=depth)
        self.mends: list[str] = []
        self.findings: list[Finding] = []
        self.saved: list[str] = []
        """What the depth does not look at, and what was not wanted."""

    def run(self) -> Proof:
        """Everything in turn."""
        started = time.perf_counter()
        if self.only:
            self.saved.append(f"all but {', '.join(sorted(self.only))}: no more was wanted")
        self._wiring()
        rows = self._checks()
        points, samples = AS_SET.points(self.survey).count, self.depth.samples
        took = Took(time.perf_counter() - started, points, samples, self.survey.effort.lanes)
        return Proof(
            self.design.title,
            self.seed,
            self.findings,
            [*self.saved, *not_asked(self.design)],
            cautions(self.design),
            took,
            rows,
        )

    def _tell(self, stage: str, share: float) -> None:
        if self.ended.is_set():
            raise _Ended
        self.progress(stage, share)

    def _wants(self, id: str) -> bool:
        return not self.only or id in self.only or id.partition(".")[0] in self.only

    def _faults(self) -> tuple[Sequence[Finding], Sequence[FaultRow]]:
        self._tell("single faults", 0.0)
        found = list(single_faults.findings(self.survey, self.mends))
        rows = single_faults.table(self.survey)
        self._tell("single faults", 1.0)
        return found, rows

    def _wiring(self) -> None:
        wanted = [c for c in every_wiring() if c.since == QUICK or self._wants(c.id)]
        checks = [check for check in wanted if self.depth.covers(check.since)]
        dear = [check for check in wanted if not self.depth.covers(check.since)]
        self.saved += [_beyond(check.since, [check.id]) for check in dear]
        driven = self.suspecting and self.depth.covers(DEFAULT)
        is_off = False
        for done, check in enumerate(checks):
            self._tell("wiring", done / len(checks))
            before = self.survey.effort.lanes
            answer = check.look(self.survey)
            lanes = self.survey.effort.lanes - before
            self.findings += _wiring_findings(check, answer, lanes, self.depth.name, self.mends)
            off = [fault.subject for fault in answer.faults if fault.off]
            if off and driven:
                is_off = True
                self._driving(off)
            for fault in answer.faults:
                if fault.mend is not None:
                    self._assume(fault.mend)
        if driven and not is_off:
            self._driving([])
        self._tell("wiring", 1.0)

    def _driving(self, off: Sequence[str]) -> None:
        """What keeps parts off, or the supply down."""
        self.findings += disabled.findings(self.survey, off, self.depth.name, self.mends)

    def _assume(self, mend: Mend) -> None:
        """Look past a fault for the questions that follow."""
        self.mends.append(mend.words)
        self.survey = _past(self.survey, mend)

    def _checks(self) -> Sequence[FaultRow]:
        """Situations side by side, single faults beside them; what they bring in their order."""
        by_situation = self._tasks()
        with ThreadPoolExecutor(SIDE_BY_SIDE, thread_name_prefix="situations") as pool:
            try:
                faults = pool.submit(self._faults) if self._asks_faults() else None
                put = list(pool.map(self._put, by_situation, by_situation.values()))
                found, rows = faults.result() if faults else ((), ())
            except BaseException:
                self.ended.set()
                raise
        self.findings += [each for one in put for each in one.findings]
        self._suspect(put)
        self.findings += found
        return rows

    def _tasks(self) -> Mapping[Situation, Sequence[Task]]:
        """What is to be asked in each situation; what is not is noted."""
        by_situation: defaultdict[Situation, list[Task]] = defaultdict(list)
        beyond: defaultdict[Situation, list[str]] = defaultdict(list)
        for check in every():
            if not self._wants(check.id):
                continue
            situation = as_fed(self.survey, check.situation)
            if not self.depth.covers(situation.since):
                if situation.applies(self.survey):
                    beyond[situation].append(check.id)
                continue
            for subject in check.subjects(self.survey):
                missing = check.missing(self.survey, subject)
                if missing:
                    self.findings.append(self._unproven(check, subject, missing))
                else:
                    by_situation[situation].append((check, subject))
        self.saved += [_beyond(situation.since, ids) for situation, ids in beyond.items()]
        if not self.depth.samples:
            self.saved.append(f"samples of the spread, {DEFAULT.samples} of them (default)")
        if not self.depth.covers(DEEP):
            ids = {c.id for s, tasks in by_situation.items() if s.deep for c, _ in tasks}
            if ids:
                told = f"{', '.join(sorted(ids))} over more of the spread ({DEEP.name})"
                self.saved.append(told)
        return by_situation

    def _asks_faults(self) -> bool:
        if not self._wants(FAULTS):
            return False
        self.saved += single_faults.left_out(self.design, self.depth)
        return single_faults.asked(self.design, self.depth)

    def _suspect(self, put: Sequence[_Put]) -> None:
        """Values and wires that look wrong, where something falls short."""
        depth, mends = self.depth.name, self.mends
        self.findings += findings([s for one in put for s in one.suspects], depth, mends)
        if self.suspecting and self.depth.covers(DEFAULT):
            on_mains = [each for one in put for each in one.on_mains]
            of_rails = [each for one in put for each in one.of_rails]
            placed = [each for one in put for each in one.placed]
            self.findings += mistyped.findings(self.survey, on_mains, depth, mends)
            self.findings += miswired.of_rails(self.survey, of_rails, depth, mends)
            self.findings += miswired.around_parts(self.survey, placed, depth, mends)

    def _out_of_reach(self, situation: Situation) -> str:
        if not situation.applies(self.survey):
            return f"the situation '{situation.name}' does not arise in this circuit."
        return situation.unready(self.survey)

    def _put(self, situation: Situation, tasks: Sequence[Task]) -> _Put:
        put = _Put()
        reason = self._out_of_reach(situation)
        if reason:
            put.findings = [self._unproven(*task, reason) for task in tasks]
            return put
        questions = {_key(task): partial(_ask, *task) for task in tasks}
        progress = partial(self._tell, situation.name)
        found = explore(self.survey, situation, questions, self.seed, progress)
        asked = {_key(task): (task[0].id, task[1], questions[_key(task)]) for task in tasks}
        several = tried(self.survey, situation, asked, found) if self.suspecting else {}
        slips = likely_slips(self.survey, several)
        put.suspects += suspects(self.survey, situation, several)
        if self.suspecting:
            put.suspects += leaking(self.survey, situation, asked, found)
        put.of_rails += miswired.asked_of_rails(self.survey, situation, asked, found, several)
        for task in tasks:
            question, extreme = questions[_key(task)], found[_key(task)]
            causes = shares(self.survey, situation, question, extreme)
            extreme = replace(extreme, shares=causes)
            if np.isposinf(extreme.vertex).all():
                continue
            if mistyped.is_asked(situation, extreme):
                what = f"{task[0].id} of {task[1]}"
                put.on_mains.append(mistyped.Asked(situation, what, question, extreme))
            if task[0].sought(self.survey, task[1]) and np.isfinite(extreme.margin):
                put.placed.append(miswired.Placed(*task, extreme))
            put.findings.append(self._judged(*task, extreme, slips.get(_key(task))))
        return put

    def _judged(self, check: Check, subject: str, extreme: Extreme, slip: Cause | None) -> Finding:
        place = place_of(extreme.points, extreme.worst)
        worst = Worst(extreme.value, extreme.limit, extreme.margin, in_words(place), extreme.lane)
        causes = self._causes(extreme)
        if slip is not None:
            causes = [slip, *causes]
        known = np.isfinite(extreme.margin)
        reserve = None
        if known:
            scale = max(check.scale(self.survey, subject, worst), LEAST_SCALE)
            reserve = extreme.margin / scale
        wanted = check.wanted(self.survey)
        verdict = _verdict(extreme, reserve, wanted, self._yield_wanted())
        because = check.because(self.survey, subject, worst) if known else ""
        if verdict == "not proven":
            because = f"{_unknown(extreme, check.doubt(self.survey), worst.place)} {because}"
        elif slip is not None:
            because = f"{because} With {slip.instead} at {slip.part} it would hold."
        situation = as_fed(self.survey, check.situation)
        return Finding(
            check.id,
            subject,
            check.question,
            verdict,
            because.strip(),
            check.source,
            check.unit_of(self.survey, subject),
            extreme.value if known else None,
            extreme.limit if known else None,
            extreme.margin if known else None,
            reserve,
            place,
            _passing(extreme),
            Looked(extreme.points.count, _drawn(extreme), extreme.lanes, self.depth.name),
            causes,
            [
                *self._leaning(extreme),
                *situation.assumes(self.survey),
                *self.mends,
            ],
            _map(extreme),
            extreme.samples[0] if extreme.samples.size else None,
            check.curves(extreme.lane, subject) if known else (),
            wanted=wanted,
        )

    def _yield_wanted(self) -> float | None:
        return self.design.need.parts.yield_

    def _shares(self, extreme: Extreme) -> Mapping[tuple[str, str], float]:
        shares: defaultdict[tuple[str, str], float] = defaultdict(float)
        for quantity, share in zip(extreme.quantities, extreme.shares, strict=True):
            for name in quantity.moves:
                shares[name] += float(share) / len(quantity.moves)
        return shares

    def _causes(self, extreme: Extreme) -> list[Cause]:
        ranked = sorted(self._shares(extreme).items(), key=lambda item: -item[1])
        return [Cause(r, v, s) for (r, v), s in ranked[:MOST_CAUSES] if s >= LEAST_SHARE]

    def _leaning(self, extreme: Extreme) -> list[str]:
        circuit = self.survey.fixture.circuit
        return [
            f"{ref}.{value}"
            for (ref, value), share in self._shares(extreme).items()
            if share >= LEANING and circuit.part(ref).values[value].assumed
        ]

    def _unproven(self, check: Check, subject: str, reason: str) -> Finding:
        return Finding(
            check.id,
            subject,
            check.question,
            "not proven",
            f"Not looked at: {reason}",
            check.source,
            check.unit_of(self.survey, subject),
            looked=Looked(0, 0, 0, self.depth.name),
            assumed=self.mends,
        )


def _beyond(since: Depth, ids: Sequence[str]) -> str:
    """What is left out for its cost, and the depth at which it is looked at."""
    return f"{', '.join(ids)} ({since.name})"


def _map(extreme: Extreme) -> MarginMap | None:
    """The margins over the axes of the points; None where these are not all their combinations."""
    points = extreme.points
    places = {
        **{f"output {rail}": setting for rail, setting in points.settings.items()},
        **{f"load {rail}": load for rail, load in points.loads.items()},
        "input": points.input,
        "ambient": points.ambient,
    }
    axes = {name: np.unique(place) for name, place in places.items()}
    shape = [axis.size for axis in axes.values()]
    if np.prod(shape) != points.count:
        return None
    index = [np.searchsorted(axes[name], place) for name, place in places.items()]
    order = np.ravel_multi_index(index, shape)
    if np.unique(order).size != points.count:
        return None
    margins = np.empty(points.count)
    margins[order] = extreme.vertex
    return MarginMap(axes, margins.reshape(shape))


def _key(task: Task) -> str:
    check, subject = task
    return f"{check.id} {subject}"


def _ask(check: Check, subject: str, view: View) -> Answer:
    return put(partial(check.answer, subject=subject), view)


def _verdict(
    extreme: Extreme, reserve: float | None, wanted: float, yield_wanted: float | None
) -> Verdict:
    passing = _passing(extreme)
    if yield_wanted is None or passing is None or not _tells(passing.samples, yield_wanted):
        short = reserve is not None and reserve < 0
    else:
        # A sample that was not solved counts as one that does not pass: that is no shortfall yet.
        short = passing.low < yield_wanted and not np.isnan(extreme.samples).any()
    if short:
        return "falls short"
    if reserve is None or extreme.unsolved:
        return "not proven"
    return "marginal" if reserve < wanted else "holds"


def _unknown(extreme: Extreme, doubt: str, place: str) -> str:
    """Why a margin is not known; doubt: what is so of lanes that were solved and not judged."""
    unsolved = extreme.unsolved - extreme.unjudged
    told = {"could not be solved": unsolved, doubt: extreme.unjudged}
    some = [f"{n} of {extreme.lanes} lanes {words}" for words, n in told.items() if n]
    if some:
        return f"{', '.join(some)}, first at {place}."
    return (
        f"All {extreme.lanes} lanes were solved, but the lowest margin among others is not found "
        f"in its lane by itself: {place}."
    )


def _tells(samples: int, wanted: float) -> bool:
    """Whether so many samples can show a yield at all: by passing, every one of them."""
    return yield_interval(samples, samples).low >= wanted


def _drawn(extreme: Extreme) -> int:
    """Samples at each worst point; none where no margin is known at any point."""
    return extreme.samples.shape[1] if extreme.samples.size else 0


def _passing(extreme: Extreme) -> Share | None:
    """The share of samples that pass at the worst sampled point, with its exact interval."""
    count = _drawn(extreme)
    if not count:
        return None
    passes = [(row >= 0).sum() for row in extreme.samples]
    good = int(min(passes))
    found = yield_interval(good, count)
    return Share(found.estimate, found.low, found.high, count)


def _bridged(circuit: Circuit, mend: Mend) -> Circuit:
    assert mend.bridge is not None
    one, two, resistance = mend.bridge
    value = PartValue(Spread.exact(resistance), "Ω", mend.words, False)
    part = Part(
        f"assumed: {mend.words}",
        "resistor",
        kinds()["resistor"],
        {"one": one, "two": two},
        {"resistance": value},
        {},
        {},
    )
    return circuit.with_part(part)


def _wiring_findings(
    check: WiringCheck, answer: WiringAnswer, lanes: int, depth: str, mends: Sequence[str]
) -> list[Finding]:
    looked = Looked(len(answer.looked), 0, lanes, depth)
    if answer.faults:
        return [_wiring_finding(check, fault, looked, mends) for fault in answer.faults]
    if not answer.looked:
        return []
    subject = ", ".join(answer.looked[:4]) + (" ..." if len(answer.looked) > 4 else "")
    return [
        Finding(
            check.id,
            subject,
            check.question,
            "holds",
            check.good,
            check.source,
            looked=looked,
            assumed=list(mends),
        )
    ]


def _wiring_finding(
    check: WiringCheck, fault: WiringFault, looked: Looked, mends: Sequence[str]
) -> Finding:
    causes = [Cause(ref, value, 1.0 / len(fault.causes)) for ref, value in fault.causes]
    return Finding(
        check.id,
        fault.subject,
        check.question,
        "falls short" if fault.proven else "not proven",
        fault.because,
        check.source,
        looked=looked,
        causes=causes,
        assumed=list(mends),
    )
