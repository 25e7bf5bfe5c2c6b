"""A supply that switches, cycle by cycle: its periodic steady state at the operating points."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, Self

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Circuit
from railwright.engine.cycle import UNDECIDED, Cycle, Stretch, cycle
from railwright.engine.model import MissingValue, Name
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.solutions import OperatingPoints
from railwright.engine.topology import Topology
from railwright.engine.transient import Tolerance
from railwright.engine.waveforms import Watch
from railwright.surveys.courses import capacitances
from railwright.surveys.depth import DEFAULT
from railwright.surveys.fixture import terminals
from railwright.surveys.operating_range import Points
from railwright.surveys.positions import placed
from railwright.surveys.situations import AS_SET, Situation, Thrift, View, Which
from railwright.surveys.spread import unpublished_loops
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Kept = Literal["lowest", "highest", "mean", "rms", "ripple"]
Rows = Mapping[tuple[Kept, Name], Array]
TICK = "tick"
"""What a part with a clock of its own sets once in each cycle."""
PULSE = "coil_peak"
"""What it observes of the last pulse: nil from a tick on that comes without one."""
PHASES = 128
"""Instants of a cycle that are looked at, so that harmonics up to `BAND` can be told."""
BAND = 2e6
"""Hz; ripple is the switching frequency with its harmonics up to here, spikes are beyond."""
MOST_SHOWN = 8 * PHASES
"""Instants of a waveform that are shown where it does not repeat."""
TOGETHER = 128
"""Lanes whose waveforms are in memory at the same time."""
MOVED = {"coil": "coil at its switch pin", "flying": "capacitor between its switches"}
"""Links of what switches by a clock to the part by which it moves charge from cycle to cycle."""
TAKES_PART = 0.01
"""A disturbance that moves that part's current or charge by less than this, of what it moves most,
is no matter of the regulator's: the idle current of some auxiliary rail, say."""
FOLLOWED = 64
"""Ticks over which a part is followed that leaves out pulses."""
STEADY = 0.1
"""Of the pulses in both halves of that, by which these may differ: else it is not at rest yet."""
CLOSE = Tolerance(1e-3, 1e-6)
"""Errors of steps; they leave ripples right to a per cent."""
POWERS = ("current", "voltage", "power")
"""Observables that are kept of every part, besides those that its ratings bound."""


@dataclass(frozen=True)
class Waves:
    """What is kept of cycles over lanes."""

    rows: Rows
    """Of each observable that was watched, and the ripple at each rail's nets."""
    left: Array
    """Share of a disturbance of its coil, or of its flying capacitor, that a cycle leaves, the
    largest of those that change their sign from one cycle to the next, or grow."""
    repeats: NDArray[np.bool_]
    """Lanes whose cycle repeats at every tick."""
    solved: NDArray[np.bool_]

    @classmethod
    def of(cls, found: Cycle, watched: Sequence[Name], rails: Sequence[Name], moves: str) -> Waves:
        """What is worth keeping of cycles; rails: their nets; moves: ref of what moves charge."""
        rows = _kept(found, watched, rails)
        size = np.abs(found.multipliers)
        lasts = (found.multipliers.real < 0) | (size > 1.0 + UNDECIDED)
        own = lasts & (found.share(moves) > TAKES_PART)
        left = np.where(own, size, 0.0).max(axis=1, initial=0.0)
        return cls(rows, left, found.laps == 1, found.solved)

    def with_stretches(self, several: Iterable[tuple[Rows, Which]]) -> Waves:
        """With what is kept of some lanes that do not repeat, and are known all the same."""
        rows, solved = {key: row.copy() for key, row in self.rows.items()}, self.solved.copy()
        for kept, lanes in several:
            for key, row in kept.items():
                rows[key][lanes] = row
            solved[lanes] = True
        return replace(self, rows=rows, repeats=self.repeats & self.solved, solved=solved)

    @classmethod
    def together(cls, several: Sequence[Waves]) -> Waves:
        """The lanes of several side by side."""
        rows = {key: np.concatenate([w.rows[key] for w in several]) for key in several[0].rows}
        left, repeats, solved = (
            np.concatenate(row)
            for row in zip(*((w.left, w.repeats, w.solved) for w in several), strict=True)
        )
        return cls(rows, left, repeats, solved)

    def take(self, which: Which) -> Waves:
        """Chosen lanes, repeated where asked for."""
        rows = {key: row[which] for key, row in self.rows.items()}
        return Waves(rows, self.left[which], self.repeats[which], self.solved[which])


def _kept(
    found: Cycle | Stretch, watched: Sequence[Name], rails: Sequence[Name]
) -> dict[tuple[Kept, Name], Array]:
    rows: dict[tuple[Kept, Name], Array] = {}
    for name in watched:
        row = found.of(*name)[:, :-1]
        rows["lowest", name], rows["highest", name] = row.min(axis=1), row.max(axis=1)
        rows["mean", name] = row.mean(axis=1)
        rows["rms", name] = np.sqrt(np.mean(row**2, axis=1))
    for plus, minus in rails:
        row = _within_band(found, found.potential(plus) - found.potential(minus))
        rows["ripple", (plus, minus)] = np.ptp(row, axis=1)
    return rows


def _within_band(found: Cycle | Stretch, row: Array) -> Array:
    """A waveform without its harmonics beyond `BAND` (lane, instant).

    Of what does not repeat a drift from end to end would show as ripple, and is left out; in a
    cycle the ends differ by the edge that lies between them.
    """
    if isinstance(found, Stretch):
        row = row - (row[:, -1:] - row[:, :1]) * found.phase
    harmonics = np.fft.rfft(row[:, :-1], axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):  # no cycle, no period
        frequencies = np.arange(harmonics.shape[1]) / found.period[:, None]
    lower: Array = np.fft.irfft(np.where(frequencies <= BAND, harmonics, 0.0), axis=1)
    return lower


@dataclass(frozen=True, kw_only=True)
class CycleView(View):
    """Lanes as set, and the cycle in which each of them comes to rest."""

    waves: Waves
    slow: Mapping[str, Array] = field(default_factory=dict)
    """Ref of a capacitor -> effective value of what the mains add to its ripple, over lanes, as the
    current at the switching frequency that would heat it as much [A]."""

    @property
    def solved(self) -> NDArray[np.bool_]:
        return super().solved & self.waves.solved

    def take(self, which: Which) -> Self:
        slow = {ref: row[which] for ref, row in self.slow.items()}
        return replace(super().take(which), waves=self.waves.take(which), slow=slow)

    def keeps(self, ref: str, observable: str) -> bool:
        """Whether the waveform of an observable was looked at."""
        return ("mean", (ref, observable)) in self.waves.rows

    def kept(self, what: Kept, ref: str, observable: str) -> Array:
        """A number of the waveform of an observable, in its unit."""
        return self.waves.rows[what, (ref, observable)]

    def ripple(self, rail: str) -> Array:
        """Peak to peak at the terminals of a rail, within `BAND` [V]."""
        nets = terminals(self.survey.fixture.rails[rail])
        return self.waves.rows["ripple", (nets.plus, nets.minus)]

    def input_ripple(self) -> Array:
        """Peak to peak at the terminals of the input, within `BAND` [V]."""
        nets = terminals(self.survey.fixture.design.need.input)
        return self.waves.rows["ripple", (nets.plus, nets.minus)]

    def waveform(self, rail: str) -> tuple[Array, Array]:
        """Instants of a cycle [s], and the voltage at the terminals within `BAND`, of one lane."""
        nets = terminals(self.survey.fixture.rails[rail])
        rest = quiescent(self.at, switched=True)
        ground = rest.model.topology.ground
        watch = [(net, "") for net in (nets.plus, nets.minus) if net != ground]
        whole = _cycle(self.survey, rest, watch)
        found = whole if whole.solved[0] else next(whole.followed(FOLLOWED, watch), whole)
        (volts,) = _within_band(found, found.potential(nets.plus) - found.potential(nets.minus))
        since = np.arange(volts.size) * float(found.period[0]) / volts.size
        return since[:MOST_SHOWN], volts[:MOST_SHOWN]


class InCycles(Situation):
    """As set, and then in the periodic steady state of the part that switches.

    At the extreme points. Loads bring the least capacitance that they may have, which leaves the
    most ripple.
    """

    name = "in cycles"
    scope = "in cycles"
    since = DEFAULT
    thrift = Thrift(anchors=1, corners=False, estimated=False, turns=0, sampled=1, samples=64)

    def applies(self, survey: Survey) -> bool:
        return bool(clocks(survey.fixture.circuit))

    def unready(self, survey: Survey) -> str:
        return survey.once(_unready)

    def assumes(self, survey: Survey) -> Sequence[str]:
        return unpublished_loops(survey.fixture.circuit)

    def points(self, survey: Survey) -> Points:
        least = {rail: axis[:1] for rail, axis in capacitances(survey).items()}
        return placed(survey, survey.coarsest.extremes().with_capacitances(least))

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CycleView:
        before = AS_SET.view(survey, points, actual, near)
        rest = quiescent(before.at, switched=True)
        several = [_waves(survey, rest.take(some)) for some in batches(points.count)]
        return CycleView(survey, points, before.at, waves=Waves.together(several))


IN_CYCLES = InCycles()


def clocks(circuit: Circuit) -> list[str]:
    """Refs of the parts that switch by a clock of their own."""
    return [part.ref for part in circuit.parts if TICK in part.device.holds]


def _unready(survey: Survey) -> str:
    several = clocks(survey.fixture.circuit)
    if len(several) > 1:
        return f"{', '.join(several)} each switch by a clock of their own: no cycle repeats."
    if _moves(survey.model.topology, several[0]) is None:
        device = survey.fixture.circuit.part(several[0]).device
        wanted = next(words for link, words in MOVED.items() if link in device.links)
        return f"{several[0]} has no {wanted}, which its cycle needs. Connect one."
    if not survey.once(_middle).solved.all():
        return "typical parts have no operating point at the middle of the range, to begin from."
    try:
        survey.once(_watched)
    except MissingValue as error:
        return f"{error}, which tells how it behaves in time. State it."
    return ""


def _middle(survey: Survey) -> OperatingPoints:
    """Typical parts at the middle of the range."""
    return AS_SET.view(survey, survey.range.middle(), survey.typical(1), None).at


def _watched(survey: Survey) -> list[Name]:
    """What ratings bound, and the powers of every part, of what can be told cycle by cycle."""
    told = _cycle(survey, quiescent(survey.once(_middle), switched=True), None).names
    return [
        (part.ref, name)
        for part in survey.fixture.circuit.parts
        for name in part.device.observes
        if name in POWERS or any(name == r.bounds for r in part.device.ratings.values())
        if (part.ref, name) in told
    ]


def batches(count: int) -> Iterator[Which]:
    """Lanes in pieces whose waveforms are in memory at the same time."""
    for first in range(0, count, TOGETHER):
        yield np.arange(first, min(first + TOGETHER, count))


def _waves(survey: Survey, rest: Quiescent) -> Waves:
    watched = survey.once(_watched)
    need = survey.fixture.design.need
    ends = [terminals(output) for output in need.output]
    if not survey.fixture.alternating:  # else a stand-in feeds it, behind what transforms
        ends.append(terminals(need.input))
    nets = [(both.plus, both.minus) for both in ends]
    ground = rest.model.topology.ground
    looked = [(net, "") for pair in nets for net in pair if net != ground]
    (clock,) = clocks(survey.fixture.circuit)
    pulses = PULSE in survey.fixture.circuit.part(clock).device.observes
    watch = [*watched, *looked, *([(clock, PULSE)] if pulses else [])]
    found = _cycle(survey, rest, watch)
    moves = _moves(rest.model.topology, clock)
    assert moves is not None  # or else the situation is unready
    waves = Waves.of(found, watched, nets, moves)
    if found.solved.all() or not pulses:
        return waves
    return waves.with_stretches(_left_out(found, clock, watch, watched, nets))


def _left_out(
    found: Cycle, clock: str, watch: Watch, watched: Sequence[Name], nets: Sequence[Name]
) -> Iterator[tuple[Rows, Which]]:
    """What is kept of lanes that leave out pulses in no order that repeats, and their places."""
    for stretch in found.followed(FOLLOWED, watch):
        leaves = leaves_out(stretch, clock)
        kept = _kept(stretch, watched, nets)
        yield {key: row[leaves] for key, row in kept.items()}, stretch.lanes[leaves]


def leaves_out(stretch: Stretch, clock: str) -> NDArray[np.bool_]:
    """Lanes of a stretch in which some ticks come with a pulse, and some without."""
    ends = stretch.of(clock, PULSE)[:, PHASES - 1 :: PHASES]
    first, second = (np.count_nonzero(half > 0.0, axis=1) for half in np.split(ends, 2, axis=1))
    both = first + second
    steady = np.abs(first - second) <= np.maximum(1, STEADY * both)
    found: NDArray[np.bool_] = steady & (first > 0) & (second > 0) & (both < FOLLOWED)
    return found & ~np.isnan(ends).any(axis=1)


def _moves(topology: Topology, clock: str) -> str | None:
    """Ref of the part by which one that switches moves charge."""
    links = topology.element[clock].links
    return next((links[name] for name in MOVED if name in links), None)


def _cycle(survey: Survey, rest: Quiescent, watch: Watch | None) -> Cycle:
    (clock,) = clocks(survey.fixture.circuit)
    survey.effort.add(rest.count)
    return cycle(
        rest.model,
        rest.lanes,
        rest.count,
        rest.x,
        clock=(clock, TICK),
        phases=PHASES,
        tolerance=CLOSE,
        watch=watch,
        announce=survey.announce,
    )
