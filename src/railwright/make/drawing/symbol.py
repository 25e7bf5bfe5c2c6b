"""Symbols by name, and which one a part gets: its own, or a box with the names of its pins."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from railwright.circuit.circuit import Part, is_thermal
from railwright.devices.device import Device
from railwright.make.drawing import lettering
from railwright.make.drawing.geometry import STEP, Box, Point, Spot

Standard = Literal["IEC", "ANSI"]
STANDARDS: tuple[Standard, ...] = ("IEC", "ANSI")
Anchor = Literal["start", "middle", "end"]
Side = Literal["left", "right", "top", "bottom"]

SIDES: Mapping[str, Side] = {
    "power-output": "right",
    "output": "right",
    "open-collector": "right",
    "switch": "right",
    "feedback": "right",
    "collector": "right",
    "drain": "right",
    "cathode": "right",
    "supply": "top",
    "ground": "bottom",
    "adjust": "bottom",
    "emitter": "bottom",
    "source": "bottom",
    "thermal": "top",
}
"""Role -> side of a box on which such a pin stands; the left for every other."""
ROOM = 0.4
"""Between the name of a pin and the border of its box, in steps."""


GAP = 2 * "\N{NO-BREAK SPACE}"
"""Between the name of a net and its voltage."""


@dataclass(frozen=True, slots=True)
class Lead:
    """Where a wire meets a pin, and where its lead ends in the symbol."""

    tip: Point
    inner: Spot


@dataclass(frozen=True, slots=True)
class Lettering:
    """A text of a symbol: it stands upright however the symbol is turned."""

    text: str
    at: Spot
    anchor: Anchor = "middle"
    size: float = lettering.SMALL
    more: str = ""
    """What follows the text and is no part of a name: the voltage of a net."""

    @property
    def whole(self) -> str:
        """All of it."""
        return f"{self.text}{GAP}{self.more}" if self.more else self.text


@dataclass(frozen=True, slots=True)
class Symbol:
    """What is drawn of a part, lying; see `symbols.toml`."""

    name: str
    leads: Mapping[str, Lead]
    """Pin -> its lead."""
    body: Box
    strokes: Sequence[str]
    solids: Sequence[str]
    texts: Sequence[Lettering]
    upright: bool
    """Whether it is never turned on its side."""


def symbol_of(part: Part, standard: Standard = "IEC") -> Symbol:
    """The symbol of a part: that of its kind where it has a place for every pin, else a box."""
    for name in _names(part, standard):
        drawn = _table().get(name)
        leads = _leads(part, drawn["pins"]) if drawn else None
        if drawn and leads is not None:
            return Symbol(
                name=name,
                leads=leads,
                body=Box(*drawn["body"]),
                strokes=drawn.get("strokes", ()),
                solids=drawn.get("solids", ()),
                texts=tuple(Lettering(text, (x, y)) for text, x, y in drawn.get("texts", ())),
                upright=drawn.get("upright", False),
            )
    return _box(part)


def _names(part: Part, standard: Standard) -> list[str]:
    """Names under which its symbol may stand, the most special first."""
    plain = part.device.symbol
    optional = [pin for pin, seat in part.device.pins.items() if seat.optional and pin in part.pins]
    found = [f"{plain}+{pin}" for pin in optional]
    found += [f"{plain}/{option}" for option in part.options.values()]
    found.append(plain)
    return [f"{name}@{standard}" for name in found] + found


def _leads(part: Part, known: Mapping[str, Sequence[float]]) -> Mapping[str, Lead] | None:
    """Pin -> lead for the part's pins on nets; None where the symbol has no place for one."""
    found: dict[str, Lead] = {}
    taken: set[str] = set()
    for pin in part.pins:
        own = pin if pin in known else part.device.pins[pin].role
        if own not in known or own in taken:
            return None
        taken.add(own)
        x, y, inner_x, inner_y = known[own]
        found[pin] = Lead((int(x), int(y)), (inner_x, inner_y))
    return found


@cache
def _table() -> Mapping[str, Mapping[str, Any]]:
    """Symbol -> what is drawn, with what it has in common with another filled in."""
    text = files("railwright.make.drawing").joinpath("symbols.toml").read_text("utf-8")
    found = tomllib.loads(text)
    for name, drawn in found.items():
        if "same" in drawn:  # what it refers to stands before it
            found[name] = {**found[drawn["same"]], **drawn}
    return found


def _box(part: Part) -> Symbol:
    """A box with the names of the pins on nets, each on the side that its role asks for."""
    sides: dict[Side, list[str]] = {"left": [], "right": [], "top": [], "bottom": []}
    undeclared = []
    for pin in part.device.pins:
        if pin in part.pins:
            side = _side(part.device, pin)
            if side:
                sides[side].append(pin)
            else:
                undeclared.append(pin)
    for pin in undeclared:  # nothing says what they are for: both sides alike
        lighter: Side = "left" if len(sides["left"]) <= len(sides["right"]) else "right"
        sides[lighter].append(pin)
    width, height = _box_size(sides)
    top, left = -2, -(width // 2)
    body = Box(left, top, left + width, top + height)
    leads: dict[str, Lead] = {}
    texts: list[Lettering] = []
    lift = 0.25 * lettering.SMALL / STEP
    for pin, y in zip(sides["left"], _even(sides["left"], top), strict=True):
        leads[pin] = Lead((left - 1, y), (left, y))
        texts.append(Lettering(shown(pin), (left + ROOM, y + lift), "start"))
    for pin, y in zip(sides["right"], _even(sides["right"], top), strict=True):
        leads[pin] = Lead((left + width + 1, y), (left + width, y))
        texts.append(Lettering(shown(pin), (left + width - ROOM, y + lift), "end"))
    ends: tuple[tuple[Side, int, float, int], ...] = (
        ("top", top, top + 1.0, -1),
        ("bottom", top + height, top + height - 0.4, 1),
    )
    for side, end, line, out in ends:
        for pin, x in zip(sides[side], _across(sides[side], left, width), strict=True):
            leads[pin] = Lead((x, end + out), (x, end))
            texts.append(Lettering(shown(pin), (x, line)))
    outline = f"M{left} {top}h{width}v{height}h{-width}Z"
    return Symbol("box", leads, body, (outline,), (), tuple(texts), upright=True)


def shown(pin: str) -> str:
    """The name of a pin as it is read."""
    return pin.replace("_", " ")


def _side(device: Device, pin: str) -> Side | None:
    """Side of the box for a pin; None where neither its role nor what it carries tells."""
    role = device.pins[pin].role
    if role == "passive" and not is_thermal(device, pin):
        return None
    return SIDES.get(role, "left")


def _even(pins: Sequence[str], top: int) -> list[int]:
    """Heights of pins on a side."""
    return [top + 2 + 2 * place for place in range(len(pins))]


def _across(pins: Sequence[str], left: int, width: int) -> list[int]:
    """Where pins stand along the top or the bottom."""
    count = len(pins)
    return [left + round(width * (place + 1) / (count + 1)) for place in range(count)]


def _box_size(sides: Mapping[Side, Sequence[str]]) -> tuple[int, int]:
    """Width and height in steps, even, so that the names of the pins have room."""

    def widest(side: Side) -> float:
        return max((_name_width(pin) for pin in sides[side]), default=0.0)

    rows = max(len(sides["left"]), len(sides["right"]), 1)
    ends: tuple[Side, ...] = ("top", "bottom")
    across = max((len(sides[side]) + 1) * (widest(side) + 0.8) for side in ends)
    wide = max(widest("left") + widest("right") + 4 * ROOM, across, 6.0)
    return 2 * -int(-wide // 2), 2 * rows + 2 * any(sides[side] for side in ends)


def _name_width(pin: str) -> float:
    return lettering.width(shown(pin), lettering.SMALL) / STEP
