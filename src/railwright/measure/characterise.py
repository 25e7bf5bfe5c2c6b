"""Characterising a built supply: settings times loads, steps of the load, the current of a trip.

Whether source and load are allowed what it needs is asked before anything is switched on. All goes
into the log at once, and what is there already is not measured again. A reading that is dangerous
ends it; whatever ends it, source and load are off.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from railwright.bench.capture import Capture
from railwright.bench.instruments.instrument import (
    BenchLoad,
    BenchSupply,
    NotTriggered,
    Oscilloscope,
)
from railwright.bench.log import Log
from railwright.bench.reading import At, Meter, Place, Quantity, Reading, Verdict, verdict
from railwright.bench.waves import Step, noise, ripple, step_response
from railwright.circuit.design import Design
from railwright.circuit.need import LoadStep, Output
from railwright.measure.by_instruments import Instruments
from railwright.measure.promised import BEYOND, NotReady, Point, Promised
from railwright.measure.walk import LEAVE, SKIP
from railwright.quantity import show
from railwright.surveys.cycles import clocks as switching
from railwright.surveys.fixture import terminals

SET_WITHIN = 0.01
"""Share of a setting to which a knob has to be turned before it counts as set."""
TURNS = 5
"""Times that a person is asked to turn a knob on."""
FALLEN = 0.5
"""Share of its setting below which an output counts as switched off."""
RAMP = 0.01
"""Steps of a load that is turned up, as a share of the current at which it must have acted."""
FROM = 0.9
"""Share of what it must carry at which that begins."""
LASTS, AHEAD = 5.0, 0.1
"""Times the settling allowed that is captured, and share of it before the step."""
SAMPLES = 10_000
SCOPE = 0.03
"""Share by which usual oscilloscopes are off (common practice, no source)."""
SAMPLES_STEADY, PERIODS, NOISE_LASTS, STEADY_HEIGHT = 100_000, 300.0, 0.2, 0.1
"""Of a capture while nothing changes: samples, periods of the lowest clock, s where noise down to
10 Hz counts, and V that the scope shows."""
SAG = 0.25
"""Share of the deviation allowed at which a step triggers."""
LEFT = "left by you; go on with the same command"


class Person(Protocol):
    """Who turns knobs and holds leads: gives nothing once it is done, or a word of the walk."""

    def connect(self, rail: Output, text: str) -> str:
        """Meter, load and scope at a rail's terminals, the source at the input."""
        ...

    def turn(self, part: str, volts: float, text: str) -> str:
        """Turn a knob until the rail has a voltage."""
        ...

    def join(self, joined: bool, text: str) -> str:
        """The scope's probe on its own clip, or back at the terminals."""
        ...


@dataclass
class Kit:
    """What is wanted for it."""

    supply: BenchSupply
    load: BenchLoad
    volts: Callable[[], float]
    """At the rail's terminals."""
    meter: Meter
    oscilloscope: Oscilloscope | None = None
    pause: float = 0.3
    """s from a change until it is read."""

    @classmethod
    def of(cls, by: Instruments, meter: Meter, pause: float = 0.3) -> Kit:
        """From the instruments on the bench. NotReady where one is wanting."""
        if by.supply is None or by.load is None:
            raise NotReady("it wants a bench source and an electronic load. Name --supply, --load.")
        load, own = by.load, by.meter
        volts = (lambda: load.read("voltage")) if own is None else (lambda: own.read("voltage"))
        return cls(by.supply, load, volts, meter, by.oscilloscope, pause)


@dataclass
class Outcome:
    """How far it came."""

    read: list[tuple[Reading, Verdict]] = field(default_factory=list)
    """Every reading with its verdict, those of earlier times among them."""
    ended: str = ""
    """Why it ended before all was measured; empty where it did not."""

    @property
    def outside(self) -> int:
        """Readings that no error of the meter explains."""
        return sum(verdict == "outside" for _, verdict in self.read)

    @property
    def status(self) -> int:
        """0 all is as promised, 1 something is not, 3 something was not measured."""
        return 1 if self.outside else 3 if self.ended else 0


class _Left(Exception):
    """A person leaves, or a reading is dangerous: why."""


def allowed(kit: Kit, promise: Promised) -> None:
    """NotReady where source or load may not do what is wanted; nothing is switched on by that."""
    bounds, most, load = promise.bounds, kit.supply.limits, kit.load.limits
    wanted = (
        ("the source", bounds.volts, most.volts, "V"),
        ("the source", bounds.amperes, most.amperes, "A"),
        ("the source", bounds.watts, most.watts, "W"),
        ("the load", bounds.load_volts, load.volts, "V"),
        ("the load", bounds.load_amperes, load.amperes, "A"),
        ("the load", bounds.load_watts, load.watts, "W"),
    )
    beyond = [
        f"{who} {show(value, unit, 3)} where it may {show(limit, unit, 3)}"
        for who, value, limit, unit in wanted
        if value > limit
    ]
    if beyond:
        raise NotReady(f"wanted is of {'; of '.join(beyond)}. Allow it, or measure by hand.")


def characterise(
    design: Design,
    promise: Promised,
    kit: Kit,
    log: Log,
    person: Person,
    tell: Callable[[str], None],
) -> Outcome:
    """Measure everything that is not in the log yet."""
    allowed(kit, promise)
    outcome = Outcome()
    work = _Work(design, promise, kit, log, person, tell, outcome)
    try:
        for output in design.need.output:
            work.rail(output)
    except _Left as left:
        outcome.ended = str(left)
        tell(outcome.ended)
    finally:
        kit.load.off()
        kit.supply.off()
    return outcome


@dataclass
class _Work:
    design: Design
    promise: Promised
    kit: Kit
    log: Log
    person: Person
    tell: Callable[[str], None]
    outcome: Outcome

    def rail(self, output: Output) -> None:
        """One rail: all places, then steps, then the trip."""
        points = [point for point in self.promise.points if point.rail == output.name]
        self._off()  # load and leads are moved without power
        self._asked(
            self.person.connect(
                output,
                f"Source to the input, load, meter and scope to the terminals of {output.name}; "
                f"then {show(self.promise.bounds.volts, 'V')} is switched on (Enter)",
            )
        )
        half = 0.5 * (output.current.min + output.current.max)
        for volts in dict.fromkeys(point.volts for point in points):
            some = [point for point in points if point.volts == volts]
            if any(self.log.last(point.told, self._source()) is None for point in some):
                self._set(output, volts, half)
            for point in some:
                self._place(output, point)
        scope = self.kit.oscilloscope
        if output.load_step is not None and scope is not None:
            self._step(output, output.load_step, scope)
        if scope is not None:
            self._quiet(output, scope)
        self._trip(output)
        self._off()

    def _off(self) -> None:
        self.kit.load.off()
        self.kit.supply.off()

    def _power(self) -> None:
        """Switch on, within the bounds."""
        if not self.kit.supply.is_on:
            self.kit.supply.on(self.promise.bounds.volts, self.promise.bounds.amperes)
            self._wait()

    def _wait(self) -> None:
        time.sleep(self.kit.pause)

    def _take(self, amperes: float, volts: float) -> None:
        self.kit.load.take(amperes, volts)
        self._wait()

    def _asked(self, said: str) -> bool:
        """Whether it was done; _Left where the person leaves."""
        word = said.strip().lower()
        if word == LEAVE:
            raise _Left(LEFT)
        return word != SKIP

    def _set(self, output: Output, volts: float, amperes: float) -> None:
        """Turn the rail's knob at a load: half of the greatest is where the proof does."""
        knob = next(
            (c.part for c in self.design.controls if c.sets == f"{output.name}.voltage"), None
        )
        self._power()
        if knob is None or not output.is_adjustable:
            return
        self._take(amperes, volts)
        found = self._safe(output, self.kit.volts())
        for _ in range(TURNS):
            if abs(found - volts) <= SET_WITHIN * volts:
                return
            self._asked(
                self.person.turn(
                    knob, volts, f"{knob}: turn it until {output.name} has {show(volts, 'V')}, "
                    f"it has {show(found, 'V', 4)} (Enter)"
                )
            )  # fmt: skip
            self._wait()
            found = self._safe(output, self.kit.volts())
        if abs(found - volts) > SET_WITHIN * volts:
            raise _Left(f"{output.name} cannot be set to {show(volts, 'V')}: {show(found, 'V', 4)}")

    def _place(self, output: Output, point: Point) -> None:
        """One place: what the terminals have, and what the source gives."""
        terminal, source, at = _terminals(output), self._source(), self._at(output, point)
        if self.log.last(point.told, source) is None:
            self._power()
            self._take(point.amperes, point.volts)
            volts = self._safe(output, self.kit.volts())
            self._keep(point.told, terminal, volts, at, self.kit.meter.error(volts))
            amperes = self.kit.supply.read("current")
            self._keep(point.told, source, amperes, at, self.kit.meter.error(amperes))
        window = self.promise.volts[point]
        # A knob that a hand has set is off by so much beside its window.
        hand = SET_WITHIN * point.volts if output.is_adjustable else 0.0
        self._judge(point.told, terminal, window.low - hand, window.high + hand)
        self._judge(point.told, source, -np.inf, self.promise.source[point].high)

    def _at(self, output: Output, point: Point) -> At:
        setting = point.volts if output.is_adjustable else None
        return At(setting, point.amperes, self.promise.bounds.volts)

    def _keep(self, stage: str, place: Place, value: float, at: At, error: float) -> None:
        self.log.accept(Reading(stage, place, value, error, self.kit.meter.name, at=at))

    def _judge(self, stage: str, place: Place, low: float, high: float) -> None:
        """Tell what the log has of a place, and how it is beside what is promised."""
        reading = self.log.last(stage, place)
        assert reading is not None
        found = verdict(reading, low, high)
        self.outcome.read.append((reading, found))
        span = " to ".join(show(end, place.unit) for end in (low, high) if np.isfinite(end))
        words = span if np.isfinite(low) else f"at most {span}"
        value = show(reading.value, place.unit, 4)
        self.tell(f"{stage}: {place.quantity} {value}: {found} ({words})")

    def _source(self) -> Place:
        nets = self.design.need.input.nets
        assert nets is not None
        return Place("current", nets.plus, nets.minus)

    def _safe(self, output: Output, volts: float) -> float:
        """The same; _Left where what is connected would not survive it, off at once."""
        most = output.never_above
        if most is not None and volts > most:
            self.kit.supply.off()
            raise _Left(
                f"Switched off: {output.name} had {show(volts, 'V', 4)}, and must never be above "
                f"{show(most, 'V')}. Find that first."
            )
        return volts

    def _step(self, output: Output, step: LoadStep, scope: Oscilloscope) -> None:
        """A step of the load at the highest setting, as the scope sees it."""
        top = Point(output.name, output.voltage.max, step.to)
        stage = f"{top.told}, from {show(step.from_, 'A')}"
        deviation = _terminals(output, "deviation")
        settling = _terminals(output, "settling")
        if self.log.last(stage, settling) is None:
            self._set(output, output.voltage.max, 0.5 * (output.current.min + output.current.max))
            found = self._stepped(output, step, scope, stage)
            away, span = abs(found.deviation), LASTS * step.settle
            for place, value, error in (
                (deviation, away, SCOPE * away),
                (settling, found.settled, span / SAMPLES),
            ):
                self._keep(stage, place, value, self._at(output, top), error)
        self._judge(stage, deviation, -np.inf, step.deviation)
        self._judge(stage, settling, -np.inf, step.settle)

    def _quiet(self, output: Output, scope: Oscilloscope) -> None:
        """Ripple and noise at the highest setting and the greatest load."""
        top = Point(output.name, output.voltage.max, output.current.max)
        clocks = [
            self.design.circuit.part(ref).values["frequency"].spread.typical
            for ref in switching(self.design.circuit)
        ]
        wanted: list[tuple[Quantity, float, float]] = []
        if output.ripple is not None and clocks:
            wanted.append(("ripple", output.ripple, PERIODS / min(clocks)))
        if output.noise is not None:
            wanted.append(("noise", output.noise, NOISE_LASTS))
        for quantity, limit, span in wanted:
            stage, place = f"{top.told}, {quantity}", _terminals(output, quantity)
            if self.log.last(stage, place) is None:
                self._set(output, output.voltage.max, output.current.max)
                self._take(output.current.max, output.voltage.max)
                capture, joined = self._taken(output, scope, stage, span)
                if quantity == "noise":
                    found = noise(capture, joined=joined)
                else:
                    found = ripple(capture, min(clocks), joined=joined).peak_to_peak
                self._keep(stage, place, found, self._at(output, top), SCOPE * found)
            self._judge(stage, place, -np.inf, limit)

    def _taken(
        self, output: Output, scope: Oscilloscope, stage: str, span: float
    ) -> tuple[Capture, Capture | None]:
        """A capture at the terminals, and one with probe and clip joined."""
        scope.set_up(span, SAMPLES_STEADY)
        joined = self._joined(scope, stage)
        scope.see(self._safe(output, self.kit.volts()), STEADY_HEIGHT)
        scope.arm()
        capture = scope.capture(output.name)
        self.log.keep_capture(stage, capture)
        return capture, joined

    def _joined(self, scope: Oscilloscope, stage: str) -> Capture | None:
        """What the scope shows by itself; None where the person skips it."""
        if not self._asked(self.person.join(True, "Probe and clip of the scope joined (Enter)")):
            return None
        scope.arm()
        joined = scope.capture("joined")
        self.log.keep_capture(stage, joined)
        self._asked(self.person.join(False, "Probe back at the terminals (Enter)"))
        return joined

    def _stepped(self, output: Output, step: LoadStep, scope: Oscilloscope, stage: str) -> Step:
        span = LASTS * step.settle
        scope.set_up(span, SAMPLES, AHEAD * span)
        joined = self._joined(scope, stage)
        self._take(step.from_, output.voltage.max)
        rests = self._safe(output, self.kit.volts())
        scope.see(rests, 4.0 * step.deviation)
        scope.arm(rests - SAG * step.deviation, rising=False)
        self.kit.load.take(step.to, output.voltage.max)
        self._wait()
        try:
            capture = scope.capture(output.name)
        except NotTriggered:
            # It moved by less than the trigger wants: no more than that is known.
            return Step(rests, rests, SAG * step.deviation, 0.0)
        self.log.keep_capture(stage, capture)
        return step_response(capture, self.promise.band[output.name], joined=joined)

    def _trip(self, output: Output) -> None:
        """Turn the load up until the overload is dealt with."""
        over = output.overload
        if over is None or over.carry is None or over.act_by is None:
            return
        stage = f"{output.name} at {show(output.voltage.max, 'V')}, overload"
        place = _terminals(output, "trip current")
        if self.log.last(stage, place) is None:
            self._set(output, output.voltage.max, 0.0)
            found = self._turned_up(output, over.carry, over.act_by)
            at = self._at(output, Point(output.name, output.voltage.max, found))
            self._keep(stage, place, found, At(at.setting, None, at.input), RAMP * over.act_by)
        self._judge(stage, place, over.carry, over.act_by)

    def _turned_up(self, output: Output, carry: float, act_by: float) -> float:
        """The load's current at which the output falls; infinite where it does not."""
        self._take(0.0, output.voltage.max)
        before = self._safe(output, self.kit.volts())
        try:
            for amperes in np.arange(FROM * carry, BEYOND * act_by, RAMP * act_by):
                self._take(float(amperes), output.voltage.max)
                if abs(self._safe(output, self.kit.volts())) < FALLEN * abs(before):
                    return float(amperes) - 0.5 * RAMP * act_by
            return np.inf
        finally:
            self._off()  # so that what latched is let go


def _terminals(output: Output, quantity: Quantity = "voltage") -> Place:
    nets = terminals(output)
    return Place(quantity, nets.plus, nets.minus)


def plan_of(promise: Promised) -> str:
    """What it will do, to be read before it begins."""
    bounds = promise.bounds
    return (
        f"{len(promise.points)} places; source {show(bounds.volts, 'V')}, "
        f"{show(bounds.amperes, 'A', 3)}; load up to {show(bounds.load_amperes, 'A', 3)}, "
        f"{show(bounds.load_watts, 'W', 3)}."
    )
