"""What the supply must do: the tables under `[need]` of a design file, in SI and kelvin.

Each annotation is the form of a key (see `tables`); a key with a default may be left out, and
None says that the need does not ask for it. Voltages end where low voltage does, at 1500 V
direct (IEC 61140, from memory); the bounds of other values are far beyond what is built
(common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from railwright.circuit.forms import Choice, Quantity, Text
from railwright.circuit.names import Name, Net
from railwright.circuit.tables import NominalRange, Range, RangeOf, Rows, Table
from railwright.quantity import ZERO_CELSIUS
from railwright.standards.derating import POLICIES
from railwright.standards.iec60063 import SERIES

_VOLTS = Quantity("V", least=0.0, most=1500.0)
_AMPERES = Quantity("A", least=0.0, most=1000.0)
_AMBIENT = Quantity("°C", least=ZERO_CELSIUS - 90.0, most=ZERO_CELSIUS + 150.0)

Volts = Annotated[float, _VOLTS]
SomeVolts = Annotated[float, Quantity("V", most=1500.0, positive=True)]
Amperes = Annotated[float, _AMPERES]
SomeAmperes = Annotated[float, Quantity("A", most=1000.0, positive=True)]
Ambient = Annotated[float, _AMBIENT]
Seconds = Annotated[float, Quantity("s", most=1e5, positive=True)]
Share = Annotated[float, Quantity("1", least=0.0, most=1.0)]
FEEDING = ("battery", "reverse-feeding")
"""Kinds of load that can give a current of their own."""


@dataclass(frozen=True)
class Terminals:
    """The two nets of an input or output. Of an AC input, `plus` is either one."""

    plus: Net
    minus: Net


@dataclass(frozen=True)
class SourceLimit:
    """What the source does when it is overloaded."""

    current: SomeAmperes
    style: Literal["hiccup", "constant-current", "foldback", "latch-off", "fuse"]
    gives_up_after: Seconds | None = None
    """For how long it gives that current before it shuts down."""


@dataclass(frozen=True)
class Input:
    """The source that feeds the supply. AC voltages are rms."""

    kind: Literal["dc", "ac", "battery"]
    voltage: Annotated[
        NominalRange, RangeOf(Quantity("V", most=1500.0, positive=True), nominal=True)
    ]
    resistance: Annotated[float, Quantity("Ω", least=0.0, most=1e6)]
    nets: Terminals | None = None
    """None only in a file for propose; so with the nets of an output."""
    cable_inductance: Annotated[float | None, Quantity("H", least=0.0, most=1.0)] = None
    ripple: SomeVolts | None = None
    """Peak to peak, that may be put back on it by what switches; to 2 MHz."""
    limit: SourceLimit | None = None
    frequency: Annotated[Range | None, RangeOf(Quantity("Hz", least=1.0, most=1e6))] = None
    """Given for an AC input, and for no other."""


@dataclass(frozen=True)
class LoadStep:
    """A step of the load, and what the output may do."""

    from_: Amperes
    to: Amperes
    rise: Seconds
    deviation: SomeVolts
    settle: Seconds


@dataclass(frozen=True)
class Load:
    """What may be connected to an output."""

    kind: Literal[
        "resistive",
        "constant-current",
        "constant-power",
        "lamp",
        "motor",
        "inductive",
        "battery",
        "reverse-feeding",
    ]
    capacitance: Annotated[Range | None, RangeOf(Quantity("F", least=0.0, most=100.0))] = None
    inductance: Annotated[float | None, Quantity("H", most=1e3, positive=True)] = None
    """Of a coil in it, which goes on taking its current when it is not fed any more."""
    charged: SomeVolts | None = None
    """Voltage that it may bring along when it is connected: that of a charged capacitor, of a
    battery, of what feeds back. A battery or what feeds back may bring what the output is to
    stay below, or its highest voltage, where nothing is said."""


@dataclass(frozen=True)
class Within:
    """How soon an overload is dealt with."""

    command: Seconds | None = None
    """To the command."""
    current: Seconds | None = None
    """To a current below a tenth."""


@dataclass(frozen=True)
class LetThrough:
    """What a short circuit may be given before the overload is dealt with."""

    peak: SomeAmperes | None = None
    heat: Annotated[float | None, Quantity("A²s", most=1e6, positive=True)] = None
    """Integral of the current squared, less that of `act_by`, which may last."""


@dataclass(frozen=True)
class Overload:
    """What the supply does when it is overloaded."""

    style: Literal["trip", "constant-current", "foldback", "none"]
    carry: SomeAmperes | None = None
    """Must carry this; given unless the style is none, as is `act_by`."""
    act_by: SomeAmperes | None = None
    within: Within = Within()
    let_through: LetThrough = LetThrough()
    at_power_up: Literal["off", "on"] | None = None


@dataclass(frozen=True)
class Panel:
    """What the front of the supply has for an output."""

    meter: Literal["voltage", "voltage and current"] | None = None
    """What a meter shows of it."""
    switch: bool = False
    """Whether a contact takes it off its terminals."""


@dataclass(frozen=True)
class Output:
    """One rail; every demand is made at its terminals."""

    name: Name
    reference: Literal["floating", "earthed", "common with input"]
    voltage: Annotated[Range, RangeOf(_VOLTS)]
    current: Annotated[Range, RangeOf(_AMPERES)]
    nets: Terminals | None = None
    accuracy: Annotated[float | None, Quantity("1", most=1.0, positive=True)] = None
    line_regulation: SomeVolts | None = None
    load_regulation: SomeVolts | None = None
    ripple: SomeVolts | None = None
    spikes: SomeVolts | None = None
    noise: SomeVolts | None = None
    load_step: LoadStep | None = None
    never_above: SomeVolts | None = None
    load: tuple[Load, ...] = ()
    overload: Overload | None = None
    panel: Panel = Panel()

    @property
    def brought(self) -> float | None:
        """The highest voltage that a load may bring along; None where none brings any [V]."""
        own = self.never_above or self.voltage.max
        feeding = [own for load in self.load if load.kind in FEEDING and load.charged is None]
        stated = [load.charged for load in self.load if load.charged is not None]
        return max([*feeding, *stated], default=None)

    @property
    def is_adjustable(self) -> bool:
        """Whether a person sets its voltage."""
        return self.voltage.min < self.voltage.max


@dataclass(frozen=True)
class Surroundings:
    """Where the supply works."""

    ambient: Annotated[Range, RangeOf(_AMBIENT)]
    touch_limit: str | None = None
    """What may be touched, and how: `metal, held briefly`; words in `standards.touch`."""


@dataclass(frozen=True)
class PartsPolicy:
    """Which parts are wanted, and how far from their limits."""

    series: Annotated[str, Choice(tuple(SERIES))] = "E24"
    resistor_tolerance: Share | None = None
    """Of resistors that do not bring a tolerance of their own."""
    derating: Annotated[str, Text(f'"{next(iter(POLICIES))}"')] = next(iter(POLICIES))
    """Name of a published policy, `none`, or a policy file of one's own beside the design."""
    reserve: Share = 0.1
    """Wanted reserve of a check, as a share of its scale."""
    junction_reserve: Annotated[float, Quantity("K", least=0.0, most=200.0)] = 10.0
    life: Annotated[float, Quantity("s", positive=True)] = 20000 * 3600.0
    """How long parts that wear out are to last in use: about seven years of eight hours a day
    where nothing is said (common practice, no source)."""
    phase_reserve: Annotated[float, Quantity("°", least=0.0, most=90.0)] = 45.0
    yield_: Annotated[float | None, Quantity("1", most=1.0, positive=True)] = None
    """Judge by the lower bound of the yield, which is to be this, instead of by extreme value."""
    own: str | None = None
    """A file with parts of one's own, in the catalogue's form, beside the design."""


@dataclass(frozen=True)
class Need:
    """What the supply must do."""

    input: Input
    output: Annotated[tuple[Output, ...], Rows(Table(Output), least=1)]
    surroundings: Surroundings
    parts: PartsPolicy = PartsPolicy()

    def rail(self, name: str) -> Output | None:
        """The output of a name."""
        return next((output for output in self.output if output.name == name), None)
