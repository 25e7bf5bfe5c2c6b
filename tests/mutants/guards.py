"""What a need asks for when something goes wrong, by SUNDIALS in time, with typical parts.

A supply with a trip is overloaded from its full load, let go again and switched on again by its
push buttons; it comes up from nothing; and of one that must never exceed a voltage each series
element is shorted in turn. Nothing warms up meanwhile.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar

import numpy as np
from engine.by_sundials import Course, by_sundials
from engine.charge_form import ChargeForm
from mutants.rules import UNKNOWN, Ruled
from mutants.truth import Array, Held, Seen, Truth, Undecided, cooled

from railwright.circuit.circuit import Part, PartValue
from railwright.circuit.design import Design
from railwright.devices import kinds
from railwright.engine.model import Name, given_name
from railwright.engine.stimulus import PiecewiseLinear
from railwright.quantity import Spread
from railwright.surveys.fixture import SOURCE, Fixture, load_ref, terminals

Courses = Mapping[Name, tuple[Sequence[float], Sequence[float]]]
EDGE, GROWS = 1e-6, 1e-3
"""s in which contacts make, and an overload comes and goes (common practice, no source)."""
OVERLOADED, RELEASED, LET_GO, UP_AGAIN = 50e-3, 100e-3, 150e-3, 350e-3
"""s; ends of an overload, of the rest after it, of a push on a button, of the wait after it."""
RAMP = 1e-3
"""s in which an input comes up that is plugged in (common practice, no source)."""
SUNK, FALLS, STAYS = 0.5, 10e-3, 50e-3
"""Share of its least that a sunken input has, s in which it falls and rises, and stays away."""
WAITS = 0.2
"""s until what has come up, or failed, is at rest."""
GONE = 0.1
"""Of the full current: a supply that has tripped gives less (need.output.overload.within)."""
OFF = 0.5
"""Of the lowest setting: what is off stays below (common practice, no source)."""
INSTANTS = 200
"""After each corner of a course, at which it is looked at."""
OVERLOAD = 1.2
"""Times the current by which a trip must act."""
TRIES = (1e-3, 1e-4), (1e-3, 1e-3), (1e-4, 1e-6), (1e-2, 1e-3), (1e-3, 3e-3)
"""Relative and absolute errors (V, A) of SUNDIALS, one after another until it comes through."""
CALLS = 60_000
"""Residuals that are enough for each."""
SHORTED, SOFTLY = 10e-3, 10.0
"""Ω of a series element that has failed short; and of one that has not yet done so wholly, of which
no shares are published: what that breaks is not known for certain."""
FAULTS = {"shorted": SHORTED, "softly shorted": SOFTLY}
SERIES = 0.5
"""Of the full load that a series element carries at least."""
LOGIC = "logic-gate", "sr-latch", "d-flip-flop", "timer"
CURRENTS = "current", "output_current", "coil_current"
"""Observables that tell what a part carries."""


def asks(design: Design) -> bool:
    """Whether a need asks for anything of this."""
    rail = design.need.output[0]
    overload = rail.overload
    trips = overload is not None and overload.style == "trip"
    return design.need.input.kind == "dc" and (trips or rail.never_above is not None)


def series_elements(design: Design, seen: Seen) -> list[Part]:
    """Parts with a way that may fail short and carries much of the full load."""
    least = SERIES * design.need.output[0].current.max
    return [
        part
        for part in design.circuit.parts
        if shorts(part) is not None
        and any(
            abs(seen.of(part.ref, n)[0]) >= least
            for n in CURRENTS
            if (part.ref, n) in seen.observed
        )
    ]


def shorts(part: Part) -> tuple[str, str] | None:
    """Pins between which a part fails short, where both are joined."""
    for fault in part.device.faults:
        if (
            fault.name == "short"
            and len(fault.between) == 2
            and set(fault.between) <= set(part.pins)
        ):
            return fault.between[0], fault.between[1]
    return None


@dataclass
class Guards:
    """One design with a contact across each series element, from where it rests at full load."""

    truth: Truth
    seen: Seen
    source: ClassVar[Name] = (SOURCE, "voltage")

    def __post_init__(self) -> None:
        self.design, self.rail = self.truth.design, self.truth.rail
        circuit = cooled(self.design.circuit)
        self.elements = series_elements(self.design, self.seen) if self.rail.never_above else []
        for part in self.elements:
            ends = shorts(part)
            assert ends is not None
            pins = {"one": part.pins[ends[0]], "two": part.pins[ends[1]]}
            for name, size in FAULTS.items():
                ohms = {"contact_resistance": PartValue(Spread.exact(size), "Ω", "a fault", False)}
                contact = Part(f"{part.ref} {name}", "switch", kinds()["switch"], pins, ohms, {},
                               {"rest": "open"})  # fmt: skip
                circuit = circuit.with_part(contact)
        self.fixture = Fixture.of(self.design, circuit)
        self.contacts = [p.ref for p in circuit.parts if p.kind == "switch"]
        self.current = given_name(load_ref(self.rail.name), "current")

    @cached_property
    def form(self) -> Held:
        """Equations with all temperatures standing still."""
        topology = self.fixture.model.topology
        forms = self.truth.forms
        wiring = [(e.ref, e.device.kind, e.pins, e.options, e.links) for e in topology.elements]
        key = f"guards {wiring}"
        if key not in forms:
            operated = ((ref, "operated") for ref in self.contacts)
            forms[key] = ChargeForm(topology, (self.source, self.current, *operated))
        thermal = [row for row, u in enumerate(topology.unknowns) if u.unit == "K"]
        return Held(forms[key], np.array(thermal, np.intp))

    def run(self, until: float, courses: Courses, sides: Array | None = None) -> Course:
        """What becomes of the supply under courses (instants, values) of inputs.

        From rest; with parts at ends of their spreads from nothing.
        """
        form, stop, need = self.form, self.seen.stop, self.design.need
        actual = self.truth.actual(sides)[:, None]
        given = self.truth.lanes(stop, actual, self.knob)
        lanes = {k: float(np.ravel(v)[0]) for k, v in given.items()}
        still = {self.source: need.input.voltage.nominal, self.current: stop.load}
        still |= {(ref, "operated"): 0.0 for ref in self.contacts}
        courses = {**{name: ((0.0,), (value,)) for name, value in still.items()}, **courses}
        for name in courses:
            lanes.pop(name, None)
        stimuli = {n: PiecewiseLinear(np.array(a), np.array(v)) for n, (a, v) in courses.items()}
        corners = [t for s in stimuli.values() for t in s.corners() if t < until]
        after = np.geomspace(EDGE, until, INSTANTS)
        times = np.concatenate([[0.0], *(corner + after for corner in corners)])
        times = np.unique(np.append(times[times < until], until))
        lost = ""
        for relative, absolute in TRIES:
            try:
                course = by_sundials(self.fixture.model, lanes, times, self.start(sides), stimuli,
                                     relative, absolute, form, CALLS)  # fmt: skip
            except Exception as error:
                lost = str(error)
                continue
            if course.solved:
                return course
            lost = course.lost
        raise Undecided(lost)

    @property
    def knob(self) -> float:
        return 0.0 if self.seen.knob is None else float(self.seen.knob[0])

    def start(self, sides: Array | None) -> Array:
        """Unknowns at rest, or of a supply that is off and cold."""
        own = self.truth.form.topology.index
        form, found = self.form, np.zeros(self.form.size)
        for name, row in form.topology.index.items():
            if sides is None:
                found[row] = self.seen.x[own[name], 0] if name in own else 0.0
        if sides is not None:
            found[form.thermal] = self.seen.stop.ambient
        return found

    def output(self, course: Course) -> Array:
        """Voltage at the terminals (time)."""
        nets = terminals(self.rail)
        return course.potential(nets.plus) - course.potential(nets.minus)

    # Demands

    def found(self) -> list[Ruled]:
        """What the need asks for, each with its reserve.

        What is broken is told though SUNDIALS may not tell of the rest; else Undecided.
        """
        overload, found, lost = self.rail.overload, [], None
        asked = [self.shorted()]
        if overload is not None and overload.style == "trip" and overload.act_by is not None:
            asked.append(self.tripped(overload.act_by, overload.at_power_up == "off"))
            if overload.at_power_up == "off":
                asked += [self.returns(), self.comes_up()]
        for each in asked:
            try:
                for ruled in each:
                    found.append(ruled)
            except Undecided as undecided:
                lost = undecided
        if lost is not None and not any(each.reserve < 0.0 for each in found):
            raise lost
        return found

    def tripped(self, act_by: float, latches: bool) -> Iterator[Ruled]:
        """An overload takes the output down until a person switches it on again."""
        name, full, setting = self.rail.name, self.seen.stop.load, self.seen.stop.setting
        heavy = OVERLOAD * act_by * full / self.rail.current.max
        ends = OVERLOADED, OVERLOADED + GROWS
        loaded = (0.0, GROWS, *ends), (full, heavy, heavy, full)
        buttons = [part.ref for part in self.design.circuit.parts if part.kind == "switch"]
        back = -1.0
        for ref in buttons or [""]:
            course = self.run(UP_AGAIN, {self.current: loaded, **(_pushed(ref) if ref else {})})
            amperes = np.interp(
                [OVERLOADED, RELEASED, UP_AGAIN], course.times, course.of(load_ref(name), "current")
            )
            if ref == (buttons or [""])[0]:
                limit = GONE * full
                for rule, value in zip(("trips", "stays off"), amperes[:2], strict=True):
                    yield Ruled(rule, name, (limit - value) / limit, float(value), limit)
            volts = float(self.output(course)[-1])
            allowed = (self.rail.accuracy or 0.05) * setting
            back = max(back, (allowed - abs(volts - setting)) / allowed if ref else -1.0)
        if latches:
            yield Ruled("switched on again", name, max(back, -1.0), back, 0.0)

    def comes_up(self) -> Iterator[Ruled]:
        """What comes up off does so whichever of its logic circuits is the slower one."""
        limit, found, lost = OFF * self.rail.voltage.min, [], None
        volts = self.design.need.input.voltage.nominal
        courses = {self.source: ((0.0, RAMP), (0.0, volts)), self.current: self.lightest}
        for sense in (1, -1):
            try:
                course = self.run(RAMP + WAITS, courses, self.unlike(sense))
                found.append(float(self.output(course).max()))
            except Undecided as undecided:
                lost = undecided
        if lost is not None and not max(found, default=0.0) > limit:
            raise lost
        most = max(found)
        yield Ruled("comes up off", self.rail.name, (limit - most) / limit, most, limit)

    @property
    def lightest(self) -> tuple[Sequence[float], Sequence[float]]:
        """The least load."""
        return (0.0,), (self.rail.current.min * self.seen.stop.load / self.rail.current.max,)

    def returns(self) -> Iterator[Ruled]:
        """What comes up off is off, too, when an input comes back that had sunk."""
        limit, volts = OFF * self.rail.voltage.min, self.design.need.input.voltage.nominal
        low, back = SUNK * self.design.need.input.voltage.min, FALLS + STAYS
        course = self.run(back + FALLS + WAITS, {
            self.source: ((0.0, FALLS, back, back + FALLS), (volts, low, low, volts))
        })  # fmt: skip
        value = float(self.output(course)[-1])
        yield Ruled("comes back off", self.rail.name, (limit - value) / limit, value, limit)

    def unlike(self, sense: int) -> Array:
        """Sides of all quantities: of every other logic circuit its own are at the other end."""
        refs = [p.ref for p in self.design.circuit.parts if p.kind in LOGIC]
        side = {ref: sense * (-1) ** number for number, ref in enumerate(refs)}
        return np.array([side.get(q.moves[0][0], 0) for q in self.truth.spread.quantities])

    def shorted(self) -> Iterator[Ruled]:
        """How high the output goes when a series element fails short, without a load."""
        limit = self.rail.never_above
        for part in self.elements:
            assert limit is not None
            for fault in FAULTS:
                course = self.run(WAITS, {
                    self.source: ((0.0,), (self.design.need.input.voltage.max,)),
                    self.current: self.lightest,
                    (f"{part.ref} {fault}", "operated"): ((0.0, EDGE), (0.0, 1.0)),
                })  # fmt: skip
                most = float(self.output(course).max())
                reserve = (limit - most) / limit
                if fault == "softly shorted" and reserve < 0.0:
                    reserve = UNKNOWN
                yield Ruled(f"never above, {part.ref} {fault}", self.rail.name, reserve, most,
                            limit)  # fmt: skip


def _pushed(ref: str) -> Courses:
    return {
        (ref, "operated"): (
            (RELEASED, RELEASED + EDGE, LET_GO, LET_GO + EDGE), (0.0, 1.0, 1.0, 0.0)
        )
    }  # fmt: skip


def guarded(truth: Truth) -> list[Ruled]:
    """What the need asks for when something goes wrong, of a supply whose tour is over."""
    if not asks(truth.design):
        return []
    full = [
        seen for seen in truth.toured
        if seen.stop.load == truth.rail.current.max and seen.stop.knob in ("", "set")
        and seen.stop.setting == truth.rail.voltage.max
    ]  # fmt: skip
    return Guards(truth, max(full, key=lambda seen: seen.stop.input)).found()
