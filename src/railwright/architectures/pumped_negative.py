"""Charge pump alone: a rail below the return that may follow the input and sag under load."""

from __future__ import annotations

from collections.abc import Sequence

from railwright.architectures.architecture import Architecture, Sketch, Task, Unserved
from railwright.architectures.demands import lies_below_input, served, survives
from railwright.architectures.direct_input import DirectFront
from railwright.architectures.pump_stage import PumpStage, SizedPump, pumps
from railwright.architectures.regulator import ACCURACY
from railwright.architectures.regulator_parts import draw_return
from railwright.architectures.sheet import Sheet
from railwright.architectures.switching_stage import SHARE
from railwright.circuit.need import Output
from railwright.quantity import show


class PumpedNegative(Architecture):
    """Nothing holds its output: the input less what the load takes in its resistance."""

    name = "charge pump"
    gives_up = "gives milliamperes, and is not regulated: it follows the input, and sags under load"

    def sketches(self, task: Task) -> Sequence[Sketch]:
        rail, feed = served(task), DirectFront.of(task).feed
        lies_below_input(task, rail)
        _unregulated(task, rail, feed.high)
        survives(rail, feed.high)
        # What is not regulated gives a resistive load more where the input is higher.
        current = rail.current.max * max(1.0, feed.high / rail.voltage.max)
        allowed = task.kept * (rail.ripple or SHARE * rail.voltage.max)
        found: list[Sketch] = []
        refused: list[Unserved] = []
        for entry in pumps(task):
            try:
                sized = PumpStage(task, entry, feed, current, allowed).sized()
                _moves(task, rail, sized)
            except Unserved as unserved:
                refused.append(Unserved(f"{entry.name}: {unserved.reason}", unserved.reached))
            else:
                found.append(_sketch(task, rail, sized))
        if not found:
            raise max(refused, key=lambda each: each.reached)
        return found


def _unregulated(task: Task, rail: Output, highest: float) -> None:
    """Unserved where a demand wants what holds the output."""
    if rail.is_adjustable:
        raise Unserved(
            f"the output is to be set from {show(rail.voltage.min, 'V')} to "
            f"{show(rail.voltage.max, 'V')}; a pump alone gives what the input is"
        )
    if rail.noise is not None:
        raise Unserved(
            f"{show(rail.noise, 'V')} of noise are asked up to 100 kHz; nothing keeps its own "
            "cycle out of that"
        )
    off = highest / rail.voltage.max - 1.0
    may = task.kept * (rail.accuracy or ACCURACY)
    if off > may:
        raise Unserved(
            f"without a load it gives {show(highest, 'V')}, {show(off, '1')} more than "
            f"{show(rail.voltage.max, 'V')}; {show(may, '1')} may be used",
            reached=2,
        )


def _moves(task: Task, rail: Output, sized: SizedPump) -> None:
    """Unserved where line or load move its output too far."""
    kept, feed = task.kept, sized.own.feed
    may = kept * (rail.accuracy or ACCURACY) * rail.voltage.max
    fallen = rail.voltage.max - sized.lowest
    if fallen > may:
        raise Unserved(
            f"at {show(feed.low, 'V')} in and {show(sized.own.current, 'A')} its "
            f"{show(sized.resistance, 'Ω')} leave {show(sized.lowest, 'V')}, "
            f"{show(fallen, 'V')} less than wanted; {show(may, 'V')} may be used",
            reached=5,
        )
    swing = max(feed.high - feed.nominal, feed.nominal - feed.low)
    step = rail.load_step
    asked = (
        (rail.line_regulation, swing, "of a change of the input"),
        (
            rail.load_regulation,
            (rail.current.max - rail.current.min) * sized.resistance,
            "of a change of the load",
        ),
        (
            None if step is None else step.deviation,
            0.0 if step is None else abs(step.to - step.from_) * sized.resistance,
            "of a step of the load",
        ),
    )
    for limit, moved, what in asked:
        if limit is not None and moved > kept * limit:
            raise Unserved(
                f"{show(moved, 'V')} {what} reach the output at worst; {show(limit, 'V')} are "
                "allowed",
                reached=4,
            )


def _sketch(task: Task, rail: Output, sized: SizedPump) -> Sketch:
    sheet, nets = Sheet(), task.terminals(rail.name)
    sized.draw(sheet, "regulator", nets.minus)
    draw_return(sheet, sized.own.feed.ground, nets.plus)
    return Sketch(tuple(sheet.parts))
