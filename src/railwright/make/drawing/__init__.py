"""The schematic: drawn from a design alone, power from left to right, 0 V below.

What is drawn is read back (`readback`) and looked over (`soundness`) from its geometry.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from railwright.circuit.design import Design
from railwright.make.drawing.pdf import as_pdf
from railwright.make.drawing.scene import Scene
from railwright.make.drawing.sheet import laid_out
from railwright.make.drawing.svg import as_svg
from railwright.make.drawing.symbol import Standard


@dataclass(frozen=True)
class Drawing:
    """A schematic."""

    scene: Scene

    def svg(self) -> str:
        """As SVG: the same design gives the same bytes."""
        return self._svg

    def pdf(self) -> bytes:
        """As PDF on A4 or A3: the same design gives the same bytes."""
        return as_pdf(self.scene, self.svg())

    @cached_property
    def _svg(self) -> str:
        return as_svg(self.scene)


def drawing(
    design: Design,
    volts: Mapping[str, str] | None = None,
    standard: Standard = "IEC",
    at: str = "",
) -> Drawing:
    """Draw the circuit of a design.

    volts: net -> its operating voltage against 0 V, which is written beside its name; nets that are
    not in it get none. standard: "ANSI" for the zig-zag resistor of ANSI/IEEE 315. at: the
    operating point of these voltages, in words.
    NothingToDrawError where the design has no circuit.
    """
    return Drawing(laid_out(design, standard, volts or {}, at))
