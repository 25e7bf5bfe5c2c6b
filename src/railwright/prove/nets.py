"""What every net sees over the operating range: its voltages, and the current it has to carry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

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


def net_rows(survey: Survey, choice: Choice) -> tuple[NetRow, ...]:
    """Every electrical net of the circuit that was solved somewhere, in the design's order.

    At the corners of the range and at a chosen point of it, with typical parts; in the cycles of
    what switches where they are found. BeyondRange where the need does not span the choice.
    """
    points = together(survey.coarsest.extremes(), survey.range.chosen(choice))
    at, chosen = _at_rest(survey, points)
    black = common(survey.fixture.design)
    currents = _currents(survey, points)
    rows = []
    for net in survey.fixture.circuit.nets:
        volts = at.potential(net) - at.potential(black)
        if not np.isfinite(volts).any():
            continue
        here = volts[chosen]
        carried = [
            (currents[ref], ref)
            for ref in _carriers(survey, net)
            if ref in currents and np.isfinite(currents[ref])
        ]
        most, by = max(carried, default=(None, ""))
        rows.append(
            NetRow(
                net,
                float(np.nanmin(volts)),
                float(np.mean(here)) if np.isfinite(here).all() else None,
                float(np.nanmax(volts)),
                most,
                by,
            )
        )
    return tuple(rows)


def _at_rest(survey: Survey, points: Points) -> tuple[OperatingPoints, Sequence[int]]:
    """Solutions, and which of them are of the last point."""
    view = _viewed(survey, points)
    if isinstance(view, MainsView):
        moments = next(view.moments())
        each = moments.at.count // points.count
        return moments.at, range(moments.at.count - each, moments.at.count)
    return view.at, [points.count - 1]


def _viewed(survey: Survey, points: Points) -> View:
    return as_fed(survey, AS_SET).view(survey, points, survey.typical(points.count), None)


def _currents(survey: Survey, points: Points) -> dict[str, float]:
    """Greatest effective current of every part that tells one, source and loads among them."""
    situation = as_fed(survey, IN_USE)
    in_cycles = situation.applies(survey) and not situation.unready(survey)
    parts = [p.ref for p in survey.fixture.circuit.parts if "current" in p.device.observes]
    outside = [SOURCE, *(load_ref(rail) for rail in survey.fixture.rails)]
    found: dict[str, float] = {}
    rest = _viewed(survey, points)
    for ref in (*parts, *outside):
        for row in _effective(rest, ref):
            found[ref] = max(found.get(ref, 0.0), row)
    if in_cycles:
        where = situation.points(survey)
        scoped = survey.within(situation.scope)
        view = situation.view(scoped, where, scoped.typical(where.count), None)
        if isinstance(view, CycleView):
            for ref in parts:
                if view.keeps(ref, "current"):
                    rms = np.where(view.solved, view.kept("rms", ref, "current"), np.nan)
                    if np.isfinite(rms).any():
                        found[ref] = max(found.get(ref, 0.0), float(np.nanmax(rms)))
    return found


def _effective(view: View, ref: str) -> Iterator[float]:
    """The greatest effective current of a part over lanes; nothing where it tells none."""
    try:
        if isinstance(view, MainsView):
            rows = [m.of_course("rms", ref, "current") for m in view.moments()]
        else:
            rows = [np.abs(view.at.of(ref, "current"))]
    except KeyError:
        return
    for row in rows:
        if np.isfinite(row).any():
            yield float(np.nanmax(np.abs(row)))


def _carriers(survey: Survey, net: str) -> list[str]:
    """Refs of parts whose own current flows through a pin on a net."""
    found = [part.ref for part, pin in survey.fixture.powered.on_net(net) if _carries(part, pin)]
    return list(dict.fromkeys(found))


def _carries(part: Part, pin: str) -> bool:
    if part.device.surroundings:
        return True
    return part.device.pins[pin].role in CARRYING
