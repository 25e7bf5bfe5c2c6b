"""Capacitors that parts ask for at their pins, where something is put between these and what fed
them."""

from __future__ import annotations

from collections.abc import Collection

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import window_of
from railwright.architectures.sketched import entry_of
from railwright.architectures.small_parts import draw_capacitor
from railwright.quantity import show

BYPASS = 100e-9
"""F, ceramic, at least (common practice, no source)."""
LEFT = 2.0
"""Times the capacitance wanted is that of a ceramic one, of which voltage and warmth leave half
(common practice, no source)."""


def hold_at_pins(
    sheet: Sheet,
    task: Task,
    block: str,
    sketch: Sketch,
    refs: Collection[str],
    ends: tuple[str, str],
    volts: float,
) -> None:
    """What parts of a sketch ask for at their input: ceramic, or wet beside a ceramic one.

    refs: these parts; ends: upper and lower net; volts: most across them. Unserved where the
    catalogue has none.
    """
    entries = [
        entry_of(task, part) for part in sketch.parts if part["ref"] in refs and "use" in part
    ]
    held = LEFT * max([BYPASS, *(window_of(entry, "input_capacitance")[0] for entry in entries)])
    why = f"at least {show(held, 'F')} at the pins behind it (datasheet)"
    try:
        draw_capacitor(sheet, task, block, ends, ("class-2", held), volts, why)
    except Unserved:
        draw_capacitor(sheet, task, block, ends, ("electrolytic", held), volts, why)
        beside = "beside it, for what is fast"
        draw_capacitor(sheet, task, block, ends, ("class-2", BYPASS), volts, beside)
