"""What nets see over the operating range, voltages and currents, and what parts turn into heat."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Part
from railwright.devices.device import Role
from railwright.engine.solutions import OperatingPoints
from railwright.prove.proof import NetRow
from railwright.surveys.courses import together
from railwright.surveys.cycles import CycleView
from railwright.surveys.fixture import SOURCE, load_ref
from railwright.surveys.mains import IN_USE, MainsView, as_fed
from railwright.surveys.operating_range import Choice, Points
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.stages import common
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Counted = Literal["mean", "rms"]
"""What counts of a course: its mean or its effective value."""
CARRYING: frozenset[Role] = frozenset(
    {
        "passive",
        "anode",
        "cathode",
        "plus",
        "minus",
        "power-input",
        "power-output",
        "switch",
        "drain",
        "source",
        "collector",
        "emitter",
    }
)
"""Roles of pins through which the current that a part tells of itself flows."""


@dataclass(frozen=True)
class Seen:
    """What nets see, in the design's order, and what parts turn into heat [W]."""

    nets: tuple[NetRow, ...]
    losses: Mapping[str, float]


def seen(survey: Survey, choice: Choice) -> Seen:
    """Every electrical net of the circuit that was solved somewhere, and the losses of its parts.

    At the corners of the range and at a chosen point of it, with typical parts; in the cycles of
    what switches where they are found. BeyondRange where the need does not span the choice.
    """
    points = together(survey.coarsest.extremes(), survey.range.chosen(choice))
    rest, cycles = _viewed(survey, points), _in_cycles(survey)
    parts = survey.fixture.circuit.parts
    outside = [SOURCE, *(load_ref(rail) for rail in survey.fixture.rails)]
    telling = [p.ref for p in parts if "current" in p.device.observes]
    heating = [p.ref for p in parts if "power" in p.device.observes]
    currents = _greatest(rest, cycles, [*telling, *outside], "current", "rms")
    return Seen(
        tuple(_rows(survey, rest, points, currents)),
        _greatest(rest, cycles, heating, "power", "mean"),
    )


def _rows(
    survey: Survey, rest: View, points: Points, currents: Mapping[str, float]
) -> Iterator[NetRow]:
    at, chosen = _at_rest(rest, points)
    black = common(survey.fixture.design)
    for net in survey.fixture.circuit.nets:
        volts = at.potential(net) - at.potential(black)
        if not np.isfinite(volts).any():
            continue
        here = volts[chosen]
        known = bool(np.isfinite(here).all())
        carried = [
            (currents[ref], ref)
            for ref in _carriers(survey, net)
            if ref in currents and np.isfinite(currents[ref])
        ]
        most, by = max(carried, default=(None, ""))
        yield NetRow(
            net,
            float(np.nanmin(volts)),
            float(np.mean(here)) if known else None,
            float(np.nanmax(volts)),
            most,
            by,
            float(np.std(here)) if known else 0.0,
        )


def _at_rest(view: View, points: Points) -> tuple[OperatingPoints, Sequence[int]]:
    """Solutions, and which of them are of the last point."""
    if isinstance(view, MainsView):
        moments = next(view.moments())
        each = moments.at.count // points.count
        return moments.at, range(moments.at.count - each, moments.at.count)
    return view.at, [points.count - 1]


def _viewed(survey: Survey, points: Points) -> View:
    return as_fed(survey, AS_SET).view(survey, points, survey.typical(points.count), None)


def _in_cycles(survey: Survey) -> CycleView | None:
    """Typical parts in the cycles of what switches; None where nothing does, or none is found."""
    situation = as_fed(survey, IN_USE)
    if not situation.applies(survey) or situation.unready(survey):
        return None
    where, scoped = situation.points(survey), survey.within(situation.scope)
    view = situation.view(scoped, where, scoped.typical(where.count), None)
    return view if isinstance(view, CycleView) else None


def _greatest(
    rest: View, cycles: CycleView | None, refs: Sequence[str], observable: str, what: Counted
) -> dict[str, float]:
    """The greatest of every part that tells an observable, of its mean or effective value."""
    found: dict[str, float] = {}
    for ref in refs:
        rows = list(_of_course(rest, ref, observable, what))
        if cycles is not None and cycles.keeps(ref, observable):
            rows.append(np.where(cycles.solved, cycles.kept(what, ref, observable), np.nan))
        known = [np.abs(row[np.isfinite(row)]) for row in rows]
        most = [float(row.max()) for row in known if row.size]
        if most:
            found[ref] = max(most)
    return found


def _of_course(view: View, ref: str, observable: str, what: Counted) -> Iterator[Array]:
    """What counts of an observable over lanes; nothing where the part does not tell it."""
    try:
        if isinstance(view, MainsView):
            yield from [m.of_course(what, ref, observable) for m in view.moments()]
        else:
            yield view.at.of(ref, observable)
    except KeyError:
        return


def _carriers(survey: Survey, net: str) -> list[str]:
    """Refs of parts whose own current flows through a pin on a net."""
    found = [part.ref for part, pin in survey.fixture.powered.on_net(net) if _carries(part, pin)]
    return list(dict.fromkeys(found))


def _carries(part: Part, pin: str) -> bool:
    if part.device.surroundings:
        return True
    return part.device.pins[pin].role in CARRYING
