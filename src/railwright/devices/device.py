"""What every kind of part declares: pins with roles, values, ratings, faults, equations.

A kind is one file in this folder. Its equations are plain Python arithmetic on whatever
numbers `Terms` hands out: numpy arrays (the reference), dual numbers (slopes) or traced
expressions (compiled code). Write them once, with the functions of `arithmetic`.

Signs: a flow is positive into the part at that pin; flows are amperes on electrical pins
and watts on thermal ones. Potentials are volts, or kelvin on thermal pins.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Literal, Protocol

Number = Any
"""A float, an array over lanes, a dual number or a traced expression: arithmetic works on all."""

Role = Literal[
    "passive",
    "anode",
    "cathode",
    "plus",
    "minus",
    "supply",
    "ground",
    "input",
    "logic-input",
    "output",
    "open-collector",
    "enable",
    "feedback",
    "adjust",
    "switch",
    "power-input",
    "power-output",
    "base",
    "collector",
    "emitter",
    "gate",
    "drain",
    "source",
    "thermal",
]


@dataclass(frozen=True, slots=True)
class Pin:
    """A pin and what it is for; checks and drawings read the role, never the name."""

    role: Role
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Value:
    """A value a part needs: its unit and what it means."""

    unit: str
    meaning: str
    signed: bool = False
    """True where the published limit is a magnitude and both signs occur (an offset)."""
    default: float | None = None
    """Taken where neither design nor catalogue says anything; only for what is truly nil."""
    least: float | None = None
    """The smallest physically possible value; the bound itself is allowed."""
    most: float | None = None
    dynamic: bool = False
    """Read only where something changes with time or makes noise: it may be left unsaid until
    that is asked for."""
    own_loop: bool = False
    """Shapes the part's own loop. Where no limits of it are published, the published window of the
    parts around it tells whether the loop is stable, and no spread that somebody assumed."""


@dataclass(frozen=True, slots=True)
class Rating:
    """An absolute limit: the observable it bounds and the derating policy's row for it."""

    unit: str
    bounds: str
    """Name of the observable, at most this rating in magnitude."""
    family: str = ""
    quantity: str = ""
    """Row and column of the derating policy (`standards.derating`); empty: none applies."""
    nil_at: float | None = None
    """Air temperature [K] at which nothing of a dissipation is left that falls in warm air
    (`standards.iec60115`); None where it does not."""
    over: Literal["peak", "mean", "rms", ""] = ""
    """What of a course in time it bounds; empty: the mean of a power, else the peak."""
    lasting: bool = False
    """Whether only what lasts counts: the part is made to see more than it for a moment."""

    @property
    def bounds_of_course(self) -> Literal["peak", "mean", "rms"]:
        """What of a course in time it bounds: watts heat by their mean."""
        return self.over or ("mean" if self.unit == "W" else "peak")


@dataclass(frozen=True, slots=True)
class Fault:
    """A way in which one part fails by itself, and how often, as a share of its failures."""

    name: Literal["open", "short", "drift", "leaky", "stuck-high", "stuck-low", "latched"]
    share: float
    between: tuple[str, ...] = ()
    moves: tuple[str, ...] = ()
    """Values that a drift changes, those of them that the kind has; none where a drift only shows
    in what the part itself reads."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """An internal unknown. A `node` is balanced by flows, any other has its own equation."""

    unit: Literal["V", "A", "K", "1"]
    start: float = 0.0
    node: bool = False


WINDOW_UNITS = {"capacitance": "F", "series resistance": "Ω", "inductance": "H"}


@dataclass(frozen=True, slots=True)
class Window:
    """What a datasheet bounds of a part outside, and where that part sits.

    A window's numbers are in the catalogue (`catalogue.entry.KnownWindow`).
    """

    quantity: Literal["capacitance", "series resistance", "inductance"]
    pins: tuple[str, ...]
    """Its ends. One pin alone: its other end is no pin of this part (the return of the supply, the
    far end of a coil)."""
    beyond: str = ""
    """A link of the kind: it sits at the far end of that part, not at the first of `pins`."""
    or_else: str = ""
    """Another window of the kind: where that one is kept, this one need not be."""

    @property
    def unit(self) -> str:
        """SI unit of its bounds."""
        return WINDOW_UNITS[self.quantity]


class Terms(Protocol):
    """What a part's equations may ask for and must hand back; see the module's docstring."""

    p: Any
    """Attribute access to constants, values and inputs: `t.p.resistance`."""

    @property
    def ambient(self) -> Number:
        """Air temperature [K]."""

    @property
    def gain(self) -> Number:
        """1 in a true solution; less while the solver walks amplifiers up to their full gain."""

    @property
    def moving(self) -> bool:
        """Whether electrical quantities change with time in this view (fixed for a topology)."""

    @property
    def time(self) -> Number:
        """Time [s]; nil where nothing moves."""

    def v(self, pin: str) -> Number:
        """Potential of a pin or internal node [V or K]."""

    def x(self, unknown: str) -> Number:
        """An internal unknown that is not a node."""

    def flow(self, pin: str, amount: Number) -> None:
        """Add a flow into the part at a pin or internal node [A or W]."""

    def through(self, start: str, end: str, amount: Number) -> None:
        """Add a flow that enters at `start` and leaves at `end`."""

    def zero(self, unknown: str, residual: Number) -> None:
        """State the equation residual = 0 that belongs to an internal unknown (terms add up)."""

    def charge(self, start: str, end: str, amount: Number, parasitic: bool = False) -> None:
        """State a charge stored between two pins [C]; its rate of change is a flow.

        A parasitic one need not be followed exactly: it gives an edge its shape, no more.
        """

    def heat(self, node: str, amount: Number) -> None:
        """State heat stored at a thermal pin or node [J]; its rate of change is a flow of heat."""

    def flux(self, unknown: str, amount: Number) -> None:
        """State a flux linkage [V s] whose rate of change is subtracted in `unknown`'s equation."""

    def event(self, guard: Number, **changes: Number) -> None:
        """Once guard reaches nil from below, held quantities (`Device.holds`) become `changes`.

        It acts again and again until it changes nothing or its guard is below nil: a guard must
        not stay above nil while another event takes its changes back.
        """

    def pace(self, longest: Number) -> None:
        """Let no step in time be longer [s]: what comes and goes could be stepped over."""

    def signal(self, name: str, amount: Number) -> Number:
        """`amount`, marked as the place where the loops through this part can be opened."""

    def noise(self, start: str, end: str, density: Number, corner: Number = 0.0) -> None:
        """State a noise current between two pins: its density [A²/Hz] far above the corner [Hz].

        Below the corner it rises as 1/f.
        """

    def noise_in(self, unknown: str, density: Number, corner: Number = 0.0) -> None:
        """State a noise in an internal unknown's own equation [unit²/Hz], likewise."""

    def observe(self, name: str, amount: Number) -> None:
        """Report a quantity that the kind lists in `observes`.

        Through `linked`, it stands above what the linked part reports by itself.
        """

    def connected(self, pin: str) -> bool:
        """Whether an optional pin is on a net (fixed for a circuit)."""

    def option(self, name: str) -> str:
        """A structural choice of the part, such as the function of a gate."""

    def linked(self, name: str) -> Terms | None:
        """The terms of a linked part (see `Device.links`), or None where the circuit has none."""


@dataclass(frozen=True, slots=True)
class Link:
    """A part that this one needs to know: the one of `kinds` whose `pin` shares our `at` pin's net.

    The averaged model of a switching regulator needs its coil's inductance and heats its diode.
    """

    kinds: tuple[str, ...]
    at: str
    pins: tuple[str, ...]
    """Any of these pins of the other part may be the one on the net."""
    to: str = ""
    """Pin of ours on whose net another pin of the part has to be; empty: anywhere."""
    across: str = ""
    """Link of ours at whose far end the part may be as well, where there is none on the net; where
    there is one, nothing leads across, and that link is none."""


class Device:
    """Base of all kinds. A subclass is registered by existing (`devices.kinds`)."""

    kind: ClassVar[str] = ""
    pins: ClassVar[Mapping[str, Pin]] = {}
    values: ClassVar[Mapping[str, Value]] = {}
    inputs: ClassVar[Mapping[str, float]] = {}
    """Quantities set from outside per lane (a knob, a load current), with their resting value."""
    holds: ClassVar[Mapping[str, float]] = {}
    """Quantities that keep their value between events (a latch, the time of the last clock tick),
    with the value at the start; equations read them as `t.p.name`."""
    ratings: ClassVar[Mapping[str, Rating]] = {}
    windows: ClassVar[Mapping[str, Window]] = {}
    """What it asks of parts outside so that it works: of the capacitor at an output, of a coil."""
    unknowns: ClassVar[Mapping[str, Unknown]] = {}
    observes: ClassVar[Mapping[str, str]] = {}
    """Observable -> unit."""
    switched_unknowns: ClassVar[Mapping[str, Unknown] | None] = None
    """Unknowns of `switched_equations`, None for a kind that has no such equations."""
    options: ClassVar[Mapping[str, tuple[str, ...]]] = {}
    links: ClassVar[Mapping[str, Link]] = {}
    faults: ClassVar[tuple[Fault, ...]] = ()
    drives: ClassVar[tuple[str, ...]] = ()
    """Inputs that feed the circuit; the solver may step them up from nil."""
    loads: ClassVar[tuple[str, ...]] = ()
    """Inputs that load the circuit; a search for steady states walks them light and heavy."""
    two_state: ClassVar[bool] = False
    """True where the part has an unknown `state` that can rest at 0 or 1 (gate, comparator)."""
    remembers: ClassVar[bool] = False
    """True where a two-state part keeps its state by itself (latch, flip-flop, timer): what it is
    in after power-up is chance, unless its inputs force it."""
    polar: ClassVar[tuple[tuple[str, str], ...]] = ()
    """Pairs (plus, minus) of pins that must never be reversed in a lasting state."""
    negative: ClassVar[bool] = False
    """True for a part that is fed below its ground: its power input is the most negative pin."""
    conducts: ClassVar[tuple[tuple[str, str], ...]] = ()
    """Pairs of pins between which a direct current can flow."""
    symbol: ClassVar[str] = "box"
    thermal_unit: ClassVar[str] = "K/W"
    protects_itself: ClassVar[bool] = False
    """True for a part that shuts down by itself before its junction is too hot."""
    surroundings: ClassVar[bool] = False
    """True for what a need describes and no shop sells: it has no faults of its own."""

    def constants(self, v: Any) -> dict[str, Number]:
        """Quantities computed once per lane from the values (numpy arithmetic).

        `v` gives values and inputs by attribute. The result is seen beside them in `t.p`.
        """
        return {}

    def polar_pairs(self, options: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
        """`polar`, where the part's options do not say otherwise."""
        return self.polar

    def needed_links(self, options: Mapping[str, str]) -> tuple[str, ...]:
        """Names of the links without which the part is no use."""
        return tuple(self.links)

    def derating_family(self, rating: str, options: Mapping[str, str]) -> str:
        """Family of a rating in the derating policy, where the options do not say otherwise."""
        return self.ratings[rating].family

    def equations(self, t: Terms) -> None:
        """State flows, equations and observables through `t`."""
        raise NotImplementedError(f"{type(self).__name__} states no equations")

    def switched_equations(self, t: Terms) -> None:
        """The same cycle by cycle, for a kind whose `equations` are means over its cycle."""
        raise NotImplementedError(f"{type(self).__name__} has no equations cycle by cycle")


def dissipate(t: Terms, power: Number) -> None:
    """Heat the internal node `junction` of a part and carry the heat to its case or to the air.

    Needs `JUNCTION_VALUES` and reports the observables `power` [W] and `junction` [K]. Most of a
    package's metal is at its case, so its heat is stored there, or at the junction of a part
    without a sink. Source: the thermal resistance model of JESD51-1, used by every datasheet.
    """
    junction = t.v("junction")
    t.flow("junction", -power)
    mass = "case" if t.connected("case") else "junction"
    t.heat(mass, t.p.heat_capacity * t.v(mass))
    if t.connected("case"):
        t.through("junction", "case", (junction - t.v("case")) / t.p.junction_to_case)
    else:
        t.flow("junction", (junction - t.ambient) / t.p.junction_to_ambient)
    t.observe("power", power)
    t.observe("junction", junction)


JUNCTION: Mapping[str, Unknown] = {"junction": Unknown("K", start=300.0, node=True)}
JUNCTION_VALUES: Mapping[str, Value] = {
    "junction_to_case": Value("K/W", "thermal resistance, junction to case or tab", least=0.01),
    "junction_to_ambient": Value("K/W", "thermal resistance, junction to air, no sink", least=0.1),
    "heat_capacity": Value("J/K", "of the package", default=0.0, least=0.0, dynamic=True),
}
JUNCTION_OBSERVES: Mapping[str, str] = {"power": "W", "junction": "°C"}
CASE: Mapping[str, Pin] = {"case": Pin("thermal", optional=True)}
