"""Single faults: what becomes of the output, and of other parts, when one part fails."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import FaultAnswer, FaultCheck
from railwright.checks.fuse_opens import behind
from railwright.circuit.circuit import Part
from railwright.quantity import show
from railwright.standards.iec60115 import OVERLOAD
from railwright.surveys.fault_courses import Outputs, never_above, outputs_with_faults
from railwright.surveys.fault_spread import Extremest, faults_over_the_spread
from railwright.surveys.fixture import SOURCE, stand_in, wired
from railwright.surveys.single_faults import FaultStudy, single_faults
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
MOST_NAMED = 6
"""Faults that a reason names."""
OVERLOADED = 2.0
"""Times its rating that a part is given in the long run before it counts as burning (common
practice, no source)."""
OVERHEATED = 75.0
"""K above its limit at which a junction counts as burning: solder melts about there (common
practice, no source)."""

CINDERS = 773.15
"""K above which no one needs to know how hot a junction would be."""
OVERLOAD_TIME = 5.0
"""s; of the short-time overload of IEC 60115-1."""
DESTROYED = 1.05
"""Times an absolute voltage limit that a part does not survive (common practice, no source)."""
IN_LIMIT = 0.999
"""Share of its limit at which a source is in it."""


class NeverAbove(FaultCheck):
    """No single fault lifts an output above what its load survives."""

    id = "faults.never-above"
    question = "Does the output stay below what the load survives, whatever part fails?"
    unit = "V"
    source = (
        "need.output.never_above; modes of each kind with their shares (RAC FMD-97, "
        "MIL-HDBK-338, as the kinds say)"
    )
    analysis = (
        "margin = never_above - highest voltage at the terminals with any one fault; reserve = "
        "margin / never_above. Every part in every mode of its kind (open, shorted, leaky, "
        "drifted, stuck), at the ends of settings and loads, highest input, hot, with knobs "
        "where they were set before. Latches, comparators and thyristors turn over from the "
        "states of the sound supply. A fault that lifts the output is followed in time for 50 ms "
        "or 1 s. On alternating mains direct sources at the crest of the highest mains stand for "
        "the windings. All other parts typical; deep, the gravest with the worst parts beside."
    )
    example = (
        "A regulator of 5 V from 12 V with a divider of 3 kΩ over 1 kΩ: with the lower resistor"
        " open the output goes to the input less its dropout of 1.3 V, `12 V - 1.3 V = 10.7 V`;"
        " of a never_above of 7 V that leaves `7 V - 10.7 V = -3.7 V`: falls short, with that "
        "resistor as its cause."
    )

    def answers(self, survey: Survey) -> Iterator[FaultAnswer]:
        study, outputs = survey.once(single_faults), survey.once(outputs_with_faults)
        for rail, limit in never_above(survey).items():
            typical = self._answer(study, outputs, rail, limit)
            over_the_spread = survey.once(faults_over_the_spread).get(rail, [])
            yield self._with_worst_parts(study, typical, over_the_spread)

    def _with_worst_parts(
        self, study: FaultStudy, typical: FaultAnswer, found: Sequence[Extremest]
    ) -> FaultAnswer:
        """The answer with the worst parts of the spread, where these are known."""
        if not found or typical.value is None or typical.limit is None:
            return typical
        unknown = [each.mode for each in found if np.isnan(each.value)]
        if unknown and typical.value <= typical.limit:
            because = f"{_not_known(study, unknown, '')} That is with the worst parts."
            return replace(typical, because=because, unknown=True)
        worst = max(found, key=lambda each: np.nan_to_num(each.value))
        if not worst.value > typical.value:
            return typical
        mode = study.modes[worst.mode]
        others = [cause for cause in typical.causes if cause != (mode.ref, mode.words)]
        because = (
            f"With {mode.ref} {mode.words} and the worst parts beside it, it goes to "
            f"{show(worst.value, 'V')}; the load survives {show(typical.limit, 'V')} ({{place}})."
        )
        return replace(
            typical,
            because=because,
            causes=[(mode.ref, mode.words), *(others if typical.value > typical.limit else [])],
            value=worst.value,
            point=worst.point,
        )

    def _answer(self, study: FaultStudy, outputs: Outputs, rail: str, limit: float) -> FaultAnswer:
        highest = outputs.highest[rail]
        by_mode = {n: _worst(highest, study.mode == n) for n in np.unique(study.mode)}
        unknown = [n for n in by_mode if np.isnan(highest[study.mode == n]).any()]
        ranked = sorted(by_mode, key=lambda n: -np.nan_to_num(by_mode[n][0], nan=-np.inf))
        value, lane = by_mode[ranked[0]] if ranked else (float("nan"), -1)
        if not ranked or np.isnan(value):
            return FaultAnswer(rail, _not_known(study, unknown, outputs.missing), unknown=True)
        beyond = [n for n in ranked if by_mode[n][0] > limit] or ranked[:1]
        names = [study.modes[n] for n in beyond[:MOST_NAMED]]
        told = ", ".join(f"{mode.ref} {mode.words}" for mode in names)
        others = len(beyond) - len(names)
        told += f" and {others} more" if others else ""
        because = (
            f"With {told} it goes to {show(value, 'V')}; the load survives {show(limit, 'V')} "
            "({place})."
        )
        if unknown and value <= limit:
            because = _not_known(study, unknown, outputs.missing)
        return FaultAnswer(
            rail,
            because,
            [(mode.ref, mode.words) for mode in names],
            value=value,
            limit=limit,
            point=int(study.point[lane]),
            unknown=bool(unknown),
        )


def _worst(values: Array, where: Mask) -> tuple[float, int]:
    """The highest of some values, and its lane; not-a-number where none is known."""
    lanes = np.flatnonzero(where & np.isfinite(values))
    if not lanes.size:
        return float("nan"), -1
    lane = int(lanes[np.argmax(values[lanes])])
    return float(values[lane]), lane


def _not_known(study: FaultStudy, modes: Sequence[int], missing: str) -> str:
    names = [f"{study.modes[n].ref} {study.modes[n].words}" for n in modes]
    told = ", ".join(names[:MOST_NAMED]) + (" and more" if len(names) > MOST_NAMED else "")
    why = f": {missing}, which tells how it behaves in time" if missing else ""
    return f"How high it goes with {told or 'a fault'} could not be found out{why}."


@dataclass(frozen=True)
class Harmed:
    """A part that burns, or whose voltage it does not survive, because another one has failed."""

    part: Part
    lane: int
    rating: str
    value: float
    limit: float
    ratio: float
    """Over what destroys it."""

    @property
    def burns(self) -> bool:
        """Whether heat is what destroys it."""
        return self.part.device.ratings[self.rating].unit != "V"

    @property
    def words(self) -> str:
        """What it sees, and for a resistor how long it bears that."""
        unit = self.part.device.ratings[self.rating].unit
        seen = show(self.value, unit)
        if unit == "°C" and self.value > CINDERS:
            seen = f"more than {show(CINDERS, unit)}"
        told = f"{self.part.ref} sees {seen} of {show(self.limit, unit)}"
        if unit != "W":
            return told
        return f"{told} and bears that for {show(float(_bears(self.value / self.limit)), 's', 1)}"


class Contained(FaultCheck):
    """A fault ends with the part that failed: it destroys no other one."""

    id = "faults.contained"
    question = "Does every other part survive when one has failed?"
    source = (
        "ratings of the parts; overload of IEC 60115-1; common practice, no source, for when a "
        "part burns or does not survive a voltage"
    )
    analysis = (
        "A part burns where it loses more than twice its rated power for good, or its junction "
        "gets more than 75 K above its limit, with any one other part failed, and nothing acts: "
        "no regulator that shuts down by its own heat, no source that gives up in its limit, no "
        "trip, no fuse that melts before the part has borne it for 5 s (less beyond 6.25 times "
        "its rating). It is destroyed too where a voltage gets to more than 1.05 times its rating "
        "and nothing cuts the supply off, and as a switching regulator that does not survive what "
        "its coil or diode does. What is destroyed makes this marginal, not more: most small "
        "parts open unseen, and no demand of a need is broken; the reason tells which and how."
    )
    example = (
        "A zener of 5.1 V behind 220 Ω on 24 V is shorted: the resistor of 0.6 W takes "
        "`24 V × 24 V / 220 Ω = 2.62 W`, more than `2 × 0.6 W = 1.2 W`: it burns."
    )

    def answers(self, survey: Survey) -> Iterator[FaultAnswer]:
        study = survey.once(single_faults)
        unknown = [n for n in np.unique(study.mode) if not study.solved[study.mode == n].all()]
        by_mode: defaultdict[int, dict[str, str]] = defaultdict(dict)
        causes: dict[str, str] = {}
        for each in survey.once(harmed):
            by_mode[int(study.mode[each.lane])].setdefault(each.part.ref, each.words)
            causes.setdefault(each.part.ref, each.rating)
        for n in np.unique(study.mode):
            carrier = study.modes[n].destroys
            if carrier:
                by_mode[int(n)].setdefault(carrier, f"{carrier} does not survive it")
                causes.setdefault(carrier, study.modes[n].fault.name)
        if by_mode:
            told = [
                f"with {study.modes[n].ref} {study.modes[n].words} {', '.join(words.values())}"
                for n, words in by_mode.items()
            ]
            more = f" and {len(told) - MOST_NAMED} more" if len(told) > MOST_NAMED else ""
            yield FaultAnswer(
                ", ".join(part.ref for part in survey.fixture.circuit.parts if part.ref in causes),
                f"Parts are destroyed that have not failed: {'; '.join(told[:MOST_NAMED])}{more}.",
                list(causes.items()),
                unknown=bool(unknown),
                doubtful=True,
            )
        elif unknown:
            yield FaultAnswer("all parts", _not_known(study, unknown, ""), unknown=True)
        else:
            yield FaultAnswer("all parts", "No single fault destroys another part.")


def harmed(survey: Survey) -> Sequence[Harmed]:
    """Parts that a fault of another one destroys, the worst first; ask for it by `survey.once`."""
    return sorted([*_burning(survey), *_overvoltages(survey)], key=lambda each: -each.ratio)


def _overvoltages(survey: Survey) -> Iterator[Harmed]:
    """Parts whose voltage a fault of another one takes beyond what they survive, at rest."""
    study = survey.once(single_faults)
    counts = study.solved & ~survey.once(outputs_with_faults).elsewhere
    for part in survey.fixture.circuit.parts:
        others = np.array([study.modes[n].ref != part.ref for n in study.mode], bool)
        for rating, limit in part.ratings.items():
            declared = part.device.ratings[rating]
            name = (part.ref, declared.bounds)
            if declared.unit != "V" or declared.lasting or name not in study.rest.observables:
                continue
            value = np.nan_to_num(np.abs(study.rest.of(*name)))
            sound = np.abs(study.sound.of(*name))[study.point]
            ratio = value / (DESTROYED * limit)
            for n in np.flatnonzero(others & counts & (value > sound) & (ratio > 1.0)):
                yield Harmed(part, int(n), rating, float(value[n]), limit, float(ratio[n]))


def _burning(survey: Survey) -> Iterator[Harmed]:
    """Parts that a fault of another one makes burn."""
    study = survey.once(single_faults)
    protected = _source_gives_up(study) | survey.once(outputs_with_faults).elsewhere
    fused = np.min([np.full(study.mode.size, np.inf), *fuses(study).values()], axis=0)
    air = study.points.ambient[study.point]
    for part in survey.fixture.circuit.parts:
        if part.device.protects_itself:
            continue
        others = np.array([study.modes[n].ref != part.ref for n in study.mode], bool)
        for rating, limit in part.ratings.items():
            declared = part.device.ratings[rating]
            name = (part.ref, declared.bounds)
            if declared.unit not in ("W", "°C") or name not in study.rest.observables:
                continue
            value, sound = np.nan_to_num(study.rest.of(*name)), study.sound.of(*name)[study.point]
            if declared.unit == "W":
                ratio, bears = value / (OVERLOADED * limit), _bears(value / limit)
            else:
                ratio = (value - air) / (limit + OVERHEATED - air)
                bears = np.full(value.shape, OVERLOAD_TIME)
            counts = others & study.solved & ~protected & (fused > bears) & (value > sound)
            lanes = np.flatnonzero(counts & (ratio > 1.0))
            for n in lanes:
                yield Harmed(part, int(n), rating, float(value[n]), limit, float(ratio[n]))


def _bears(load: Array | float) -> Array:
    """How long a part bears so many times its rated power [s], at most 5 s.

    That long up to the overload of IEC 60115-1, and beyond it for the same energy.
    """
    most = OVERLOAD * OVERLOAD
    found: Array = OVERLOAD_TIME * most / np.maximum(load, most)
    return found


def in_limit(study: FaultStudy) -> Mask:
    """Lanes in which the source gives no more than the need says it can."""
    limit = study.survey.fixture.design.need.input.limit
    if limit is None or study.survey.fixture.alternating:
        return np.zeros(study.mode.size, bool)
    current = np.nan_to_num(np.abs(study.rest.of(SOURCE, "current")))
    found: Mask = current >= IN_LIMIT * limit.current
    return found


def _source_gives_up(study: FaultStudy) -> Mask:
    """Lanes in which a source is overloaded that tries again and again, or not at all."""
    limit = study.survey.fixture.design.need.input.limit
    gives_up = limit is not None and limit.style in ("hiccup", "latch-off", "fuse")
    return in_limit(study) & gives_up


def _fuse_melts(study: FaultStudy) -> Mask:
    """Lanes in which a fuse melts sooner or later."""
    found = np.zeros(study.mode.size, bool)
    for seconds in fuses(study).values():
        found |= np.isfinite(seconds)
    return found


def fuses(study: FaultStudy) -> Mapping[str, Array]:
    """Ref of each fuse -> when it opens [s], over lanes; infinite where it never does.

    A steady current i opens one after -tau ln(1 - (Im / i)²), see `devices.fuse`.
    """
    found = {}
    for part in study.survey.fixture.circuit.parts:
        if part.kind != "fuse" or "melting_current" not in part.values:
            continue
        least = part.values["melting_current"].spread.typical
        integral = part.values["melting_integral"].spread.typical
        share = least / np.maximum(_through(study, part), 1e-12)
        with np.errstate(invalid="ignore", divide="ignore"):
            seconds = -integral / least**2 * np.log1p(-(share**2))
        found[part.ref] = np.where(share < 1.0, seconds, np.inf)
    return found


def _through(study: FaultStudy, fuse: Part) -> Array:
    """Current of a fuse over lanes [A]; ahead of a transformer by what its secondaries carry.

    Of an alternating short circuit whose crest the stand-in has it is the effective value.
    """
    found = np.abs(study.rest.of(fuse.ref, "current"))
    for part in behind(study.survey, fuse):
        ratio = part.values["turns_ratio"].spread.typical
        for winding in wired(part):
            carried = np.abs(study.rest.of(stand_in(part.ref, winding), "current"))
            found = found + carried / (np.sqrt(2.0) * ratio)
    return found
