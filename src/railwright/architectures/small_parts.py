"""Resistors and capacitors of small signals, chosen and put on a sheet."""

from __future__ import annotations

from railwright.architectures.architecture import Task
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import capacitor
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor
from railwright.quantity import show


def draw_resistor(
    sheet: Sheet,
    task: Task,
    block: str,
    ends: tuple[str, str],
    ohms: float,
    why: str,
    *,
    watts: float = 0.0,
    tolerance: float | None = None,
) -> None:
    """A film resistor that takes a power [W]; Unserved where there is none."""
    wanted = tolerance or task.need.parts.resistor_tolerance or USUAL_TOLERANCE
    use = resistor(task, watts, wanted).name
    pins, value = {"one": ends[0], "two": ends[1]}, show(ohms, "Ω", 4)
    sheet.add("R", "resistor", block, pins, why, use=use, resistance=value)


def draw_capacitor(
    sheet: Sheet,
    task: Task,
    block: str,
    ends: tuple[str, str],
    of: tuple[str, float],
    volts: float,
    why: str,
) -> None:
    """A capacitor of a dielectric and at least a capacitance [F], for a voltage [V]."""
    chosen = capacitor(task, *of, volts, why)
    pins = {"plus": ends[0], "minus": ends[1]}
    sheet.add("C", "capacitor", block, pins, chosen.why, use=chosen.entry.name)
