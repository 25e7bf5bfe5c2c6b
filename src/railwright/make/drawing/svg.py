"""The drawing as SVG: ink lines on white, every part and net with an id and data attributes."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from xml.sax.saxutils import escape, quoteattr

from railwright.make.drawing.figure import Flag
from railwright.make.drawing.geometry import STEP, Box, Point, Spot
from railwright.make.drawing.lettering import FAMILY
from railwright.make.drawing.scene import Scene, Standing
from railwright.make.drawing.symbol import GAP, Lettering

INK, FAINT = "#1d2733", "#7d8a94"
LINE = f"fill:none;stroke:{INK};stroke-width:1.4;stroke-linecap:round;stroke-linejoin:round"
STYLES: Mapping[str, str] = {
    ".sheet": "fill:#fff",
    ".frame": f"fill:none;stroke:{FAINT};stroke-width:1;stroke-dasharray:12 3 2 3",
    ".strip": f"fill:none;stroke:{INK};stroke-width:1.2",
    ".wire": LINE,
    ".lead": LINE,
    ".symbol": LINE,
    ".flag path": f"{LINE};stroke-width:1.1",
    ".heat": "stroke-dasharray:4 3",
    ".solid": f"fill:{INK};stroke:none",
    ".dot": f"fill:{INK}",
    ".body": "fill:#fff;fill-opacity:0;stroke:none",
    "text": f"fill:{INK};font-family:{FAMILY}",
    ".net": "fill:#3c4854",
    ".pin": "fill:#3c4854",
    ".title": f"fill:{FAINT}",
}
"""Selector -> how it is drawn, in the drawing alone: it may stand in a page of its own style."""


def as_svg(scene: Scene) -> str:
    """The text of the file; the same drawing gives the same bytes."""
    box = scene.box
    wide, high = box.width * STEP, box.height * STEP
    view = f"{_n(box.left)} {_n(box.top)} {wide:g} {high:g}"
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="schematic" width="{wide:g}" '
        f'height="{high:g}" viewBox="{view}" role="img" aria-label={quoteattr(scene.title)}>',
        f"<title>{escape(scene.title)}</title>",
        "<style>",
        *(f".schematic {selector}{{{style}}}" for selector, style in STYLES.items()),
        "</style>",
        _rect(box, "sheet"),
        *_frames(scene),
        *_nets(scene),
        *(line for part in scene.parts for line in _part(part)),
        f'<g class="titles">{_rect(scene.strip_box, "strip")}',
        *(
            _text(text, kind)
            for text, kind in zip(scene.strip, ("title-text", "note", "zero-net"), strict=True)
        ),
        "</g>",
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def identifier(kind: str, name: str) -> str:
    """An id for a part or a net: letters, digits, and the code of every other sign."""
    return f"{kind}-" + re.sub(r"[^A-Za-z0-9]", lambda m: f"_{ord(m[0]):x}_", name)


def _frames(scene: Scene) -> Iterator[str]:
    for frame in scene.frames:
        yield f'<g class="block" data-block={quoteattr(frame.title)}>{_rect(frame.box, "frame")}'
        if frame.title:
            yield _text(frame.lettering, "title")
        yield "</g>"


def _nets(scene: Scene) -> Iterator[str]:
    """A group per net: wires, dots, flags, name."""
    heat = {
        net
        for part in scene.parts
        for pin, net in part.figure.part.pins.items()
        if part.figure.part.device.pins[pin].role == "thermal"
    }
    nets = dict.fromkeys([*(wire.net for wire in scene.wires), *(flag.net for flag in scene.flags)])
    for part in scene.parts:
        nets.update(dict.fromkeys(part.figure.part.pins.values()))
    for net in nets:
        kind = "wire heat" if net in heat else "wire"
        own = quoteattr(identifier("net", net))
        yield f'<g class="net-group" id={own} data-net={quoteattr(net)}>'
        for wire in scene.wires:
            if wire.net == net:
                yield f'<path class="{kind}" d="{_path(wire.start, wire.end)}"/>'
        for dot in scene.dots:
            if dot.net == net:
                x, y = dot.at
                yield f'<circle class="dot" cx="{_n(x)}" cy="{_n(y)}" r="2.6"/>'
        for flag in scene.flags:
            if flag.net == net:
                yield from _flag(flag)
        for name in scene.names:
            if name.net == net:
                yield _text(name.lettering, "net")
        yield "</g>"


def _flag(flag: Flag) -> Iterator[str]:
    x, y = flag.at
    ways = {(0, -1): "up", (0, 1): "down", (1, 0): "right", (-1, 0): "left"}
    kind = "zero" if flag.ground else ways[flag.way]
    yield f'<g class="flag" data-way="{kind}"><path d="{_flag_path(flag, x, y)}"/>'
    if not flag.ground:
        yield _text(flag.lettering, "net")
    yield "</g>"


def _flag_path(flag: Flag, x: int, y: int) -> str:
    """The shape of a flag; it begins where its wire ends."""
    begin = f"M{_n(x)} {_n(y)}"
    if flag.ground:
        return f"{begin}v6m-7 0h14"
    if flag.way[1]:
        return f"{begin}v{5 * flag.way[1]}m-6 0h12"
    side, wide = flag.way[0], (flag.box.width - 0.5) * STEP
    return f"{begin}l{5 * side}-6.5h{wide * side:g}v13h{-wide * side:g}Z"


def _part(part: Standing) -> Iterator[str]:
    figure = part.figure
    name, kind = quoteattr(part.ref), quoteattr(figure.part.kind)
    x, y = part.at
    yield (
        f'<g class="part" id={quoteattr(identifier("part", part.ref))} data-part={name} '
        f"data-kind={kind}>"
    )
    yield _rect(part.body(), "body")
    for pin, (tip, inner) in part.leads().items():
        heat = " heat" if figure.part.device.pins[pin].role == "thermal" else ""
        net = quoteattr(figure.part.pins[pin])
        yield (
            f'<path class="lead{heat}" data-pin={quoteattr(pin)} data-net={net} '
            f'd="{_path(inner, tip)}"/>'
        )
    turn = figure.turn
    change = f"translate({_n(x)} {_n(y)})"
    if turn.quarters:
        change += f" rotate({90 * turn.quarters})"
    if turn.mirrored:
        change += " scale(-1 1)"
    yield f'<g transform="{change} scale({STEP})" stroke-width="{1.4 / STEP}">'
    for stroke in figure.symbol.strokes:
        yield f'<path class="symbol" style="stroke-width:{1.4 / STEP}" d="{stroke}"/>'
    for solid in figure.symbol.solids:
        yield f'<path class="solid" d="{solid}"/>'
    yield "</g>"
    for text in part.texts():
        yield _text(text, "pin")
    for row, text in enumerate(part.label()):
        yield _text(text, "value" if row else "ref")
    yield "</g>"


def _text(text: Lettering, kind: str) -> str:
    x, y = text.at
    anchor = "" if text.anchor == "start" else f' text-anchor="{text.anchor}"'
    words = escape(text.text)
    if kind == "net":
        more = f'<tspan class="volts">{GAP}{escape(text.more)}</tspan>' if text.more else ""
        words = f'<tspan class="name">{words}</tspan>{more}'
    return (
        f'<text class="{kind}" x="{_n(x)}" y="{_n(y)}" font-size="{text.size:g}"{anchor}>'
        f"{words}</text>"
    )


def _rect(box: Box, kind: str) -> str:
    return (
        f'<rect class="{kind}" x="{_n(box.left)}" y="{_n(box.top)}" '
        f'width="{_n(box.width)}" height="{_n(box.height)}"/>'
    )


def _path(start: Point | Spot, end: Point | Spot) -> str:
    return f"M{_n(start[0])} {_n(start[1])}L{_n(end[0])} {_n(end[1])}"


def _n(steps: float) -> str:
    """Steps in pixels."""
    return f"{round(steps * STEP, 2):g}"
