"""A template as SVG, at its true size in millimetres."""

from __future__ import annotations

from html import escape

from railwright.make.panel.lines import (
    BELOW,
    Circle,
    Layer,
    Line,
    Mark,
    Words,
    foot,
    template,
    title,
)
from railwright.make.panel.placed import Panel

MARGIN = 8e-3
"""m around everything."""
LETTER = 0.6
"""Width of a letter over its height, at most, of the usual upright faces (from memory)."""
STYLES: dict[Layer, str] = {
    "edge": "stroke:#000;stroke-width:0.35",
    "cut": "stroke:#000;stroke-width:0.25",
    "mark": "stroke:#000;stroke-width:0.13",
    "room": "stroke:#777;stroke-width:0.13;stroke-dasharray:1.2 0.8",
}


def svg(panel: Panel) -> bytes:
    """The template, with bar and title below it."""
    marks = [*template(panel), *foot(panel.width / 2.0, -BELOW, title(panel))]
    wide = max(panel.width, _reach(marks, panel.width / 2.0)) + 2.0 * MARGIN
    left = panel.width / 2.0 - wide / 2.0
    tall = panel.height + BELOW + 2.0 * MARGIN
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_mm(wide)}mm" height="{_mm(tall)}mm" '
        f'viewBox="0 0 {_mm(wide)} {_mm(tall)}">'
    )
    drawn = [_drawn(mark, left, panel.height + MARGIN) for mark in marks]
    style = "".join(f".{layer}{{fill:none;{css}}}" for layer, css in STYLES.items())
    lines = [head, f"<title>{escape(title(panel))}</title>", f"<style>{style}</style>", *drawn]
    return ("\n".join([*lines, "</svg>"]) + "\n").encode()


def _reach(marks: list[Mark], middle: float) -> float:
    """Width about a middle that texts take up."""
    words = [mark for mark in marks if isinstance(mark, Words)]
    ends = [abs(w.foot[0] - middle) + 0.5 * LETTER * w.height * len(w.text) for w in words]
    return 2.0 * max(ends, default=0.0)


def _drawn(mark: Mark, left: float, top: float) -> str:
    def at(place: tuple[float, float]) -> tuple[str, str]:
        return _mm(place[0] - left), _mm(top - place[1])

    if isinstance(mark, Line):
        (x1, y1), (x2, y2) = at(mark.start), at(mark.end)
        return f'<line class="{mark.layer}" x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"/>'
    if isinstance(mark, Circle):
        x, y = at(mark.middle)
        return f'<circle class="{mark.layer}" cx="{x}" cy="{y}" r="{_mm(mark.diameter / 2.0)}"/>'
    x, y = at(mark.foot)
    return (
        f'<text x="{x}" y="{y}" font-size="{_mm(mark.height)}" font-family="sans-serif" '
        f'text-anchor="middle">{escape(mark.text)}</text>'
    )


def _mm(length: float) -> str:
    return f"{length * 1e3:.3f}".rstrip("0").rstrip(".")
