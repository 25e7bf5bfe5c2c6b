"""Random circuits of all kinds of parts, and whether our answers on them are right.

Parts come from the catalogue at their typical values and are joined at random, but so that each
net has a path to ground and supply pins mostly lie on the supply. Nothing sensible comes of it:
junctions conduct backwards, regulators feed themselves. What counts is that the engine either
solves the equations or says that it did not.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache, cached_property
from pathlib import Path
from typing import Literal, get_args

import numpy as np
from circuits import GROUND, Board
from engine.by_sundials import Course, by_sundials
from engine.charge_form import ChargeForm
from numpy.typing import NDArray
from scipy.optimize import root

from railwright.catalogue.entry import Entry
from railwright.catalogue.loader import load
from railwright.devices import kinds
from railwright.engine import reference
from railwright.engine.model import Model, Name
from railwright.engine.operating_point import operating_point
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.system import trace
from railwright.engine.transient import Tolerance, transient

Array = NDArray[np.float64]
Outcome = Literal["agrees", "only ours", "another branch", "not converged", "WRONG"]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
SETTLED = Path(__file__).parent.parent / "data" / "drawn_parts.json"
SUPPLY = "IN"
SURROUNDINGS = ("load", "load", "mains-source")
SPAN, INSTANTS = 1e-3, 41
MOST_CALLS = 300_000
"""Residuals after which SUNDIALS is given up."""
LOOSE, TIGHT = (1e-5, 1e-7), (1e-7, 1e-9)
"""Errors allowed per step, relative and absolute, of ours and of SUNDIALS; then of both once
more where they disagree."""
ALIKE = 1e-2
"""Largest difference of potentials that counts as agreement, over the largest of that net or 1 V:
a late comparator makes much of little."""
ROUGHLY = 10.0 * ALIKE
"""The same for a course that is known to agree at tighter tolerances."""
BALANCED = 1e-5
"""Largest residual over its terms that counts as a solution."""


@cache
def entries() -> Mapping[str, Sequence[Entry]]:
    """Catalogue entries by kind, without those that only carry heat."""
    found: dict[str, list[Entry]] = {}
    for entry in load().values():
        found.setdefault(entry.kind, []).append(entry)
    return {k: v for k, v in found.items() if k not in ("heat-sink", "insulator", "enclosure")}


def settled(seed: int) -> Draw:
    """The circuit of a seed, drawn from a list of parts that does not grow.

    For tests that know what a circuit is like: with more parts in the catalogue its seed would
    stand for another one.
    """
    known = json.loads(SETTLED.read_text(encoding="utf-8"))
    catalogue = load()
    return Draw(seed, {k: [catalogue[name] for name in names] for k, names in known.items()})


class Draw:
    """One random circuit; its seed says which of those that can be made of the parts."""

    def __init__(self, seed: int, parts: Mapping[str, Sequence[Entry]] | None = None) -> None:
        self.rng = np.random.default_rng([seed, 2026])
        self.parts = entries() if parts is None else parts
        self.board = Board()
        self.nets = [SUPPLY]
        self.volts = float(self.rng.uniform(3.0, 24.0))
        limits = {"resistance": self._size(0.01, 2.0), "current_limit": self._size(0.2, 10.0)}
        self.board.source("V", SUPPLY, self.volts, **limits)
        names = [*sorted(self.parts), *SURROUNDINGS]
        for number in range(int(self.rng.integers(1, 13))):
            self._join(f"X{number}", str(self.rng.choice(names)))
        self._lead_home()

    def _size(self, low: float, high: float) -> float:
        return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))

    def _join(self, ref: str, kind: str) -> None:
        device = kinds()[kind]
        pins: dict[str, str] = {}
        for name, pin in device.pins.items():
            if pin.role == "thermal" or (pin.optional and self.rng.random() < 0.5):
                continue
            pins[name] = self._net(pin.role, set(pins.values()))
        chosen = {n: str(self.rng.choice(words)) for n, words in device.options.items()}
        if kind == "load":
            values = {"current": self._size(1e-4, 2.0), "voltage": self.volts}
            self.board.part(ref, kind, pins, chosen, **values)
        elif kind == "mains-source":
            values = {"frequency": self._size(50.0, 5e3), "resistance": self._size(0.1, 50.0)}
            values |= {"inductance": self._size(1e-6, 1e-3), "voltage": self.rng.uniform(1.0, 20.0)}
            self.board.part(ref, kind, pins, chosen, **values)
        else:
            entry = self.parts[kind][self.rng.integers(len(self.parts[kind]))]
            size = {"resistor": (1.0, 1e6), "wire": (1e-3, 0.1)}.get(kind)
            own = {} if size is None else {"resistance": self._size(*size)}
            self.board.use(ref, entry.name, pins, **own)

    def _net(self, role: str, taken: set[str]) -> str:
        if role in ("supply", "power-input") and self.rng.random() < 0.7:
            return SUPPLY
        if role == "ground" and self.rng.random() < 0.9:
            return GROUND
        free = [n for n in (*self.nets, GROUND) if n not in taken]
        if not free or self.rng.random() < 0.35:
            self.nets.append(f"N{len(self.nets)}")
            return self.nets[-1]
        return str(self.rng.choice(free))

    def _lead_home(self) -> None:
        """A path to ground from every net, and stray or wanted capacitance at some."""
        for number, net in enumerate(self.nets[1:]):
            self.board.resistor(f"R{number}", net, GROUND, self._size(100.0, 1e5))
            if self.rng.random() < 0.4:
                ends = {"plus": net, "minus": GROUND}
                values = {"capacitance": self._size(1e-10, 1e-4), "esr": self._size(1e-2, 1.0)}
                self.board.part(f"C{number}", "capacitor", ends, {"dielectric": "film"}, **values)

    @cached_property
    def model(self) -> Model:
        return self.board.model

    @cached_property
    def isothermal(self) -> Model:
        return replace(self.model, topology=replace(self.model.topology, isothermal=True))

    @property
    def stimuli(self) -> dict[Name, PiecewiseLinear]:
        """The source is switched on within 20 µs and falls by a third later."""
        times = SPAN * np.array([0.0, 0.02, 0.6, 0.61])
        values = self.volts * np.array([0.0, 1.0, 1.0, 0.67])
        return {("V", "voltage"): PiecewiseLinear(times, values)}


# Operating points


def judged_point(draw: Draw) -> Outcome:
    """Our operating point by the plain equations, and by another solver from a cold start."""
    points = operating_point(draw.model, {}, 1)
    if not points.solved[0]:
        return "not converged"
    topology = draw.model.topology
    x = points.unknowns[:, 0]
    wanted = draw.model.parameters(_wanted(draw.model), {})
    imbalance = reference.relative_residuals(topology, x[:, None], wanted).max()
    if not imbalance < BALANCED:
        return "WRONG"
    other = _by_scipy(draw.model, wanted)
    if other is None:
        return "only ours"
    near = np.array([0.01 if u.unit == "A" else 1.0 for u in topology.unknowns])
    return "agrees" if (np.abs(x - other) < 1e-3 * near).all() else "another branch"


def _wanted(model: Model) -> tuple[Name, ...]:
    return trace(model.topology).parameters


def _by_scipy(model: Model, wanted: Mapping[Name, Array | float]) -> Array | None:
    topology = model.topology

    def residuals(x: Array) -> Array:
        return reference.residuals(topology, x[:, None], wanted)[:, 0]

    def slopes(x: Array) -> Array:
        return reference.linearised(topology, x[:, None], wanted)[1][0]

    with np.errstate(all="ignore"):
        try:
            found = root(
                residuals,
                model.cold_start(1)[:, 0],
                jac=slopes,
                method="lm",
                options={"maxiter": 300},
            )
        except (ValueError, np.linalg.LinAlgError):
            return None
        x = np.asarray(found.x)
        good = reference.relative_residuals(topology, x[:, None], wanted).max() < BALANCED
    return x if good else None


# Courses in time


def _difference(one: Array, other: Array) -> float:
    size = np.maximum(np.abs(other).max(axis=-1, keepdims=True), 1.0)
    return float((np.abs(one - other) / size).max())


def judged_course(draw: Draw) -> Outcome:
    """Our course from rest by that of SUNDIALS; where they differ, both more exactly."""
    form = ChargeForm(draw.isothermal.topology, tuple(draw.stimuli))
    ours, theirs = _ours(draw, LOOSE), _theirs(draw, form, LOOSE)
    if ours is None:
        return "not converged"
    if not theirs.solved:
        return "only ours"
    if _apart(draw, ours, theirs.x) < ALIKE:
        return "agrees"
    finer, theirs = _ours(draw, TIGHT), _theirs(draw, form, TIGHT)
    if finer is None or not theirs.solved:
        return "only ours"
    if _apart(draw, finer, theirs.x) < ALIKE:
        # What oscillates by itself adds up its delays: then each interval is looked at.
        near = _apart(draw, ours, theirs.x) < ROUGHLY
        return "agrees" if near or not _wrong_intervals(draw, form, ours, ROUGHLY) else "WRONG"
    # Where algebraic equations have several solutions, both may jump to different ones: then a
    # single interval differs, and from our side of it both go on alike.
    return "another branch" if _wrong_intervals(draw, form, finer, ALIKE) <= 2 else "WRONG"


def _instants() -> Array:
    return np.linspace(0.0, SPAN, INSTANTS)


def _ours(draw: Draw, allowed: tuple[float, float]) -> Array | None:
    """Our unknowns (row, time), None where the course ended early."""
    course = transient(
        draw.isothermal,
        {},
        1,
        _instants(),
        stimuli=draw.stimuli,
        tolerance=Tolerance(*allowed),
        most_steps=1e6,
    )
    if not course.solved[0]:
        return None
    names = draw.isothermal.topology.index
    return np.array([course.unknown(*name)[0] for name in names])


def _theirs(draw: Draw, form: ChargeForm, allowed: tuple[float, float]) -> Course:
    return by_sundials(
        draw.isothermal, {}, _instants(), None, draw.stimuli, *allowed, form, MOST_CALLS
    )


def _apart(draw: Draw, one: Array, other: Array) -> float:
    """Largest difference of a potential, over the largest of that net or 1 V."""
    rows = [i for i, u in enumerate(draw.isothermal.topology.unknowns) if not u.name]
    return _difference(one[rows], other[rows])


def _wrong_intervals(draw: Draw, form: ChargeForm, ours: Array, alike: float) -> int:
    """How often SUNDIALS comes to another end from our unknowns at an output to the next."""
    instants, apart = _instants(), 0
    for number in range(INSTANTS - 1):
        found = by_sundials(
            draw.isothermal,
            {},
            instants[number : number + 2],
            ours[:, number],
            draw.stimuli,
            *TIGHT,
            form,
            MOST_CALLS,
        )
        if found.solved:
            apart += _apart(draw, ours[:, [number + 1]], found.x[:, [1]]) >= alike
    return apart
