"""What stands around a linear regulator: its guard, its capacitors, what cools it."""

from __future__ import annotations

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.regulator import Regulator, Wiring
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import capacitor, least_for_step, window_of
from railwright.architectures.sizing.choice import Choice, spread_of
from railwright.architectures.sizing.cooling import Cooling
from railwright.architectures.sizing.diodes import diode
from railwright.circuit.names import AIR
from railwright.quantity import show

TAB, SINK = "TAB", "SINK"
"""Nets of its heat."""
BYPASS = 100e-9  # F, ceramic, at the pins (common practice, no source)
LEAST_OUTPUT = 10e-6  # F; takes the edge off a step of the load (common practice, no source)
OUTPUT_DIELECTRICS = "electrolytic", "polymer", "class-2"
"""At the output, the cheapest first; where none of it keeps the window, the next."""
BACK_FEED = 1.0  # A; rating of a diode through which a capacitor empties (common practice)


def draw_regulator(sheet: Sheet, nets: Wiring, regulator: Regulator, cooling: Cooling) -> None:
    """The regulator, and the diode that empties its output into its input."""
    place, setting = regulator.place, regulator.setting
    task, entry = place.task, place.entry
    case = {"case": task.inner(TAB)} if cooling.sink is not None else {}
    pins = {"input": nets.raw, "output": nets.out, **setting.pins, **case}
    why = (
        f"{show(regulator.drawn, 'A')} of {show(place.rated, 'A')}; at "
        f"{show(place.feed.low, 'V')} in and {show(setting.highest, 'V')} out it needs at most "
        f"{show(regulator.dropout, 'V')}; loses at most {show(regulator.loss, 'W')}: "
        f"{cooling.why}"
    )
    sheet.add("U", entry.kind, "regulator", pins, why, use=entry.name)
    guard = "empties what is charged at the output when the input is gone"
    back = diode(task, BACK_FEED, place.feed.high, guard, lasting=False)
    pins = nets.leading(nets.out, nets.raw)
    sheet.add("D", "diode", "regulator", pins, back.why, use=back.entry.name)


def draw_bypass(sheet: Sheet, regulator: Regulator) -> None:
    """The capacitor at the pins of its input."""
    place = regulator.place
    why = f"{show(BYPASS, 'F')} at the pins of the regulator (common practice)"
    chosen = capacitor(place.task, "class-2", BYPASS, place.feed.high, why)
    pins = place.wiring.across(place.feed.net)
    sheet.add("C", "capacitor", "input", pins, chosen.why, use=chosen.entry.name)


def draw_output_capacitor(sheet: Sheet, nets: Wiring, regulator: Regulator) -> None:
    """What its datasheet asks at the output, and more where a step of the load wants it."""
    place, entry = regulator.place, regulator.place.entry
    least = max(LEAST_OUTPUT, window_of(entry, "output_capacitance")[0])
    why = f"at least {show(least, 'F')} (datasheet, or common practice)"
    step = place.rail.load_step
    if step is not None and "output_inductance" in entry.values:
        coil, moved = spread_of(entry, "output_inductance").high, abs(step.to - step.from_)
        wanted = least_for_step(coil, moved, place.task.kept * step.deviation)
        if wanted > least:
            least = wanted
            why = (
                f"{show(coil, 'H')} x ({show(moved, 'A')}/{show(step.deviation, 'V')})² and the "
                f"reserve: {show(wanted, 'F')} hold the output in a step of the load"
            )
    window = window_of(entry, "output_series_resistance")
    chosen = _within(place.task, least, place.feed.high, why, window)
    pins = nets.across(nets.out)
    sheet.add("C", "capacitor", "output", pins, chosen.why, use=chosen.entry.name)


def _within(task: Task, least: float, voltage: float, why: str, esr: tuple[float, float]) -> Choice:
    """A capacitor whose series resistance keeps a window, of the cheapest dielectric."""
    refused: list[Unserved] = []
    for dielectric in OUTPUT_DIELECTRICS:
        try:
            return capacitor(task, dielectric, least, voltage, why, esr=esr)
        except Unserved as unserved:
            refused.append(unserved)
    raise refused[0]


def draw_cooling(sheet: Sheet, cooling: Cooling, tab: str, sink: str, block: str) -> None:
    """Pad and heat sink, where there is one; `sink` is its net, that of the tab without a pad."""
    if cooling.sink is None:
        return
    if cooling.pad is not None:
        why = "keeps the sink from the potential of the tab"
        sheet.add("P", "insulator", block, {"one": tab, "two": sink}, why, use=cooling.pad.name)
    pins = {"face": sink, "air": AIR}
    sheet.add("H", "heat-sink", block, pins, cooling.why, use=cooling.sink.name)


def draw_return(sheet: Sheet, ground: str, minus: str) -> None:
    """What joins the return of an output to that of what feeds it, where they are two nets."""
    if minus == ground:
        return
    why = "the return of the output is that of the input"
    ends = {"one": ground, "two": minus}
    sheet.add("W", "wire", "output", ends, why, use="wire AWG 18", resistance="5 mΩ")
