"""One `[[part]]` of a design file: which keys it has depends on its kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from railwright.circuit.forms import Choice, Form, Quantity, Text
from railwright.circuit.given import Given, GivenForm, GivenWindow, WindowForm, farthest
from railwright.circuit.names import NET, REF
from railwright.circuit.tables import Keys, Table, read_keys
from railwright.devices import kinds
from railwright.devices.device import Device
from railwright.files.complaints import Complaints
from railwright.files.locate import KeyPath

PINNED = ("pins", "terminals", "options")
"""Keys whose tables have keys by the kind."""


@dataclass(frozen=True)
class Tracks:
    """Parts that share a die or a reel share one draw; their own residue is the tolerance."""

    group: str
    tolerance: Annotated[float, Quantity("1", least=0.0, most=1.0)]


@dataclass(frozen=True)
class PartTable:
    """One part as the file gives it. A ref or kind that was refused is empty."""

    ref: str = ""
    kind: str = ""
    pins: Mapping[str, str] = field(default_factory=dict)
    terminals: Mapping[str, str] = field(default_factory=dict)
    """Pin -> terminal of the package, where the file states it."""
    nets: frozenset[str] = frozenset()
    """Every net that its pins name, those of refused pins as well."""
    values: Mapping[str, Given] = field(default_factory=dict)
    ratings: Mapping[str, float] = field(default_factory=dict)
    windows: Mapping[str, GivenWindow] = field(default_factory=dict)
    options: Mapping[str, str] = field(default_factory=dict)
    use: str | None = None
    """The catalogue's entry; empty where it was refused."""
    block: str = ""
    why: str = ""
    package: str = ""
    tracks: Tracks | None = None


class PartForm(Form):
    """The form of a part: its keys follow from its kind."""

    example = '{ ref = "R7", kind = "resistor" }'
    blank = PartTable()

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> PartTable:
        kind = found.get("kind") if isinstance(found, dict) else None
        device = kinds().get(kind) if isinstance(kind, str) else None
        common = _common_forms()
        nets = _nets(found)
        if isinstance(found, dict) and device is None:
            # Which other keys belong to it cannot be said before its kind is known.
            found = {key: value for key, value in found.items() if key in common}
        own = _own_forms(device) if device else {}
        read = read_keys(found, path, complaints, common | own, ("ref", "kind"))
        # A limit that the equations use too, such as a rated voltage, is both value and rating.
        values = {key: given for key, given in read.items() if isinstance(given, Given)}
        windows = {key: given for key, given in read.items() if isinstance(given, GivenWindow)}
        ratings = {
            key: values[key].typical if key in values else read[key]
            for key in (device.ratings if device else ())
            if key in read
        }
        tables = {key: read[key] for key in read if key in common or key in PINNED}
        return PartTable(nets=nets, values=values, ratings=ratings, windows=windows, **tables)


def _nets(found: object) -> frozenset[str]:
    pins = found.get("pins") if isinstance(found, dict) else None
    names = pins.values() if isinstance(pins, dict) else ()
    return frozenset(name for name in names if isinstance(name, str))


def _common_forms() -> dict[str, Form]:
    return {
        "ref": REF,
        "kind": Choice(tuple(sorted(kinds()))),
        "use": Text(),
        "block": Text(),
        "why": Text(),
        "package": Text(),
        "tracks": Table(Tracks),
    }


def _own_forms(device: Device) -> dict[str, Form]:
    """The keys that a part has by its kind."""
    options = {name: Choice(words) for name, words in device.options.items()}
    ratings = {
        name: Quantity(rating.unit, most=farthest(rating.unit), positive=True)
        for name, rating in device.ratings.items()
    }
    values = {name: GivenForm(value) for name, value in device.values.items()}
    windows = {name: WindowForm(window) for name, window in device.windows.items()}
    tables = {
        "pins": Keys(dict.fromkeys(device.pins, NET)),
        "terminals": Keys(dict.fromkeys(device.pins, Text())),
        "options": Keys(options),
    }
    return {**tables, **ratings, **values, **windows}
