"""Names in a design file: what a ref, a net and a rail may be called."""

from __future__ import annotations

from typing import Annotated

from railwright.circuit.forms import Text

REF = Text('"R7"', r"[A-Za-z][A-Za-z0-9_]*", "a ref of letters and digits, a letter first,")
NET = Text('"OUT"', r"[^\s\x00-\x1f]+", "the name of a net, without spaces,")
NAME = Text('"main"', r"[^\s.](?:[^.\n]*[^\s.])?", "a name in one line, without points,")

Ref = Annotated[str, REF]
Net = Annotated[str, NET]
Name = Annotated[str, NAME]

AIR = "AMBIENT"
"""The net of the surrounding air."""
