"""Random circuits of all kinds of parts, and whether our answers on them are right.

Every kind that is registered is drawn: as a part of the catalogue at its typical values, or where
there is none with values of any size. Parts are joined at random, but so that each net has a path
to ground or to the air and supply pins mostly lie on the supply. Nothing sensible comes of it:
junctions conduct backwards, regulators feed themselves. What counts is that the engine either
solves the equations or says that it did not.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
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
from railwright.devices.device import Device
from railwright.engine import reference
from railwright.engine.model import Model, Name
from railwright.engine.operating_point import operating_point
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.system import trace
from railwright.engine.topology import AIR
from railwright.engine.transient import Tolerance, transient

Array = NDArray[np.float64]
Outcome = Literal["agrees", "only ours", "another branch", "not converged", "WRONG"]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
SETTLED = Path(__file__).parent.parent / "data" / "drawn_circuits.json"
SUPPLY = "IN"
SIZES: Mapping[tuple[str, str], tuple[float, float]] = {
    ("resistor", "resistance"): (1.0, 1e6),
    ("wire", "resistance"): (1e-3, 0.1),
}
"""Kind and value -> range, where that of its unit is none that is sold."""
UNITS: Mapping[str, tuple[float, float]] = {
    "V": (0.3, 24.0),
    "A": (1e-4, 2.0),
    "W": (1e-3, 10.0),
    "Ω": (0.01, 10.0),
    "F": (1e-10, 1e-4),
    "H": (1e-8, 1e-3),
    "Hz": (50.0, 5e3),
    "s": (1e-6, 1e-2),
    "K": (1.0, 100.0),
    "1": (0.01, 1.0),
}
"""Unit -> range of what the catalogue leaves to the design or has no part for."""
INPUTS: Mapping[str, str] = {"voltage": "V", "power": "W"}
"""Units of inputs that feed and load and are no currents."""
TOOLS = ("free", "forced", "enable_inverted")
"""Inputs by which the solver holds states and faults turn senses round: no knobs."""
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


@dataclass(frozen=True)
class Circuit:
    """One circuit and the voltage of its first source, `V` [V]."""

    board: Board
    volts: float

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


def settled(seed: int) -> Circuit:
    """The circuit that a seed once stood for, before there were more parts and kinds.

    For tests that know what a circuit is like.
    """
    known = json.loads(SETTLED.read_text(encoding="utf-8"))[str(seed)]
    board = Board()
    for part in known["parts"]:
        ref, pins, values = part["ref"], part["pins"], part.get("values", {})
        if "part" in part:
            board.use(ref, part["part"], pins, **values)
        else:
            board.part(ref, part["kind"], pins, part.get("options"), **values)
    return Circuit(board, known["volts"])


def _left_open(entry: Entry) -> list[str]:
    """Values of a part that its design has to state."""
    return [
        name
        for name, value in kinds()[entry.kind].values.items()
        if (entry.values[name].relative if name in entry.values else value.default is None)
    ]


@cache
def entries() -> Mapping[str, Sequence[Entry]]:
    """Catalogue entries by kind."""
    found: dict[str, list[Entry]] = {}
    for entry in load().values():
        found.setdefault(entry.kind, []).append(entry)
    return found


def drawn(seed: int) -> Circuit:
    """The circuit of a seed, out of those that can be made of all kinds and the catalogue."""
    draw = _Draw(seed)
    return Circuit(draw.board, draw.volts)


class _Draw:
    """A board on the way to its circuit."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng([seed, 2026])
        self.board = Board()
        self.nets = [SUPPLY]
        self.faces: list[str] = []
        self.volts = float(self.rng.uniform(3.0, 24.0))
        limits = {"resistance": self._size(0.01, 2.0), "current_limit": self._size(0.2, 10.0)}
        self.board.source("V", SUPPLY, self.volts, **limits)
        for number in range(int(self.rng.integers(1, 13))):
            self._join(f"X{number}", str(self.rng.choice(sorted(kinds()))), {})
        self._lead_home()

    def _size(self, low: float, high: float) -> float:
        return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))

    def _join(self, ref: str, kind: str, at: Mapping[str, str]) -> None:
        """Add a part of a kind, and often those that it needs to know. at: nets of its pins."""
        device = kinds()[kind]
        pins: dict[str, str] = {}
        for name, pin in device.pins.items():
            if name not in at and pin.optional and self.rng.random() < 0.5:
                continue
            pins[name] = at[name] if name in at else self._net(pin.role, set(pins.values()))
        if kind in entries():
            entry = entries()[kind][self.rng.integers(len(entries()[kind]))]
            own = {name: self._value(kind, name) for name in _left_open(entry)}
            self.board.use(ref, entry.name, pins, **own, **self._inputs(device))
        else:
            chosen = {n: str(self.rng.choice(words)) for n, words in device.options.items()}
            values = {name: self._value(kind, name) for name in device.values}
            self.board.part(ref, kind, pins, chosen, **values, **self._inputs(device))
        for name, link in device.links.items():
            if self.rng.random() < 0.5:
                end, other = str(self.rng.choice(link.pins)), str(self.rng.choice(link.kinds))
                self._join(f"{ref}-{name}", other, {end: pins[link.at]})

    def _value(self, kind: str, name: str) -> float:
        """A value that no part of the catalogue has."""
        value = kinds()[kind].values[name]
        low, high = SIZES.get((kind, name), UNITS[value.unit])
        low = low if value.least is None else max(low, value.least)
        return self._size(low, high if value.most is None else min(high, value.most))

    def _inputs(self, device: Device) -> dict[str, float]:
        """What feeds and loads the circuit at any size, knobs at rest or anywhere else."""
        found: dict[str, float] = {}
        for name in device.inputs:
            if name in INPUTS or name in (*device.drives, *device.loads):
                found[name] = self._size(*UNITS[INPUTS.get(name, "A")])
            elif name not in TOOLS and self.rng.random() < 0.5:
                found[name] = float(self.rng.random())
        return found

    def _net(self, role: str, taken: set[str]) -> str:
        if role == "thermal":
            return self._free(self.faces, [*self.faces, AIR], taken, "H")
        if role in ("supply", "power-input") and self.rng.random() < 0.7:
            return SUPPLY
        if role == "ground" and self.rng.random() < 0.9:
            return GROUND
        return self._free(self.nets, [*self.nets, GROUND], taken, "N")

    def _free(self, known: list[str], choice: Sequence[str], taken: set[str], letter: str) -> str:
        """A net that the part is not on yet, or a new one."""
        free = [n for n in choice if n not in taken]
        if not free or self.rng.random() < 0.35:
            known.append(f"{letter}{len(known)}")
            return known[-1]
        return str(self.rng.choice(free))

    def _lead_home(self) -> None:
        """A path to ground or to the air from every net; capacitance, wanted or not, at some."""
        for number, net in enumerate(self.nets[1:]):
            self.board.resistor(f"R{number}", net, GROUND, self._size(100.0, 1e5))
            if self.rng.random() < 0.4:
                ends = {"plus": net, "minus": GROUND}
                values = {"capacitance": self._size(1e-10, 1e-4), "esr": self._size(1e-2, 1.0)}
                self.board.part(f"C{number}", "capacitor", ends, {"dielectric": "film"}, **values)
        for number, face in enumerate(self.faces):
            ends = {"face": face, "air": AIR}
            self.board.part(f"S{number}", "heat-sink", ends, resistance=self._size(1.0, 100.0))


# Operating points


def judged_point(circuit: Circuit) -> Outcome:
    """Our operating point by the plain equations, and by another solver from a cold start."""
    points = operating_point(circuit.model, {}, 1)
    if not points.solved[0]:
        return "not converged"
    topology = circuit.model.topology
    x = points.unknowns[:, 0]
    wanted = circuit.model.parameters(_wanted(circuit.model), {})
    imbalance = reference.relative_residuals(topology, x[:, None], wanted).max()
    if not imbalance < BALANCED:
        return "WRONG"
    other = _by_scipy(circuit.model, wanted)
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


def judged_course(circuit: Circuit) -> Outcome:
    """Our course from rest by that of SUNDIALS; where they differ, both more exactly."""
    form = ChargeForm(circuit.isothermal.topology, tuple(circuit.stimuli))
    ours, theirs = _ours(circuit, LOOSE), _theirs(circuit, form, LOOSE)
    if ours is None:
        return "not converged"
    if not theirs.solved:
        return "only ours"
    if _apart(circuit, ours, theirs.x) < ALIKE:
        return "agrees"
    finer, theirs = _ours(circuit, TIGHT), _theirs(circuit, form, TIGHT)
    if finer is None or not theirs.solved:
        return "only ours"
    if _apart(circuit, finer, theirs.x) < ALIKE:
        # What oscillates by itself adds up its delays: then each interval is looked at.
        near = _apart(circuit, ours, theirs.x) < ROUGHLY
        return "agrees" if near or not _wrong_intervals(circuit, form, ours, ROUGHLY) else "WRONG"
    # Where algebraic equations have several solutions, both may jump to different ones: then a
    # single interval differs, and from our side of it both go on alike.
    return "another branch" if _wrong_intervals(circuit, form, finer, ALIKE) <= 2 else "WRONG"


def _instants() -> Array:
    return np.linspace(0.0, SPAN, INSTANTS)


def _ours(circuit: Circuit, allowed: tuple[float, float]) -> Array | None:
    """Our unknowns (row, time), None where the course ended early."""
    course = transient(
        circuit.isothermal,
        {},
        1,
        _instants(),
        stimuli=circuit.stimuli,
        tolerance=Tolerance(*allowed),
        most_steps=1e6,
    )
    if not course.solved[0]:
        return None
    names = circuit.isothermal.topology.index
    return np.array([course.unknown(*name)[0] for name in names])


def _theirs(circuit: Circuit, form: ChargeForm, allowed: tuple[float, float]) -> Course:
    return by_sundials(
        circuit.isothermal, {}, _instants(), None, circuit.stimuli, *allowed, form, MOST_CALLS
    )


def _apart(circuit: Circuit, one: Array, other: Array) -> float:
    """Largest difference of a potential, over the largest of that net or 1 V."""
    rows = [i for i, u in enumerate(circuit.isothermal.topology.unknowns) if not u.name]
    return _difference(one[rows], other[rows])


def _wrong_intervals(circuit: Circuit, form: ChargeForm, ours: Array, alike: float) -> int:
    """How often SUNDIALS comes to another end from our unknowns at an output to the next."""
    instants, apart = _instants(), 0
    for number in range(INSTANTS - 1):
        found = by_sundials(
            circuit.isothermal,
            {},
            instants[number : number + 2],
            ours[:, number],
            circuit.stimuli,
            *TIGHT,
            form,
            MOST_CALLS,
        )
        if found.solved:
            apart += _apart(circuit, ours[:, [number + 1]], found.x[:, [1]]) >= alike
    return apart
