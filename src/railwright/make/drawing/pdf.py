"""The drawing as PDF: the same SVG on the smallest paper on which it can be read."""

from __future__ import annotations

from collections.abc import Mapping

import typst

from railwright.make.drawing.geometry import STEP
from railwright.make.drawing.lettering import fonts
from railwright.make.drawing.scene import Scene

PAPERS: Mapping[str, tuple[float, float]] = {"a4": (210.0, 297.0), "a3": (297.0, 420.0)}
"""Paper -> its short and its long side [mm]. Source: ISO 216."""
BORDER = 10.0
"""Around the drawing [mm]."""
PIXEL = 25.4 / 96.0
"""Of a screen at 100 % [mm]. Source: CSS Values and Units, absolute lengths."""
LEAST = 0.8
"""Of its size on a screen, down to which a drawing is read well on paper (the smallest letters are
5.4 points then)."""


def as_pdf(scene: Scene, text: str) -> bytes:
    """The PDF of an SVG; the same text gives the same bytes."""
    wide, high = scene.box.width * STEP * PIXEL, scene.box.height * STEP * PIXEL
    paper, lying, scale = _paper(wide, high)
    template = f"""
#set document(title: sys.inputs.title, date: none)
#set page("{paper}", flipped: {str(lying).lower()}, margin: {BORDER}mm)
#place(center + horizon, image(bytes(sys.inputs.drawing), format: "svg", width: {wide * scale}mm))
"""
    return typst.compile(
        template.encode(),
        # The font that was measured, and none of the machine's.
        font_paths=typst.Fonts(include_system_fonts=False, font_paths=[str(fonts())]),
        sys_inputs={"title": scene.title, "drawing": text},
    )


def _paper(wide: float, high: float) -> tuple[str, bool, float]:
    """Paper, whether it lies, and the scale of the drawing on it: at most as on a screen."""
    found = ("a3", True, 0.0)
    for paper, (short, long) in PAPERS.items():
        for lying, width, height in ((True, long, short), (False, short, long)):
            room = min((width - 2 * BORDER) / wide, (height - 2 * BORDER) / high, 1.0)
            if room > found[2]:
                found = paper, lying, room
        if found[2] >= LEAST:
            break
    return found
