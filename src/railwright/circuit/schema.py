"""The tables of a design file, in SI; `need` has those under `[need]`, `part_table` a part's."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from railwright.circuit.forms import Quantity, Text
from railwright.circuit.names import NET, REF, Name, Net, Ref
from railwright.circuit.need import Ambient, Amperes, Need, SomeAmperes, SomeVolts, Volts
from railwright.circuit.part_table import PartForm, PartTable
from railwright.circuit.tables import Rows

_PLACE = Quantity("m", least=0.0, most=3.0)
Length = Annotated[float, Quantity("m", least=1e-3, most=3.0)]


@dataclass(frozen=True)
class Calibration:
    """Where a trim control is set: to this output, under these conditions.

    The one of `voltage` and `current` that the control sets is given. What is left out is as
    for every setting: nominal input, half load, 25 °C.
    """

    voltage: Volts | None = None
    current: Amperes | None = None
    load: Amperes | None = None
    input: SomeVolts | None = None
    ambient: Ambient | None = None


@dataclass(frozen=True)
class Control:
    """A part value by which a person sets an output."""

    part: Ref
    value: str
    sets: Annotated[
        str,
        Text('"main.voltage"', r"[^.]+\.(?:voltage|current)", "a rail with .voltage or .current"),
    ]
    role: Literal["set", "trim"]
    calibration: Calibration | None = None
    """Given for a trim control, and for no other."""

    @property
    def rail(self) -> str:
        """Name of the output that is set."""
        return self.sets.rpartition(".")[0]

    @property
    def quantity(self) -> str:
        """`voltage` or `current`."""
        return self.sets.rpartition(".")[2]


@dataclass(frozen=True)
class Enclosure:
    """Outer size of the box [m]; width and height are those of the panel."""

    width: Length
    height: Length
    depth: Length


@dataclass(frozen=True)
class PanelItem:
    """What is mounted on the panel, with its middle at (right, up) from the lower left corner [m].

    `net` is what a terminal is wired to; `part` is the part of the circuit that this is.
    """

    item: str
    at: Annotated[tuple[float, ...], Rows(_PLACE, 2, 2)]
    net: Net | None = None
    part: Ref | None = None


@dataclass(frozen=True)
class StageSupply:
    """What feeds a stage while it is brought up; its other end is on the input's minus."""

    net: Net
    voltage: SomeVolts
    current_limit: SomeAmperes


@dataclass(frozen=True)
class Stage:
    """Parts that are fitted and brought up together."""

    name: Name
    parts: Annotated[tuple[str, ...], Rows(REF, 1)]
    supply: StageSupply
    measure: Annotated[tuple[str, ...], Rows(NET)] = ()


@dataclass(frozen=True)
class Document:
    """A whole design file."""

    title: str
    need: Need
    control: tuple[Control, ...] = ()
    part: Annotated[tuple[PartTable, ...], Rows(PartForm())] = ()
    enclosure: Enclosure | None = None
    panel: tuple[PanelItem, ...] = ()
    stage: tuple[Stage, ...] = ()
