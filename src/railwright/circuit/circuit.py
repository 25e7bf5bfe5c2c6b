"""Parts and the nets that join them, resolved to SI values with their spread and source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from railwright.catalogue.entry import KnownWindow
from railwright.circuit.part_table import Tracks
from railwright.devices.device import Device
from railwright.files.mistakes import nearest
from railwright.quantity import Spread


class CircuitError(ValueError):
    """A change that a circuit cannot take, or a part that it does not have."""


@dataclass(frozen=True, slots=True)
class PartValue:
    """A value with its spread and drift, and where both come from."""

    spread: Spread
    unit: str
    source: str
    assumed: bool
    """True where the spread is taken from the table of assumed spreads."""


@dataclass(frozen=True)
class Part:
    """A part of a circuit, with everything that its equations ask for."""

    ref: str
    kind: str
    device: Device = field(compare=False, repr=False)
    pins: Mapping[str, str]
    """Pin -> net; a pin that is connected to nothing is not in it."""
    values: Mapping[str, PartValue]
    ratings: Mapping[str, float]
    """Those that are known, in SI."""
    options: Mapping[str, str]
    windows: Mapping[str, KnownWindow] = field(default_factory=dict)
    """What its datasheet asks of parts outside, as far as it is known."""
    block: str = ""
    why: str = ""
    use: str = ""
    """Name of the catalogue's part; empty where there is none."""
    tracks: Tracks | None = None
    package: str = ""
    terminals: Mapping[str, str] = field(default_factory=dict)
    """Pin -> terminal of its package, as the design has it laid out or wired."""
    order: Mapping[str, str] = field(default_factory=dict)
    """Pin -> terminal as the catalogue knows it of this package."""
    warning: str = ""
    """What the catalogue tells to look out for."""


@dataclass(frozen=True)
class Circuit:
    """Parts in the order of the file. A circuit never changes: changes give another one."""

    parts: tuple[Part, ...] = ()

    def __post_init__(self) -> None:
        refs = [part.ref for part in self.parts]
        twice = sorted({ref for ref in refs if refs.count(ref) > 1})
        if twice:
            raise CircuitError(f"more than one part is called {', '.join(twice)}. Rename them.")

    @cached_property
    def nets(self) -> Mapping[str, tuple[tuple[str, str], ...]]:
        """Electrical net -> the (ref, pin) on it."""
        return self._joined(thermal=False)

    @cached_property
    def thermal_nets(self) -> Mapping[str, tuple[tuple[str, str], ...]]:
        """Thermal net -> the (ref, pin) on it; the air is one where a part touches it."""
        return self._joined(thermal=True)

    def part(self, ref: str) -> Part:
        """The part of a ref. CircuitError where there is none."""
        if ref not in self._by_ref:
            raise CircuitError(f"there is no part {ref}. {nearest(ref, self._by_ref)}")
        return self._by_ref[ref]

    def on_net(self, net: str) -> tuple[tuple[Part, str], ...]:
        """Parts on a net, electrical or thermal, each with its pin."""
        ends = self.nets.get(net) or self.thermal_nets.get(net) or ()
        return tuple((self.part(ref), pin) for ref, pin in ends)

    def with_part(self, part: Part) -> Circuit:
        """This circuit with one part more, at the end. CircuitError where its ref is taken."""
        return Circuit((*self.parts, part))

    def without(self, ref: str) -> Circuit:
        """This circuit without a part. CircuitError where there is none of that ref."""
        gone = self.part(ref)
        return Circuit(tuple(part for part in self.parts if part is not gone))

    def replaced(self, part: Part) -> Circuit:
        """This circuit with a part in the place of the one of the same ref."""
        old = self.part(part.ref)
        return Circuit(tuple(part if each is old else each for each in self.parts))

    @cached_property
    def _by_ref(self) -> Mapping[str, Part]:
        return {part.ref: part for part in self.parts}

    def _joined(self, thermal: bool) -> dict[str, tuple[tuple[str, str], ...]]:
        joined: dict[str, tuple[tuple[str, str], ...]] = {}
        for part in self.parts:
            for pin, net in part.pins.items():
                if is_thermal(part.device, pin) == thermal:
                    joined[net] = (*joined.get(net, ()), (part.ref, pin))
        return joined


def is_thermal(device: Device, pin: str) -> bool:
    """Whether a pin carries heat instead of current."""
    return device.pins[pin].role == "thermal"
