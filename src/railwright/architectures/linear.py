"""What linear supplies from a direct source share: input, one regulator, its guards, its sink.

A linear one differs from another by its regulator and by what sets the voltage of that.
"""

from __future__ import annotations

from collections.abc import Iterator
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
from railwright.architectures.direct_input import (
    DirectInput,
    draw_direct_input,
    fuse_drop,
    input_fuse,
    series_diode,
)
from railwright.architectures.regulator import Feed, Place, Regulator, Setting, Wiring
from railwright.architectures.regulator_parts import (
    draw_cooling,
    draw_input_capacitors,
    draw_output_capacitor,
    draw_regulator,
)
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of
from railwright.architectures.sizing.cooling import Cooling
from railwright.circuit.need import Output
from railwright.quantity import show

RAW = "RAW"
"""Net at the input of the regulator."""
RESERVOIR = 47e-6
"""F at the input: damps the coil of the leads to the source (common practice, no source)."""
DAMPS = "damp the coil of the leads (common practice)"


class LinearFromDC(Architecture):
    """One linear regulator behind a fuse."""

    kinds: ClassVar[tuple[str, ...]] = ()
    """Kinds of regulators that it may use."""

    def setting(self, place: Place) -> Setting:
        """How a regulator is brought to the output; Unserved where it cannot be."""
        raise NotImplementedError(type(self).__name__)

    def offer(self, task: Task) -> Offer:
        try:
            rail = _served(task)
        except Unserved as unserved:
            return Refusal(unserved.reason)
        volts = task.need.input.voltage
        feed = Feed(task.inner(RAW), volts.min, volts.nominal, volts.max)
        regulators = of_kind(task.catalogue, *self.kinds)
        places = [Place(task, rail, entry, feed) for entry in regulators]
        several: list[list[Sketch]] = []
        refused: list[tuple[float, str]] = []
        for place in sorted(places, key=lambda p: (price_of(p.entry), p.rated)):
            try:
                several.append(list(self._sketches(place)))
            except Unserved as unserved:
                refused.append((unserved.reached, f"{place.entry.name}: {unserved.reason}"))
        if several:
            turns = chain.from_iterable(zip_longest(*several))
            return tuple(sketch for sketch in turns if sketch is not None)
        return Refusal(max(refused, key=lambda each: each[0])[1])

    def _sketches(self, place: Place) -> Iterator[Sketch]:
        """Sketches with one regulator, the smallest sink first."""
        regulator = Regulator(place, self.setting(place))
        regulator.judge()
        with Reaching(4):
            before = _before(regulator)
        with Reaching(6):
            ways = regulator.coolings()
        with Reaching(7):
            for cooling in ways:
                yield _sketch(regulator, before, cooling)


class Reaching:
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


def _before(regulator: Regulator) -> DirectInput:
    """Fuse, and a series diode where the headroom has room for it."""
    task, setting = regulator.place.task, regulator.setting
    chosen = input_fuse(task, regulator.taken, RESERVOIR)
    spare = regulator.headroom(fuse_drop(task, chosen, regulator.taken))
    spare -= setting.reach - setting.highest
    return DirectInput(chosen, series_diode(task, regulator.taken, spare))


def _sketch(regulator: Regulator, before: DirectInput, cooling: Cooling) -> Sketch:
    task, rail = regulator.place.task, regulator.place.rail
    nets = task.terminals(rail.name)
    wiring = Wiring(regulator.place.feed.net, nets.plus, task.fed.minus)
    sheet = Sheet()
    draw_direct_input(task, sheet, before, wiring.raw)
    draw_input_capacitors(sheet, wiring, regulator, RESERVOIR, DAMPS)
    draw_regulator(sheet, wiring, regulator, cooling)
    controls = regulator.setting.draw(sheet, wiring)
    draw_cooling(task, sheet, cooling)
    draw_output_capacitor(sheet, wiring, regulator)
    if nets.minus != wiring.ground:
        why = "the return of the output is that of the input"
        ends = {"one": wiring.ground, "two": nets.minus}
        sheet.add("W", "wire", "output", ends, why, use="wire AWG 18", resistance="5 mΩ")
    return Sketch(tuple(sheet.parts), controls)
