"""Step-down switching regulator with a second filter, damped, for less ripple."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.regulator import ACCURACY, Feed
from railwright.architectures.regulator_parts import draw_return
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor
from railwright.architectures.sizing.second_stage import SecondStage, Surroundings, second_stages
from railwright.architectures.step_down import StepDown
from railwright.architectures.switching_stage import SHARE, SizedStage, SwitchingStage
from railwright.circuit.need import Output, Terminals
from railwright.quantity import show

AHEAD = "AHEAD"
"""Net between both filters."""
DAMPED = "DAMPED"
"""Net between the capacitor that damps and its resistor."""
FILTERS = 2
"""Filters of which sketches are made, the smallest that serve."""
OF_DEVIATION = 0.5
"""Of what a step of the load may do, the second filter's share; the rest is the first stage's."""
BLOCK = "filter"


class FilteredStepDown(StepDown):
    """The loop holds the first filter; the second one follows outside it."""

    name = "step-down with second filter"
    gives_up = "the second coil's resistance is outside the loop; more parts, a slower output"

    def demand(self, task: Task, rail: Output, feed: Feed) -> None:
        super().demand(task, rail, feed)
        plain = SHARE * rail.voltage.max
        if rail.ripple is None or rail.ripple >= plain:
            asked = "nothing is" if rail.ripple is None else f"{show(rail.ripple, 'V')} are"
            raise Unserved(
                f"{asked} asked of the ripple of {rail.name}; a step-down without a second filter "
                f"is sized for {show(plain, 'V')}"
            )

    def built_on(self, stage: SwitchingStage) -> list[Sketch]:
        found: list[Sketch] = []
        refused: list[Unserved] = []
        for second in islice(_filters(stage), FILTERS):
            try:
                sized = replace(stage, rail=_ahead(stage, second)).sized()
            except Unserved as unserved:
                refused.append(unserved)
            else:
                found += [_sketch(stage.rail, each, second) for each in sized]
        if not found:
            raise max(refused, key=lambda each: each.reached)
        return found


def _filters(stage: SwitchingStage) -> list[SecondStage]:
    """Second filters that leave little enough of the first one's ripple, the smallest first.

    Unserved where none does.
    """
    task, rail = stage.task, stage.rail
    ambient = task.need.surroundings.ambient
    where = Surroundings(
        rail.current.max * (1.0 + (rail.accuracy or ACCURACY)),
        rail.voltage.max,
        (ambient.min, ambient.max),
        spread_of(stage.entry, "frequency").low,
        task,
    )
    filters = second_stages(where)
    first, asked = SHARE * rail.voltage.max, rail.ripple or 0.0
    quiet = [each for each in filters if each.passes * first <= asked]
    if not quiet:
        least = min((each.passes * first for each in filters), default=first)
        raise Unserved(
            f"of {show(first, 'V')} behind the first filter a second one of the catalogue leaves "
            f"{show(least, 'V')} at best; {show(asked, 'V')} are asked",
            reached=2,
        )
    found = [each for each in quiet if not _breach(task, rail, each)]
    if not found:
        raise Unserved(_breach(task, rail, quiet[0]), reached=4)
    return found


def _breach(task: Task, rail: Output, second: SecondStage) -> str:
    """What a filter would take too much of, beside ripple, in words; empty if nothing."""
    drop, volts = second.drop, rail.voltage.max
    limit = task.kept * (rail.accuracy or ACCURACY) * volts
    if drop >= limit:
        return f"its coil takes {show(drop, 'V')} at full load; {show(limit, 'V')} may be used"
    if rail.load_regulation is not None:
        swing = drop * (1.0 - rail.current.min / rail.current.max)
        limit = task.kept * rail.load_regulation
        if swing > limit:
            return (
                f"its coil takes {show(swing, 'V')} more from least to full load; "
                f"{show(limit, 'V')} may be used"
            )
    step = rail.load_step
    if step is not None:
        moved = abs(step.to - step.from_) * second.impedance
        limit = OF_DEVIATION * task.kept * step.deviation
        if moved > limit:
            return (
                f"a step of the load moves it by {show(moved, 'V')}; {show(limit, 'V')} may be used"
            )
    return ""


def _ahead(stage: SwitchingStage, second: SecondStage) -> Output:
    """The net between both filters, as a demand on the first stage."""
    rail, task = stage.rail, stage.task
    return replace(
        rail,
        accuracy=(rail.accuracy or ACCURACY) - second.drop / rail.voltage.max,
        ripple=SHARE * rail.voltage.max,
        nets=Terminals(task.inner(AHEAD), stage.feed.ground),
    )


def _sketch(rail: Output, sized: SizedStage, second: SecondStage) -> Sketch:
    own = sized.own
    sheet = Sheet()
    controls = sized.draw(sheet, "step-down")
    _draw(sheet, own, rail, second)
    draw_return(sheet, own.feed.ground, own.task.terminals(rail.name).minus)
    return Sketch(tuple(sheet.parts), controls)


def _draw(sheet: Sheet, own: SwitchingStage, rail: Output, second: SecondStage) -> None:
    task, ground, out = own.task, own.feed.ground, own.task.terminals(rail.name).plus
    ahead, asked = SHARE * rail.voltage.max, rail.ripple or 0.0
    why = (
        f"with what follows it passes {show(second.passes, '1')} of the ripple ahead at "
        f"{show(second.where.frequency, 'Hz')}: {show(second.passes * ahead, 'V')} of "
        f"{show(ahead, 'V')}, {show(asked, 'V')} are asked; takes at most "
        f"{show(second.drop, 'V')}"
    )
    ends = {"one": task.inner(AHEAD), "two": out}
    sheet.add("L", "inductor", BLOCK, ends, why, use=second.coil.name)
    quiet = (
        f"{show(second.capacitance.low, 'F')} at least are left of it at "
        f"{show(rail.voltage.max, 'V')}"
    )
    across = {"plus": out, "minus": ground}
    sheet.add("C", "capacitor", BLOCK, across, quiet, use=second.quiet.name)
    damped = task.inner(DAMPED) if second.resistance else ground
    pins = {"plus": out, "minus": damped}
    sheet.add("C", "capacitor", BLOCK, pins, second.words, use=second.damper.name)
    if second.resistance:
        tolerance = task.need.parts.resistor_tolerance or USUAL_TOLERANCE
        use = resistor(task, 0.0, tolerance).name
        value = show(second.resistance, "Ω", 4)
        ends = {"one": damped, "two": ground}
        why = "adds to the series resistance of the capacitor that damps: " + second.words
        sheet.add("R", "resistor", BLOCK, ends, why, use=use, resistance=value)
