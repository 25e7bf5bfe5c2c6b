"""What panel items want of a panel: holes, and the room that they take up around them.

Sources: DIN 43700 for meters (cut-outs 45 x 22.2 mm and 92 x 45 mm for faces of 48 x 24 mm and 96 x
48 mm), IEC 60320-1 for the inlet C14 with screws 40 mm apart, both from memory; bushes, terminals
and holders: common practice, no source. The part that was bought goes before: measure it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

MM = 1e-3
_NUMBER = r"(\d+(?:\.\d+)?)"
_ROUND = re.compile(rf"hole, {_NUMBER} mm")
_CUT = re.compile(rf"(?:cut-out|panel), {_NUMBER}(?: mm)? [×x] {_NUMBER} mm")
_SINK = re.compile(rf"heat sink, {_NUMBER}(?: mm)? [×x] {_NUMBER} mm")
_M3 = 3.4 * MM
"""Clearance hole of an M3 screw, medium (ISO 273)."""
_SCREW_IN = 6.0 * MM
"""From the edges of a heat sink to its screws (common practice, no source)."""
_FACE = 4.0 * MM
"""A face stands over its cut-out by so much (DIN 43700: 3 to 5 mm)."""


@dataclass(frozen=True)
class Cut:
    """One opening, its middle relative to that of the item [m]; round where it has no height."""

    width: float
    """Or diameter [m]."""
    height: float = 0.0
    right: float = 0.0
    up: float = 0.0

    @property
    def is_round(self) -> bool:
        """Whether it is drilled."""
        return not self.height


@dataclass(frozen=True)
class PanelItemSize:
    """Openings of an item, and the room that it takes up about its middle [m]."""

    cuts: tuple[Cut, ...]
    width: float
    height: float
    joint: str = "solder"
    """How a wire ends at it."""


RING, RECEPTACLE = "ring lug, 4 mm", "receptacle 6.3 mm, insulated (IEC 61210)"


def _round(hole: float, room: float, joint: str = "solder") -> PanelItemSize:
    return PanelItemSize((Cut(hole * MM),), room * MM, room * MM, joint)


def _rectangle(width: float, height: float, wider: float, higher: float) -> PanelItemSize:
    return PanelItemSize((Cut(width * MM, height * MM),), wider * MM, higher * MM)


def _inlet() -> PanelItemSize:
    screws = tuple(Cut(_M3, right=side * 20.0 * MM) for side in (-1, 1))
    return PanelItemSize((Cut(27.5 * MM, 20.5 * MM), *screws), 50.0 * MM, 24.0 * MM, RECEPTACLE)


ITEMS: Mapping[str, PanelItemSize] = {
    "terminal, 4 mm": _round(8.0, 16.0, RING),
    "potentiometer, 16 mm": _round(7.2, 26.0),
    "potentiometer, 22 mm": _round(10.0, 30.0),
    "potentiometer, 24 mm": _round(10.0, 30.0),
    "switch, 6 mm": _round(6.2, 15.0),
    "push button, 7 mm": _round(7.2, 13.0),
    "indicator, 3 mm": _round(3.2, 8.0),
    "indicator, 5 mm": _round(5.1, 9.0),
    "fuse holder, 5 × 20 mm": _round(12.7, 19.0, RECEPTACLE),
    "barrel socket": _round(8.0, 14.0),
    "mains inlet, C14": _inlet(),
    "panel meter, 48 × 24 mm": _rectangle(45.0, 22.2, 49.0, 25.0),
    "panel meter, 96 × 48 mm": _rectangle(92.0, 45.0, 97.0, 49.0),
}

_PACKAGES: Mapping[str, str] = {
    "panel, 4 mm": "terminal, 4 mm",
    "panel, 16 mm": "potentiometer, 16 mm",
    "panel, 22 mm": "potentiometer, 22 mm",
    "panel, 24 mm": "potentiometer, 24 mm",
    "panel, 6 mm": "switch, 6 mm",
    "panel, 7 mm": "push button, 7 mm",
    "panel, IEC 60320 C14": "mains inlet, C14",
    "panel or board": "barrel socket",
    "5 × 20 mm": "fuse holder, 5 × 20 mm",
}


def item_of(package: str) -> str:
    """The item of a part in a package; empty where it does not stand on a panel.

    >>> item_of("panel, 16 mm"), item_of("panel, 23 mm x 10 mm"), item_of("TO-220")
    ('potentiometer, 16 mm', 'panel, 23 mm x 10 mm', '')
    """
    return _PACKAGES.get(package) or (package if _CUT.fullmatch(package) else "")


def panel_item(name: str) -> PanelItemSize:
    """What an item wants of a panel.

    One of `ITEMS`, or an opening of one's own ("hole, 6.5 mm", "cut-out, 45 × 22 mm", "heat sink,
    100 × 60 mm" with four screws). ValueError where it is neither, with what may be written.

    >>> panel_item("terminal, 4 mm").width, panel_item("heat sink, 100 × 60 mm").height
    (0.016, 0.06)
    """
    if name in ITEMS:
        return ITEMS[name]
    if found := _ROUND.fullmatch(name):
        return _round(float(found[1]), float(found[1]) + 4.0)
    if found := _CUT.fullmatch(name):
        width, height = float(found[1]), float(found[2])
        return _rectangle(width, height, width + _FACE / MM, height + _FACE / MM)
    if found := _SINK.fullmatch(name):
        return _sink(float(found[1]) * MM, float(found[2]) * MM)
    known = ", ".join(f'"{each}"' for each in ITEMS)
    raise ValueError(
        f'no panel item "{name}". Write one of {known}; or "hole, 6.5 mm", "cut-out, 45 × 22 mm", '
        '"heat sink, 100 × 60 mm", with sizes of your own'
    )


def _sink(width: float, height: float) -> PanelItemSize:
    away = [side * (length / 2.0 - _SCREW_IN) for length in (width, height) for side in (-1, 1)]
    screws = tuple(Cut(_M3, right=right, up=up) for right in away[:2] for up in away[2:])
    return PanelItemSize(screws, width, height)
