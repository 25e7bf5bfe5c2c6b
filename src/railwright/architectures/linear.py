"""What linear supplies from a direct source share: input, one regulator, its guards, its sink.

A linear one differs from another by its regulator and by what sets the voltage of that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain, zip_longest
from typing import ClassVar

from railwright.architectures.architecture import (
    Architecture,
    Offer,
    Refusal,
    Sketch,
    Task,
    Unserved,
)
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import capacitor, least_for_step, window_of
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.cooling import Cooling, coolings, hottest_allowed
from railwright.architectures.sizing.diodes import diode
from railwright.architectures.sizing.fuses import fuse
from railwright.catalogue.entry import Entry
from railwright.circuit.names import AIR
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable
from railwright.quantity import show

RAW, FUSED, TAB, SINK = "RAW", "FUSED", "TAB", "SINK"
"""Nets inside."""
ROOM = 298.15  # K; where dropouts are stated
RESERVOIR = 47e-6
"""F at the input: damps the coil of the leads to the source (common practice, no source)."""
BYPASS = 100e-9  # F, ceramic, at the pins (common practice, no source)
LEAST_OUTPUT = 10e-6  # F; takes the edge off a step of the load (common practice, no source)
BACK_FEED = 1.0  # A; rating of a diode through which a capacitor empties (common practice)
ACCURACY = 0.05
"""Of a fixed rail where the need says nothing; that of the check `output.accuracy`."""
NOISE_FROM, NOISE_TO = 10.0, 100e3  # Hz; the band in which the need states noise
SPARE_HEADROOM = 1.0  # V; the reserve of a headroom counts against at least this


@dataclass(frozen=True)
class Wiring:
    """Nets between the blocks."""

    fed: str
    raw: str
    out: str
    ground: str


@dataclass(frozen=True)
class Setting:
    """How the voltage of a regulator is set."""

    lowest: float
    """V, least output that a user can have."""
    highest: float
    """V, most that has to be held."""
    reach: float
    """V, what is to be reached at full load so that a control has its reserve."""
    current: float
    """A that its legs draw from the output, at most."""
    draw: Callable[[Sheet, Wiring], tuple[NewTable, ...]]
    """Puts its parts on the sheet; the controls."""
    pins: dict[str, str]
    """Pins of the regulator beside input and output -> nets."""


@dataclass(frozen=True)
class _Front:
    """What stands between source and regulator."""

    fuse: Choice
    series: Choice | None
    lost: float
    """V at full load, source included."""


class LinearFromDC(Architecture):
    """One linear regulator behind a fuse."""

    kinds: ClassVar[tuple[str, ...]] = ()
    """Kinds of regulators that it may use."""

    def setting(self, task: Task, rail: Output, entry: Entry) -> Setting:
        """How this regulator is brought to the output; Unserved where it cannot be."""
        raise NotImplementedError(type(self).__name__)

    def offer(self, task: Task) -> Offer:
        try:
            rail = _served(task)
        except Unserved as unserved:
            return Refusal(unserved.reason)
        regulators = of_kind(task.catalogue, *self.kinds)
        several: list[list[Sketch]] = []
        refused: list[tuple[float, str]] = []
        for entry in sorted(regulators, key=lambda e: (price_of(e), _rated(e))):
            try:
                several.append(list(self._sketches(task, rail, entry)))
            except Unserved as unserved:
                refused.append((unserved.reached, f"{entry.name}: {unserved.reason}"))
        if several:
            turns = chain.from_iterable(zip_longest(*several))
            return tuple(sketch for sketch in turns if sketch is not None)
        return Refusal(max(refused, key=lambda each: each[0])[1])

    def _sketches(self, task: Task, rail: Output, entry: Entry) -> Iterator[Sketch]:
        setting = self.setting(task, rail, entry)
        _carries(task, rail, entry, setting)
        _withstands(task, entry, setting)
        _regulates(task, rail, entry, setting)
        front = _front(task, rail, entry, setting)
        loss = _loss(task, rail, entry, setting)
        limit = hottest_allowed(
            spread_of(entry, "junction_limit").high,
            task.derating.junction("regulator"),
            task.need.parts.junction_reserve,
        )
        hottest = task.need.surroundings.ambient.max
        with _reaching(6):
            ways = coolings(task.catalogue, entry, loss, hottest, limit)
            for cooling in ways:
                yield _sketch(task, rail, entry, setting, front, cooling)


class _reaching:
    """Marks what is not served inside with how many demands were met before."""

    def __init__(self, reached: float) -> None:
        self.reached = reached

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, Unserved):
            error.reached = max(error.reached, self.reached)


def _served(task: Task) -> Output:
    """The one rail; Unserved where the need asks for what no linear supply from DC alone gives."""
    need = task.need
    if need.input.kind == "ac":
        raise Unserved(
            f"the input alternates, {show(need.input.voltage.nominal, 'V')}: this wants a direct "
            "one, behind a transformer and a rectifier"
        )
    if len(need.output) > 1:
        raise Unserved(f"the need has {len(need.output)} rails; this has one regulator for one")
    rail = need.output[0]
    if rail.reference != "common with input":
        raise Unserved(
            f"{rail.name} has to be {rail.reference}; a series regulator joins it to the input"
        )
    if task.terminals(rail.name).plus == task.fed.minus:
        raise Unserved(
            f"{rail.name} lies below the return of the input; a series regulator makes no "
            "negative voltage of a positive one"
        )
    lowest = need.input.voltage.min
    if rail.voltage.max >= lowest:
        raise Unserved(
            f"{rail.name} wants up to {show(rail.voltage.max, 'V')} of an input that goes down to "
            f"{show(lowest, 'V')}; a series regulator only takes voltage away"
        )
    overload = rail.overload
    if overload is not None and overload.style != "none":
        raise Unserved(
            f"{rail.name} wants {overload.style} by {show(overload.act_by or 0.0, 'A')}; a "
            "regulator alone has only its own limit, which is far wider"
        )
    highest = need.input.voltage.max
    if rail.never_above is not None and highest > rail.never_above:
        raise Unserved(
            f"a shorted pass element puts the input of {show(highest, 'V')} on {rail.name}, whose "
            f"load survives {show(rail.never_above, 'V')}; this has no guard against that"
        )
    return rail


def accuracy_left(task: Task, rail: Output, entry: Entry) -> float:
    """Share of the output that reference and legs may be off, when regulation has taken its own.

    Unserved where nothing is left, or where it does not carry the load to begin with.
    """
    if rail.current.max > _rated(entry):
        raise Unserved(
            f"{show(rail.current.max, 'A')} are wanted of its {show(_rated(entry), 'A')}", reached=1
        )
    allowed = (rail.accuracy or ACCURACY) * task.kept
    taken = regulation(task, rail, entry)
    if taken >= allowed:
        raise Unserved(
            f"line and load take {show(taken, '1')} of the output, of {show(allowed, '1')} that "
            "may be used",
            reached=1.5,
        )
    return allowed - taken


def regulation(task: Task, rail: Output, entry: Entry) -> float:
    """What line and load take from the output or add to it at worst, as a share of it."""
    load = _load_share(entry) * rail.current.max
    return load + _line_share(entry) * _unlike_test(task, rail, entry)


def _unlike_test(task: Task, rail: Output, entry: Entry) -> float:
    """How far the voltage across is from that of the datasheet's test [V]."""
    tested = spread_of(entry, "reference_difference").typical
    across = (
        task.need.input.voltage.max - rail.voltage.max,
        task.need.input.voltage.min - rail.voltage.max,
    )
    return max(abs(each - tested) for each in across)


def _load_share(entry: Entry) -> float:
    """Fall of the output per ampere, as a share of it."""
    return spread_of(entry, "load_regulation").high / _rated(entry)


def _line_share(entry: Entry) -> float:
    """Change of the output per volt at the input, as a share of it."""
    return spread_of(entry, "line_regulation").high


def _rated(entry: Entry) -> float:
    return spread_of(entry, "rated_current").typical


def _drawn(rail: Output, setting: Setting) -> float:
    """Greatest current through the regulator [A]; a resistive load takes more of more volts."""
    return rail.current.max * setting.highest / rail.voltage.max + setting.current


def _own_current(rail: Output, entry: Entry, setting: Setting) -> float:
    """What the regulator itself takes to ground at full load [A]."""
    own = spread_of(entry, "quiescent_current").high if "quiescent_current" in entry.values else 0.0
    share = spread_of(entry, "load_share").high if "load_share" in entry.values else 0.0
    return own + share * _drawn(rail, setting)


def _carries(task: Task, rail: Output, entry: Entry, setting: Setting) -> None:
    current = _drawn(rail, setting)
    may = task.allowed("regulator", "output current") * _rated(entry)
    if current > may:
        raise Unserved(
            f"{show(current, 'A')} flow; of its {show(_rated(entry), 'A')} {show(may, 'A')} may be "
            "used",
            reached=2,
        )
    across = task.need.input.voltage.max - setting.lowest
    limit = spread_of(entry, "current_limit").low
    if "limit_fall" in entry.values:
        beyond = max(0.0, across - spread_of(entry, "limit_fall_from").typical)
        limit *= max(0.0, 1.0 - spread_of(entry, "limit_fall").high * beyond)
    if current > task.kept * limit:
        raise Unserved(
            f"with {show(across, 'V')} across, its own limit may be down at {show(limit, 'A')}; "
            f"{show(current, 'A')} flow",
            reached=3,
        )


def _withstands(task: Task, entry: Entry, setting: Setting) -> None:
    highest = task.need.input.voltage.max
    share = task.allowed("regulator", "input-output voltage")
    seen = {
        "supply_maximum": (highest, task.kept),
        "difference_maximum": (highest - setting.lowest, share),
    }
    for rating, (volts, part) in seen.items():
        if rating in entry.values and volts > part * spread_of(entry, rating).high:
            limit = show(spread_of(entry, rating).high, "V")
            raise Unserved(
                f"it would see {show(volts, 'V')}; of its {limit} {show(part, '1')} may be used",
                reached=3,
            )


def _regulates(task: Task, rail: Output, entry: Entry, setting: Setting) -> None:
    """Line and load regulation and noise, where the need asks for them."""
    volts = task.need.input.voltage
    swing = max(volts.max - volts.nominal, volts.nominal - volts.min)
    line = _line_share(entry) * swing * setting.highest
    load = _load_share(entry) * (rail.current.max - rail.current.min) * setting.highest
    asked = {
        "line_regulation": (line, "of a change of the input"),
        "load_regulation": (load, "of a change of the load"),
        "noise": (_noise(entry), "of noise"),
    }
    for demand, (moved, what) in asked.items():
        limit = getattr(rail, demand)
        if limit is not None and moved > task.kept * limit:
            raise Unserved(
                f"{show(moved, 'V')} {what} reach the output at worst; {show(limit, 'V')} are "
                "allowed",
                reached=4,
            )


def _noise(entry: Entry) -> float:
    """Noise from 10 Hz to 100 kHz, at its upper limit [V rms]."""
    bandwidth: float = NOISE_TO - NOISE_FROM
    return float(spread_of(entry, "noise_voltage").high * bandwidth**0.5)


def _front(task: Task, rail: Output, entry: Entry, setting: Setting) -> _Front:
    """Fuse, and a series diode against the wrong polarity where the headroom has room for it."""
    source = task.need.input
    current = _drawn(rail, setting) + _own_current(rail, entry, setting)
    highest, lowest = source.voltage.max, source.voltage.min
    with _reaching(4):
        chosen = fuse(
            task.catalogue,
            current,
            task.need.surroundings.ambient.max,
            task.derating,
            task.kept,
            (RESERVOIR * 1.2, highest, source.resistance),
        )
    lost = current * (source.resistance + spread_of(chosen.entry, "resistance").high)
    dropout = _dropout(task, rail, entry, setting)
    needed = dropout + task.need.parts.reserve * max(dropout, SPARE_HEADROOM)
    left = lowest - lost - setting.highest
    if left < needed:
        raise Unserved(
            f"at {show(lowest, 'V')} in, {show(lost, 'V')} are lost before it and "
            f"{show(left, 'V')} left across it at {show(setting.highest, 'V')} out; it needs "
            f"{show(dropout, 'V')} (upper limit), {show(needed, 'V')} with the wanted reserve",
            reached=5,
        )
    series = _series(task, current, left - needed - (setting.reach - setting.highest))
    if series is not None:
        lost += spread_of(series.entry, "forward_voltage").high
    return _Front(chosen, series, lost)


def _series(task: Task, current: float, spare: float) -> Choice | None:
    """A diode in series that costs no more than the spare voltage [V]."""
    shares = (
        task.allowed("diode", "forward current"),
        task.allowed("diode", "reverse voltage"),
    )
    highest = task.need.input.voltage.max
    why = "a source of the wrong polarity does nothing"
    for schottky in (False, True):
        try:
            found = diode(task.catalogue, current, highest, shares, why, schottky=schottky)
        except Unserved:
            continue
        if spread_of(found.entry, "forward_voltage").high <= spare:
            return found
    return None


def _dropout(task: Task, rail: Output, entry: Entry, setting: Setting) -> float:
    """Greatest dropout at full load, cold and hot [V]; as `devices.linear_regulator` has it."""
    beyond = _drawn(rail, setting) - spread_of(entry, "dropout_current").typical
    slope = spread_of(entry, "dropout_resistance")
    volts = spread_of(entry, "dropout").high + beyond * (slope.high if beyond > 0 else slope.low)
    if "dropout_drift" not in entry.values:
        return volts
    drift, hottest = spread_of(entry, "dropout_drift"), spread_of(entry, "junction_limit").high
    cold = drift.low * (task.need.surroundings.ambient.min - ROOM)
    return volts + max(0.0, cold, drift.high * (hottest - ROOM))


def _loss(task: Task, rail: Output, entry: Entry, setting: Setting) -> float:
    """Greatest loss of the regulator [W]: highest input, lowest setting, full load."""
    highest, current = task.need.input.voltage.max, _drawn(rail, setting)
    own = _own_current(rail, entry, setting)
    return (highest - setting.lowest) * current + highest * own


def _sketch(
    task: Task, rail: Output, entry: Entry, setting: Setting, front: _Front, cooling: Cooling
) -> Sketch:
    nets = task.terminals(rail.name)
    wiring = Wiring(task.fed.plus, task.inner(RAW), nets.plus, task.fed.minus)
    sheet = Sheet()
    _draw_input(task, sheet, wiring, entry, front)
    _draw_regulator(task, rail, sheet, wiring, entry, setting, cooling)
    controls = setting.draw(sheet, wiring)
    _draw_cooling(task, sheet, cooling)
    _draw_output(task, rail, sheet, wiring, entry, setting)
    if nets.minus != wiring.ground:
        why = "the return of the output is that of the input"
        ends = {"one": wiring.ground, "two": nets.minus}
        sheet.add("W", "wire", "output", ends, why, use="wire AWG 18", resistance="5 mΩ")
    return Sketch(tuple(sheet.parts), controls)


def _draw_input(task: Task, sheet: Sheet, nets: Wiring, entry: Entry, front: _Front) -> None:
    highest = task.need.input.voltage.max
    behind = task.inner(FUSED) if front.series is not None else nets.raw
    sheet.add(
        "F",
        "fuse",
        "input",
        {"one": nets.fed, "two": behind},
        front.fuse.why,
        use=front.fuse.entry.name,
    )
    if front.series is not None:
        pins = {"anode": behind, "cathode": nets.raw}
        sheet.add("D", "diode", "input", pins, front.series.why, use=front.series.entry.name)
    least = max(RESERVOIR, window_of(entry, "input_capacitance")[0])
    damps = f"at least {show(least, 'F')} damp the coil of the leads (common practice)"
    edges = f"{show(BYPASS, 'F')} at the pins of the regulator (common practice)"
    for dielectric, amount, why in (("electrolytic", least, damps), ("class-2", BYPASS, edges)):
        chosen = capacitor(task.catalogue, dielectric, amount, highest, why)
        pins = {"plus": nets.raw, "minus": nets.ground}
        sheet.add("C", "capacitor", "input", pins, chosen.why, use=chosen.entry.name)


def _draw_regulator(
    task: Task,
    rail: Output,
    sheet: Sheet,
    nets: Wiring,
    entry: Entry,
    setting: Setting,
    cooling: Cooling,
) -> None:
    lowest, dropout = task.need.input.voltage.min, _dropout(task, rail, entry, setting)
    case = {"case": task.inner(TAB)} if cooling.sink is not None else {}
    pins = {"input": nets.raw, "output": nets.out, **setting.pins, **case}
    why = (
        f"{show(_drawn(rail, setting), 'A')} of {show(_rated(entry), 'A')}; at "
        f"{show(lowest, 'V')} in and {show(setting.highest, 'V')} out it needs at most "
        f"{show(dropout, 'V')}; loses at most {show(_loss(task, rail, entry, setting), 'W')}: "
        f"{cooling.why}"
    )
    sheet.add("U", entry.kind, "regulator", pins, why, use=entry.name)
    highest = task.need.input.voltage.max
    shares = (1.0, task.allowed("diode", "reverse voltage"))
    guard = "empties what is charged at the output when the input is gone"
    back = diode(task.catalogue, BACK_FEED, highest, shares, guard)
    pins = {"anode": nets.out, "cathode": nets.raw}
    sheet.add("D", "diode", "regulator", pins, back.why, use=back.entry.name)


def _draw_output(
    task: Task, rail: Output, sheet: Sheet, nets: Wiring, entry: Entry, setting: Setting
) -> None:
    least = max(LEAST_OUTPUT, window_of(entry, "output_capacitance")[0])
    why = f"at least {show(least, 'F')} (datasheet, or common practice)"
    step = rail.load_step
    if step is not None and "output_inductance" in entry.values:
        coil, moved = spread_of(entry, "output_inductance").high, abs(step.to - step.from_)
        wanted = least_for_step(coil, moved, task.kept * step.deviation)
        if wanted > least:
            least = wanted
            why = (
                f"{show(coil, 'H')} x ({show(moved, 'A')}/{show(step.deviation, 'V')})² and the "
                f"reserve: {show(wanted, 'F')} hold the output in a step of the load"
            )
    window = window_of(entry, "output_series_resistance")
    with _reaching(7):
        chosen = capacitor(
            task.catalogue, "electrolytic", least, task.need.input.voltage.max, why, esr=window
        )
    pins = {"plus": nets.out, "minus": nets.ground}
    sheet.add("C", "capacitor", "output", pins, chosen.why, use=chosen.entry.name)


def _draw_cooling(task: Task, sheet: Sheet, cooling: Cooling) -> None:
    if cooling.sink is None or cooling.pad is None:
        return
    pins = {"one": task.inner(TAB), "two": task.inner(SINK)}
    why = "keeps the sink from the potential of the tab"
    sheet.add("P", "insulator", "regulator", pins, why, use=cooling.pad.name)
    pins = {"face": task.inner(SINK), "air": AIR}
    sheet.add("H", "heat-sink", "regulator", pins, cooling.why, use=cooling.sink.name)
