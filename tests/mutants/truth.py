"""Whether a supply still meets its need, by SUNDIALS and published limits: nothing of the checks.

A supply rests at the middle of its range; SUNDIALS then leads it, heat included, to the
corners of its range, its control at stops and settings, and heavy loads where the need speaks of
them. At every stop the effect of every spread value on every demand is found from the equations'
own slopes; where the worst of them together come near a limit, SUNDIALS follows the supply there
with all those parts at those ends of their spreads.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, ClassVar

import numpy as np
from engine.by_sundials import by_sundials
from engine.charge_form import ChargeForm
from mutants.rules import Ruled, places, touch
from numpy.typing import NDArray

from railwright.circuit.circuit import Circuit, Part
from railwright.circuit.design import Design
from railwright.devices.device import Rating
from railwright.engine.assembly import AMBIENT
from railwright.engine.model import Model, Name, given_name
from railwright.engine.stimulus import PiecewiseLinear
from railwright.standards.iec60115 import power_ratio
from railwright.surveys.fixture import SOURCE, Fixture, load_ref, terminals
from railwright.surveys.situations import AS_SET
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
STAY = 1e4
"""s; long enough for every heat sink."""
NEAR = 1.0
"""Reserve, by slopes, from which on SUNDIALS is not asked any more: far from every limit."""
REVERSE = 0.3
"""V; electrolytic capacitors stand about this much the wrong way round (from memory)."""
RESERVE = 0.1
JUNCTION_SCALE = 100.0
"""K of margin that are a reserve of 1."""
ONE_WAY = "reverse_voltage", "emitter_base_voltage"
"""Endings of what is rated for one sense alone."""
SHORT, EDGE, LASTS = 10e-3, 1e-6, 20e-3
"""Ω of a screwdriver across the terminals, s in which it makes and breaks contact, and s for which
it stays (common practice, no source)."""
STATED_AT = 298.15
"""K; air for which touch limits are stated, not to be raised for a warmer one."""
CALLS = 60_000
"""Residuals after which a supply is taken for one that does not come to rest."""
BY_FAR = -0.3
"""Reserve with typical parts below which a supply is broken, whatever else it does."""
HEAVY = (1.2, 4.0)
"""Loads beyond the current by which a limit must act, as shares of it."""


class Undecided(Exception):
    """SUNDIALS did not come through, so nothing is known."""


class Broken(Exception):
    """Typical parts miss limits by far."""

    def __init__(self, found: list[Ruled]) -> None:
        super().__init__()
        self.found = found


@dataclass(frozen=True)
class Stop:
    """An operating point at which the supply is looked at."""

    name: str
    input: float
    load: float
    """As a current at the highest setting [A]."""
    ambient: float
    setting: float
    knob: str = ""
    """`set`: the control is turned until the output is at the setting; `stays`: it stays where
    typical parts had it set; else its end, 0 or 1."""


@dataclass
class Seen:
    """Lanes at a stop: first as it is, then with each quantity at its low and its high end."""

    stop: Stop
    x: Array
    parameters: Array
    observed: Mapping[Name, Array]
    potentials: Mapping[str, Array]
    knob: Array | None = None

    def of(self, ref: str, name: str) -> Array:
        return self.observed[ref, name]


class Held:
    """Equations with all temperatures standing still."""

    def __init__(self, form: ChargeForm, thermal: NDArray[np.intp]) -> None:
        self.form, self.thermal = form, thermal

    def __getattr__(self, name: str) -> Any:
        return getattr(self.form, name)

    def residual(self, t: float, x: Array, rates: Array, out: Array) -> None:
        self.form.residual(t, x, rates, out)
        out[self.thermal] = rates[self.thermal]

    def slopes(self, t: float, x: Array, rates: Array, res: Array, cj: float, out: Array) -> None:
        self.form.slopes(t, x, rates, res, cj, out)
        out[self.thermal] = 0.0
        out[self.thermal, self.thermal] = cj

    def stored(self, t: float, x: Array) -> Array:
        found = self.form.stored(t, x)
        found[self.thermal] = x[self.thermal]
        return found


Demand = tuple[str, str, float, Array, float]
"""Rule, subject, limit, margins over lanes, scale."""


def cooled(circuit: Circuit) -> Circuit:
    """Cases that touch nothing taken for what they are: in the air."""
    alone = {net for net, ends in circuit.thermal_nets.items() if len(ends) == 1}
    parts = [
        replace(
            p, pins={pin: net for pin, net in p.pins.items() if pin != "case" or net not in alone}
        )
        for p in circuit.parts
    ]
    return replace(circuit, parts=tuple(parts))


THROUGH = {"drain": 10e-3, "collector": 50e-3}
"""s; when heat is through a die: transient curves of TO-220 types, from memory."""
TIRES = 0.29
"""Of the melting integral: what a fuse withstands again and again; fuse makers, from memory."""


def _pulse(part: Part, seen: Seen, times: Array, course: Any) -> Iterator[Ruled]:
    """What a pulse does to a transistor's junction and to a fuse.

    Heat spreads into a die with the root of time (Carslaw and Jaeger, Conduction of Heat in
    Solids, 2.9) until it is through.
    """
    through = [THROUGH[p.role] for p in part.device.pins.values() if p.role in THROUGH]
    if through and "junction_limit" in part.ratings:
        watts = np.abs(course.of(part.ref, "voltage") * course.of(part.ref, "current")).ravel()
        steps = np.diff(watts, prepend=watts[0])
        since = np.maximum(times[:, None] - times[None, :], 0.0)
        grown = np.sqrt(np.minimum(since / through[0], 1.0)) @ steps
        before = float(np.ravel(seen.of(part.ref, "junction"))[0])
        rise = float(part.values["junction_to_case"].spread.high * grown.max())
        room = part.ratings["junction_limit"] - before
        yield Ruled("junction, shorted", part.ref, (room - rise) / room, before + rise,
                    part.ratings["junction_limit"])  # fmt: skip
    if "melting_integral" in part.values:
        amperes = course.of(part.ref, "current").ravel()
        lasting = np.abs(amperes[[0, -1]]).max()
        above = np.where(np.abs(amperes) > 2.0 * lasting, amperes**2, 0.0)
        share = float(np.trapezoid(above, times) / part.values["melting_integral"].spread.low)
        yield Ruled("pulse, shorted", part.ref, (TIRES - share) / TIRES, share, TIRES)


@dataclass
class Truth:
    """One design under SUNDIALS. forms: compiled equations of designs before, by their wiring."""

    design: Design
    forms: dict[str, ChargeForm] = field(default_factory=dict)

    near: ClassVar[float] = NEAR

    def __post_init__(self) -> None:
        self.survey = Survey(Fixture.of(self.design, cooled(self.design.circuit)))
        self.spread = self.survey.spread
        self.rail = self.design.need.output[0]
        self.load = load_ref(self.rail.name)
        self.knobs = list(self.survey.controls_of_role("set"))
        self.places: dict[str, list[float]] = {}
        self.toured: list[Seen] = []

    # The supply, compiled

    @cached_property
    def running(self) -> tuple[Name, ...]:
        knob = [given_name(*name) for name in self.knobs]
        return ((SOURCE, "voltage"), given_name(self.load, "current"), AMBIENT, *knob)

    @cached_property
    def thermal(self) -> NDArray[np.intp]:
        """Rows of temperatures."""
        units = [unknown.unit for unknown in self.form.topology.unknowns]
        return np.array([row for row, unit in enumerate(units) if unit == "K"], np.intp)

    @cached_property
    def held(self) -> Any:
        return Held(self.form, self.thermal)

    @property
    def model(self) -> Model:
        return self.survey.model

    @cached_property
    def form(self) -> ChargeForm:
        topology = self.model.topology
        key = str([(e.ref, e.device.kind, e.pins, e.options, e.links) for e in topology.elements])
        if key not in self.forms:
            self.forms[key] = ChargeForm(topology, self.running)
        return self.forms[key]

    @cached_property
    def wanted(self) -> list[Name]:
        return [
            (part.ref, name)
            for part in (*self.design.circuit.parts, *self.survey.fixture.powered.parts[-2:])
            for name in part.device.observes
            if (part.ref, name) in self.form.system.observed
        ]

    # Lanes

    def actual(self, sides: Array | None = None) -> Array:
        """Quantities with each at its low (-1), typical (0) or high (1) end."""
        if sides is None:
            return self.spread.typical
        ends = (self.spread.low, self.spread.typical, self.spread.high)
        return np.choose(sides.astype(int) + 1, ends)

    def lanes(self, stop: Stop, actual: Array, knob: float | Array = 0.0) -> dict[Name, Any]:
        """Inputs of lanes (quantity, lane) at a stop."""
        count = actual.shape[1]
        found: dict[Name, Any] = dict(self.spread.lanes(actual, np.full(count, stop.ambient)))
        found[AMBIENT] = stop.ambient
        found[SOURCE, "voltage"] = stop.input
        found[given_name(self.load, "current")] = stop.load
        found[self.load, "voltage"] = self.rail.voltage.max
        for name in self.knobs:
            found[given_name(*name)] = knob
        return found

    def parameters(self, stop: Stop, actual: Array, knob: float | Array = 0.0) -> Array:
        """What the equations read (parameter, lane)."""
        count = actual.shape[1]
        found = self.model.parameters(self.form.parameters, self.lanes(stop, actual, knob))
        rows = [
            np.broadcast_to(np.asarray(found[n], float), (count,)) for n in self.form.parameters
        ]
        return np.array(rows)

    def observe(self, stop: Stop, x: Array, parameters: Array, knob: Array | None) -> Seen:
        system = self.form.system
        roots = [system.observed[name] for name in self.wanted]
        values = system.graph.evaluate(roots, x, parameters)
        topology = self.form.topology
        nets = {
            net: x[topology.index[net, ""]] if net != topology.ground else np.zeros(x.shape[1])
            for net in self.survey.fixture.powered.nets
        }
        return Seen(stop, x, parameters, dict(zip(self.wanted, values, strict=True)), nets, knob)

    # SUNDIALS

    def hold(self, stop: Stop, start: Array, actual: Array, knob: float = 0.0) -> Array:
        """Unknowns once everything has stood still at a stop, from others near by."""
        lanes = {k: float(np.ravel(v)[0]) for k, v in self.lanes(stop, actual, knob).items()}
        still = {n: PiecewiseLinear([0.0], [lanes.pop(n)]) for n in self.running if n in lanes}
        return self.follow(lanes, still, np.array([0.0, STAY]), start)[:, -1]

    def follow(self, lanes: Any, stimuli: Any, times: Array, start: Array | None) -> Array:
        try:
            course = by_sundials(
                self.model, lanes, times, start, stimuli, form=self.form, most_calls=CALLS
            )
        except Exception as error:
            raise Undecided(str(error)) from error
        if not course.solved:
            raise Undecided(course.lost)
        return course.x

    def nearer(self, x: Array, parameters: Array) -> Array:
        """Unknowns from which SUNDIALS has little left to do: Newton's steps, halved where needed.

        Those given where they lead nowhere.
        """
        form, out, still = self.form, np.zeros(x.size), np.zeros(x.size)
        slopes = np.zeros((x.size, x.size))
        form.hold(parameters, 0.0)
        at = x.copy()
        for _ in range(30):
            form.residual(0.0, at, still, out)
            form.slopes(0.0, at, still, out, 0.0, slopes)
            step = -np.linalg.solve(slopes, out)
            most = float(np.abs(step / (1.0 + np.abs(at))).max())
            at = at + step / max(1.0, 2.0 * most)
            if most < 1e-9:
                return at
        return x

    @cached_property
    def stops(self) -> list[Stop]:
        need, volts = self.design.need, self.rail.voltage
        inputs = (need.input.voltage.min, need.input.voltage.max)
        airs = (need.surroundings.ambient.min, need.surroundings.ambient.max)
        amperes = (self.rail.current.min, self.rail.current.max)
        settings = sorted({volts.min, volts.max})
        found = []
        for setting in settings:
            for load in amperes:
                share = load * volts.max / setting
                for air in airs:
                    for each in inputs:
                        knob = "set" if self.knobs else ""
                        name = f"{setting:g} V, {load:g} A, input {each:g} V, {air - 273.15:g} °C"
                        found.append(Stop(name, each, share, air, setting, knob))
        nominal, room = need.input.voltage.nominal, float(np.clip(298.15, *airs))
        middle = 0.5 * sum(amperes)
        for setting in settings:
            share = volts.max / setting
            knob = "set" if self.knobs else ""
            at = f"{setting:g} V, "
            found.append(Stop(f"{at}nominal", nominal, middle * share, room, setting, knob))
        for end in ("0", "1") if self.knobs else ():
            for each in inputs:
                for air in airs:
                    found.append(Stop(f"control at {end}, input {each:g} V, {air - 273.15:g} °C",
                                      each, amperes[1], air, volts.max, end))  # fmt: skip
        for setting in settings if self.knobs else ():
            for air in dict.fromkeys((room, *airs)):
                name = f"set to {setting:g} V, {air - 273.15:g} °C"
                load = middle * volts.max / setting
                found.append(Stop(name, nominal, load, air, setting, "stays"))
        overload = self.rail.overload
        if overload is not None and overload.carry and overload.act_by and not self.knobs:
            for level in HEAVY:
                for each in inputs:
                    found.append(Stop(f"load {level:g} x act_by, input {each:g} V", each,
                                      level * overload.act_by, room, volts.max))  # fmt: skip
        if overload is not None and overload.carry and overload.style == "trip":
            for each in inputs:
                for air in airs:
                    name = f"carry, input {each:g} V, {air - 273.15:g} °C"
                    found.append(Stop(name, each, overload.carry, air, volts.max, "set"))
        return found

    def tour(self) -> list[Seen]:
        """The supply with typical parts at all stops, each from where it stood before."""
        x, self.places = self.start()
        typical = self.spread.typical[:, None]
        seen = []
        for stop in self.stops:
            place = self.knob_of(stop, self.places)
            knob = place[0] if place else 0.0
            near = self.nearer(x, self.parameters(stop, typical, knob)[:, 0])
            x = self.hold(stop, near, typical, knob)
            seen.append(self.sound(self.around(stop, x, place[0] if place else None)))
        return seen

    def sound(self, seen: Seen) -> Seen:
        """The stop itself. Broken where typical parts miss a limit by far: no other mends that."""
        if seen.stop.name.startswith("carry"):  # what trips is told once the tour is over
            return seen
        found = [
            Ruled(rule, subject, float(margin[0]) / scale, float(margin[0]), limit)
            for rule, subject, limit, margin, scale in self.demands(seen)
        ]
        if any(each.reserve < BY_FAR for each in found):
            raise Broken(found)
        return seen

    def knob_of(self, stop: Stop, knobs: Mapping[str, list[float]]) -> list[float]:
        if not self.knobs:
            return []
        return [float(stop.knob)] if stop.knob in ("0", "1") else knobs[f"{stop.setting:g}"]

    def start(self) -> tuple[Array, dict[str, list[float]]]:
        """Unknowns at the middle of the range, and where the control stands for each setting."""
        survey = self.survey
        middle = survey.range.middle()
        knobs: dict[str, list[float]] = {}
        view = AS_SET.view(survey, middle, survey.typical(1), None)
        if not view.solved[0]:
            raise Undecided("no operating point was found from which to begin")
        if not np.isfinite(view.at.potential(terminals(self.rail).plus)[0]):
            raise Undecided("no operating point was found from which to begin")
        x = view.at.unknowns[:, 0].copy()
        for setting in {self.rail.voltage.min, self.rail.voltage.max} if self.knobs else ():
            points = middle.take(np.array([0]))
            points.settings[self.rail.name][:] = setting
            one = AS_SET.view(survey, points, survey.typical(1), None)
            knobs[f"{setting:g}"] = [
                float(np.clip(one.at.solution_of(*n)[0], 0, 1)) for n in self.knobs
            ]
        return x, knobs

    # Effects of the spread

    def around(self, stop: Stop, x: Array, knob: float | None) -> Seen:
        """The stop as it is, and one Newton step away with each quantity at each of its ends."""
        size = self.spread.size
        actual = np.repeat(self.spread.typical[:, None], 1 + 2 * size, axis=1)
        for q in range(size):
            actual[q, 1 + 2 * q] = self.spread.low[q]
            actual[q, 2 + 2 * q] = self.spread.high[q]
        parameters = self.parameters(stop, actual, 0.0 if knob is None else knob)
        rows = self.moved(stop, x, parameters, knob)
        return self.observe(stop, rows[0], rows[1], rows[2])

    def moved(self, stop: Stop, x: Array, parameters: Array, knob: float | None) -> Any:
        """Unknowns (row, lane) after one step, parameters, and the control's places."""
        slopes, out = np.zeros((x.size, x.size)), np.zeros(x.size)
        still = np.zeros(x.size)
        form = self.form
        form.hold(parameters[:, 0], 0.0)
        form.slopes(0.0, x, still, out, 0.0, slopes)
        rest = np.zeros(parameters.shape[:1] and (x.size, parameters.shape[1]))
        for lane in range(parameters.shape[1]):
            form.hold(parameters[:, lane], 0.0)
            form.residual(0.0, x, still, out)
            rest[:, lane] = out
        rest -= rest[:, :1]
        if stop.knob != "set":
            return x[:, None] - np.linalg.solve(slopes, rest), parameters, None
        assert knob is not None
        row = form.row[given_name(*self.knobs[0])]
        turned = parameters[:, 0].copy()
        step = 1e-4 if knob < 0.5 else -1e-4
        turned[row] += step
        form.hold(turned, 0.0)
        form.residual(0.0, x, still, out)
        by_knob = out.copy()
        form.hold(parameters[:, 0], 0.0)
        form.residual(0.0, x, still, out)
        by_knob = (by_knob - out) / step
        border = np.zeros((x.size + 1, x.size + 1))
        border[:-1, :-1], border[:-1, -1] = slopes, by_knob
        for net, sense in self.ends:
            if net != form.topology.ground:
                border[-1, form.topology.index[net, ""]] = sense
        moved = np.linalg.solve(border, np.vstack([rest, np.zeros(rest.shape[1])]))
        places = np.clip(knob - moved[-1], 0.0, 1.0)
        parameters = parameters.copy()
        parameters[row] = places
        return x[:, None] - moved[:-1], parameters, places

    # Demands

    @cached_property
    def ends(self) -> tuple[tuple[str, int], tuple[str, int]]:
        """Nets of the output's terminals, with the sense in which they count."""
        nets = terminals(self.rail)
        return (nets.plus, 1), (nets.minus, -1)

    def output(self, seen: Seen) -> Array:
        nets = terminals(self.rail)
        return seen.potentials[nets.plus] - seen.potentials[nets.minus]

    def demands(self, seen: Seen) -> Iterator[Demand]:
        """What must be so at a stop, over its lanes."""
        rail, stop = self.rail, seen.stop
        volts = self.output(seen)
        heavy = stop.name.startswith("load ")
        allowed = (rail.accuracy or 0.05) * stop.setting
        if stop.knob == "" and not heavy:
            for sense in (1.0, -1.0):
                margin = allowed - sense * (volts - stop.setting)
                yield "accuracy", rail.name, allowed, margin, allowed
        if stop.knob in ("0", "1"):
            span = rail.voltage.max - rail.voltage.min
            top = float(self.upper) == float(stop.knob)
            margin = volts - rail.voltage.max if top else rail.voltage.min - volts
            yield "range", rail.name, rail.voltage.max, margin, span
        if stop.knob == "set":
            span = np.minimum(seen.knob, 1.0 - seen.knob) if seen.knob is not None else volts
            off = np.abs(volts - stop.setting)
            yield "reached", rail.name, allowed, allowed - off, allowed
        if heavy:
            overload = rail.overload
            band = overload.act_by - overload.carry
            current = seen.of(self.load, "current")
            if stop.name.startswith("load 1.2"):
                yield "carries", rail.name, overload.carry, current - overload.carry, band
            yield "acts", rail.name, overload.act_by, overload.act_by - current, band
            return
        if stop.name.startswith("carry"):
            for part in self.design.circuit.parts:
                name = part.ref, "difference"
                if name in seen.observed and self.trips.get(part.ref):
                    slope = self.trips[part.ref]
                    band = rail.overload.act_by - rail.overload.carry
                    at = rail.overload.carry - seen.of(*name) / slope
                    yield "carries", rail.name, rail.overload.carry, at - rail.overload.carry, band
                    yield "acts", rail.name, rail.overload.act_by, rail.overload.act_by - at, band
            return
        if stop.knob in ("", "set"):
            for part in self.design.circuit.parts:
                yield from self.of_part(part, seen)

    @cached_property
    def trips(self) -> dict[str, float]:
        """Comparators that a heavier load turns over, with the change of their input [V/A]."""
        return {}

    @cached_property
    def upper(self) -> float:
        return self.survey.upper_stop(self.knobs[0])

    def of_part(self, part: Part, seen: Seen) -> Iterator[Demand]:
        air = np.array([seen.stop.ambient])
        policy = self.design.derating
        for rating, declared in part.device.ratings.items():
            if rating not in part.ratings or (part.ref, declared.bounds) not in seen.observed:
                continue
            value = self.course(seen, part.ref, declared)
            limit = part.ratings[rating]
            if declared.unit == "°C":
                by_policy = policy.junction(part.device.derating_family(rating, part.options))
                limit = min(limit, by_policy) if by_policy is not None else limit
                yield "junction", part.ref, limit, limit - value, JUNCTION_SCALE
                continue
            family = part.device.derating_family(rating, part.options)
            ratio = 1.0
            if family == "fuse":
                found = policy.fuse_current(limit, air)
                ratio = 1.0 if found is None else float(found[0])
            elif family and declared.quantity:
                found = policy.ratio_at(family, declared.quantity, air)
                ratio = 1.0 if found is None else float(found[0])
                if declared.nil_at is not None:
                    ratio = min(ratio, float(power_ratio(air, declared.nil_at)[0]))
            one_way = declared.bounds.endswith(ONE_WAY)
            size = np.maximum(value, 0.0) if one_way else np.abs(value)
            if rating == "saturation_current":
                size = size + 0.5 * self.ripple_current(part)
            yield rating, part.ref, ratio * limit, ratio * limit - size, ratio * limit
        yield from self.of_kind(part, seen)
        if part.kind == "capacitor":
            for plus, minus in part.device.polar_pairs(part.options):
                across = seen.potentials[part.pins[plus]] - seen.potentials[part.pins[minus]]
                yield "reversed", part.ref, -REVERSE, across + REVERSE, REVERSE

    def course(self, seen: Seen, ref: str, rating: Rating) -> Array:
        """What a rating bounds, over lanes."""
        return seen.of(ref, rating.bounds)

    def of_kind(self, part: Part, seen: Seen) -> Iterator[Demand]:
        """Limits that datasheets publish beside the ratings."""
        known = {name for ref, name in self.wanted if ref == part.ref}

        def get(name: str) -> Array:
            return seen.of(part.ref, name)

        if {"unlimited_across", "dropout"} <= known:
            scale = max(float(np.ravel(get("dropout"))[0]), 1.0)
            yield "dropout", part.ref, scale, get("unlimited_across") - get("dropout"), scale
            least = get("minimum_load")
            if (lowest := float(np.ravel(least)[0])) > 0:
                yield "least load", part.ref, lowest, get("drawn_current") - least, lowest
        if {"minimum_current", "cathode_voltage"} <= known:
            least = get("minimum_current")
            lowest = float(np.ravel(least)[0])
            yield "least current", part.ref, lowest, get("current") - least, lowest
        if {"input_high", "input_range_high"} <= known:
            yield "input range", part.ref, 0.0, get("input_range_high") - get("input_high"), 1.0
            yield "input range", part.ref, 1.0, get("input_low") - get("input_range_low"), 1.0
        if {"supply_voltage"} <= known and "supply_minimum" in part.values:
            least_supply = part.values["supply_minimum"].spread.high
            if least_supply > 0:
                yield ("least supply", part.ref, least_supply,
                       get("supply_voltage") - least_supply, least_supply)  # fmt: skip
        hottest = touch(self.design) if part.kind == "heat-sink" else None
        if hottest is not None:
            beyond = max(seen.stop.ambient - STATED_AT, 0.0)
            yield "touch", part.ref, hottest, hottest + beyond - get("face"), JUNCTION_SCALE
        if {"demanded_duty", "duty_limit"} <= known:
            yield "duty", part.ref, 1.0, get("duty_limit") - get("demanded_duty"), 1.0

    def ripple_current(self, coil: Part) -> float:
        """Greatest ripple of a step-down's coil [A]: V (1 - V/Vin) / (L f)."""
        for part in self.design.circuit.parts:
            if part.kind == "step-down-regulator" and part.pins["switch"] in coil.pins.values():
                high = self.design.need.input.voltage.max
                volts = self.rail.voltage.max
                least = coil.values["inductance"].spread.low * part.values["frequency"].spread.low
                return volts * (1.0 - min(volts / high, 1.0)) / least
        return 0.0

    def ripple(self) -> Iterator[Ruled]:
        """Ripple of a step-down at its output: that of the coil in the series resistance of the
        capacitors there, beside what they lack in capacitance (Erickson and Maksimovic, 2)."""
        if self.rail.ripple is None or any(
            p.kind.endswith("regulator") and p.kind != "step-down-regulator"
            for p in self.design.circuit.parts
        ):
            return
        for coil in self.design.circuit.parts:
            if coil.kind != "inductor" or not self.ripple_current(coil):
                continue
            regulator = next(
                p for p in self.design.circuit.parts if p.kind == "step-down-regulator"
            )
            at = places(self.design.circuit)
            ends = {at[net] for net in coil.pins.values()} - {at[regulator.pins["switch"]]}
            here = [
                c
                for c in self.design.circuit.parts
                if c.kind == "capacitor" and {at[net] for net in c.pins.values()} & ends
            ]  # fmt: skip
            if not here:
                yield Ruled("ripple", self.rail.name, -1.0)
                continue
            siemens = sum(1.0 / c.values["esr"].spread.high for c in here)
            farads = sum(c.values["capacitance"].spread.low for c in here)
            swing = self.ripple_current(coil)
            slow = regulator.values["frequency"].spread.low
            volts = swing / siemens + swing / (8.0 * slow * farads)
            yield Ruled("ripple", self.rail.name, (self.rail.ripple - volts) / self.rail.ripple,
                        volts, self.rail.ripple)  # fmt: skip

    # Together

    def judged(self) -> list[Ruled]:
        """All demands; those of one stop where typical parts miss one of them by far."""
        try:
            return self.together()
        except Broken as broken:
            return broken.found

    def together(self) -> list[Ruled]:
        """Every demand with its reserve at its worst stop and the worst ends of the spread."""
        tour = self.toured = self.tour()
        worst: dict[tuple[str, str, int], tuple[float, Seen, Array, float, float]] = {}
        for seen in tour:
            if seen.stop.name.startswith("carry") and "trips" not in self.__dict__:
                self.__dict__["trips"] = self._trips(tour)
            for number, (rule, subject, limit, margin, scale) in self._numbered(seen):
                with np.errstate(all="ignore"):
                    low, high = margin[1::2] - margin[0], margin[2::2] - margin[0]
                    fall = np.minimum(np.minimum(low, high), 0.0)
                    fall = np.where(np.isfinite(fall), fall, 0.0)
                    sides = np.where(fall == 0.0, 0, np.where(low < high, -1, 1))
                reserve = float((margin[0] + fall.sum()) / scale)
                key = rule, subject, number
                if key not in worst or reserve < worst[key][0]:
                    worst[key] = reserve, seen, sides, limit, scale
        found = [self._followed(key, *what) for key, what in worst.items()]
        also = [*self._regulation(tour), *self.ripple(), *self._damping(tour)]
        return [*found, *also, *self.shorted(tour)]

    def shorted(self, tour: list[Seen]) -> Iterator[Ruled]:
        """Absolute ratings of voltages while a limited output is shorted, and after; typical parts.

        A screwdriver across the terminals, and off again, each within a microsecond; nothing warms
        up meanwhile.
        """
        overload = self.rail.overload
        if overload is None or overload.style != "constant-current" or self.knobs:
            return
        seen = max(
            (each for each in tour if each.stop.load == self.rail.current.max),
            key=lambda each: (each.stop.input, -each.stop.ambient),
        )
        typical = self.spread.typical[:, None]
        lanes = {k: float(np.ravel(v)[0]) for k, v in self.lanes(seen.stop, typical).items()}
        stimuli = {n: PiecewiseLinear([0.0], [lanes.pop(n)]) for n in self.running if n in lanes}
        full = self.rail.voltage.max / SHORT
        corners = np.array([0.0, EDGE, LASTS, LASTS + EDGE])
        levels = [seen.stop.load, full, full, seen.stop.load]
        stimuli[given_name(self.load, "current")] = PiecewiseLinear(corners, levels)
        after = np.concatenate(
            [np.arange(1, 101) * 0.02 * EDGE, np.geomspace(2 * EDGE, LASTS, 300)]
        )
        times = np.unique(np.concatenate([[0.0], after, LASTS + after]))
        try:
            course = by_sundials(
                self.model, lanes, times, seen.x[:, 0], stimuli, 1e-5, 1e-7, self.held, CALLS
            )
        except Exception as error:
            raise Undecided(str(error)) from error
        if not course.solved:
            raise Undecided(course.lost)
        for part in self.design.circuit.parts:
            for rating, declared in part.device.ratings.items():
                name = part.ref, declared.bounds
                if declared.unit == "V" and rating in part.ratings and name in self.wanted:
                    one_way = declared.bounds.endswith(ONE_WAY)
                    volts = course.of(*name)
                    most = float((volts if one_way else np.abs(volts)).max())
                    limit = part.ratings[rating]
                    yield Ruled(f"{rating}, shorted", part.ref, (limit - most) / limit, most, limit)
            yield from _pulse(part, seen, times, course)

    def _damping(self, tour: list[Seen]) -> Iterator[Ruled]:
        """How well every ringing dies away, as the share of its frequency, typical parts.

        By the eigenvalues of the slopes that SUNDIALS gets: rates of change of all that is small.
        """
        worst = 1.0
        for seen in tour:
            values = self._rates(seen)
            ringing = values[(np.abs(values.imag) > 1e-3 * np.abs(values)) | (values.real > 0)]
            # What rings beyond a megahertz is the parasitics' own, of which no limit is published.
            ringing = ringing[(np.abs(ringing) < 2e6 * np.pi) & (np.abs(ringing) > 1e-2)]
            for value in ringing:
                damping = float(-value.real / abs(value))
                if damping < worst:
                    worst = damping
        yield Ruled("damping", self.rail.name, worst, worst, 0.0)

    def _rates(self, seen: Seen) -> NDArray[np.complex128]:
        x = seen.x[:, 0]
        still, out = np.zeros(x.size), np.zeros(x.size)
        plain, stored = np.zeros((x.size, x.size)), np.zeros((x.size, x.size))
        self.form.hold(seen.parameters[:, 0], 0.0)
        self.form.slopes(0.0, x, still, out, 0.0, plain)
        self.form.slopes(0.0, x, still, out, 1.0, stored)
        inverse = np.linalg.solve(plain, stored - plain)
        periods = np.linalg.eigvals(-inverse)
        return 1.0 / periods[np.abs(periods) > 1e-18]

    def _numbered(self, seen: Seen) -> Iterator[tuple[int, Demand]]:
        count: dict[tuple[str, str], int] = {}
        for demand in self.demands(seen):
            key = demand[0], demand[1]
            count[key] = count.get(key, -1) + 1
            yield count[key], demand

    def _followed(
        self, key: tuple[str, str, int], reserve: float, seen: Seen, sides: Array, limit: float,
        scale: float,
    ) -> Ruled:  # fmt: skip
        """The demand with its parts at those ends, by SUNDIALS where it comes near its limit."""
        rule, subject, _ = key
        if not reserve < self.near or not sides.any():
            return Ruled(rule, subject, reserve, reserve * scale, limit)
        exact = self.at(seen, sides)
        for other, demand in self._numbered(exact):
            if (demand[0], demand[1], other) == key:
                margin = float(demand[3][0])
                return Ruled(rule, subject, margin / scale, margin, limit)
        raise Undecided(f"{rule} of {subject} is gone at the ends of the spread")

    def at(self, seen: Seen, sides: Array) -> Seen:
        """A stop with the parts at ends of their spreads, by SUNDIALS."""
        actual = self.actual(sides)[:, None]
        stop, x = seen.stop, seen.x[:, 0]
        knob = None if seen.knob is None else float(seen.knob[0])
        if self.knobs and stop.knob != "set":
            knob = self.knob_of(stop, self.places)[0]
        for _ in range(5 if stop.knob == "set" else 1):
            parameters = self.parameters(stop, actual, 0.0 if knob is None else knob)
            x = self.nearer(x, parameters[:, 0])
            x = self.hold(stop, x, actual, 0.0 if knob is None else knob)
            if stop.knob != "set":
                break
            place = self._turned(stop, x, parameters[:, 0], float(knob or 0.0))
            if abs(place - (knob or 0.0)) < 1e-6:
                break
            knob = place
        parameters = self.parameters(stop, actual, 0.0 if knob is None else knob)
        return self.observe(stop, x[:, None], parameters, None if knob is None else
                            np.array([knob]))  # fmt: skip

    def _turned(self, stop: Stop, x: Array, parameters: Array, knob: float) -> float:
        """Where the control has to stand for the setting, by a step from where it stands."""
        form, out, still = self.form, np.zeros(x.size), np.zeros(x.size)
        slopes = np.zeros((x.size, x.size))
        form.hold(parameters, 0.0)
        form.slopes(0.0, x, still, out, 0.0, slopes)
        form.residual(0.0, x, still, out)
        before = out.copy()
        turned = parameters.copy()
        step = 1e-4 if knob < 0.5 else -1e-4
        turned[form.row[given_name(*self.knobs[0])]] += step
        form.hold(turned, 0.0)
        form.residual(0.0, x, still, out)
        moves = -np.linalg.solve(slopes, (out - before) / step)
        volts, per_turn = 0.0, 0.0
        for net, sense in self.ends:
            if net != form.topology.ground:
                row = form.topology.index[net, ""]
                volts, per_turn = volts + sense * x[row], per_turn + sense * moves[row]
        return float(np.clip(knob + (stop.setting - volts) / per_turn, 0.0, 1.0))

    def _trips(self, tour: list[Seen]) -> dict[str, float]:
        """By which load comparators turn over: those that come nearer to it as the load grows."""
        carry = next(s for s in tour if s.stop.name.startswith("carry"))
        found = {}
        full = next(s for s in tour if s.stop.input == carry.stop.input
                    and s.stop.ambient == carry.stop.ambient and s.stop.knob == "set"
                    and s.stop.setting == carry.stop.setting
                    and s.stop.load == self.rail.current.max)  # fmt: skip
        for ref, name in self.wanted:
            if name == "difference":
                slope = (carry.of(ref, name)[0] - full.of(ref, name)[0]) / (
                    carry.stop.load - full.stop.load
                )
                if abs(slope) > 0.1:
                    found[ref] = float(slope)
        return found

    def _drift(self, tour: list[Seen]) -> Iterator[Ruled]:
        """How far the output moves with the air alone, from where it was set at 25 °C."""
        if self.rail.accuracy is None:
            return
        stays = [seen for seen in tour if seen.stop.knob == "stays"]
        for setting in {seen.stop.setting for seen in stays}:
            room, *others = [seen for seen in stays if seen.stop.setting == setting]
            allowed = self.rail.accuracy * setting
            for other in others:
                moved = self.output(other) - self.output(room)
                for sense in (1.0, -1.0):
                    low, high = (sense * (moved[k::2] - moved[0]) for k in (1, 2))
                    sides = np.where(np.maximum(low, high) <= 0, 0, np.where(low > high, -1, 1))
                    at = [self.output(self.at(each, sides))[0] for each in (room, other)]
                    margin = allowed - sense * (at[1] - at[0])
                    yield Ruled("drift", self.rail.name, margin / allowed, margin, allowed)

    def _regulation(self, tour: list[Seen]) -> Iterator[Ruled]:
        """Line and load regulation with the control untouched, typical parts."""
        rail = self.rail
        plain = {s.stop: float(self.output(s)[..., 0].mean()) for s in tour if s.stop.knob == ""}
        if self.knobs:
            yield from self._drift(tour)
            return
        for rule, allowed, same in (
            ("line regulation", rail.line_regulation, ("load", "ambient")),
            ("load regulation", rail.load_regulation, ("input", "ambient")),
        ):
            if allowed is None:
                continue
            most = 0.0
            for a, va in plain.items():
                for b, vb in plain.items():
                    if not a.name.startswith("load ") and not b.name.startswith("load ") and all(
                        getattr(a, key) == getattr(b, key) for key in same
                    ):  # fmt: skip
                        most = max(most, abs(va - vb))
            yield Ruled(rule, rail.name, (allowed - most) / allowed, most, allowed)


Forms = dict[str, ChargeForm]
Judge = Callable[[Design, Forms], list[Ruled]]
