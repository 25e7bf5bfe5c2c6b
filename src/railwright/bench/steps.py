"""Bringing up step by step: what is to be done, what is to be read, within which window."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from railwright.bench.reading import Place, Reading, verdict
from railwright.circuit.design import Design
from railwright.quantity import show
from railwright.surveys.stages import BringUp, Feed, Rest, Stage, bring_up
from railwright.surveys.unpowered import resistances
from railwright.surveys.windows import Window

UNPOWERED = "without power"
"""Name of the stage before the first."""
SHORT = 0.2
"""Share of the least resistance below which a rail counts as shorted: what is in circuits without
their supply is not published, and may take more than is known."""


@dataclass(frozen=True)
class Step:
    """One reading that is asked for."""

    stage: str
    place: Place
    windows: tuple[Window, ...]
    """One for each state that the stage may rest in; any of them will do."""
    todo: tuple[str, ...] = ()
    """What is to be done before: of the first step of a stage."""
    feed: Feed | None = None
    """How the bench source stands; None without power, or where several are wanted."""

    @property
    def told(self) -> str:
        """The window in words."""
        texts = [_span(window, self.place) for window in self.windows]
        return " or ".join(dict.fromkeys(texts))

    def judged(self, reading: Reading) -> str:
        """Best verdict of all windows: inside, doubtful or outside."""
        found = [verdict(reading, *_ends(window, self.place)) for window in self.windows]
        return next(v for v in ("inside", "doubtful", "outside") if v in found)


def _ends(window: Window, place: Place) -> tuple[float, float]:
    """What counts as inside: of a resistance and a current only one side tells something."""
    if place.quantity == "resistance":
        return SHORT * window.low, math.inf
    if place.quantity == "current":
        return -math.inf, window.high
    return window.low, window.high


def _span(window: Window, place: Place) -> str:
    low, high = _ends(window, place)
    if place.quantity == "resistance":
        return f"at least {show(low, 'Ω', 2)}"
    if place.quantity == "current":
        return f"at most {show(high, 'A', 2)}"
    return f"{show(low, 'V')} to {show(high, 'V')}"


@dataclass(frozen=True)
class Course:
    """Everything that is asked for, in its order, and why no more is."""

    steps: tuple[Step, ...]
    refused: str = ""


def course(design: Design) -> Course:
    """The steps of a design: without power first, then stage by stage."""
    found = bring_up(design)
    steps = [*_unpowered(design), *(step for stage in found.stages for step in _of(design, stage))]
    return Course(tuple(steps), _refused(found))


def fitted_at(design: Design, stage: str) -> tuple[str, ...]:
    """Refs of all parts that are fitted at a stage; all there are where it has no such stage."""
    fitted, _ = fitted_by_stage(design).get(stage, ((), ()))
    return fitted or tuple(part.ref for part in design.circuit.parts)


def fitted_by_stage(design: Design) -> dict[str, tuple[tuple[str, ...], tuple[str, ...]]]:
    """Refs of all parts that are fitted at each stage, and of those fitted last."""
    refs: tuple[str, ...] = ()
    found: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {}
    for each in bring_up(design).stages:
        refs += each.refs
        found[each.name] = refs, each.refs
    return found


def _refused(found: BringUp) -> str:
    return f"{found.refused}: not asked for, since it does not stand" if found.refused else ""


def _unpowered(design: Design) -> Iterator[Step]:
    todo: tuple[str, ...] = (
        "Nothing is connected. Look at every joint with a glass; hold the board against the "
        "connection list; no tab touches its sink where an insulator is fitted.",
    )
    for each in resistances(design):
        place = Place("resistance", each.red, each.black)
        yield Step(UNPOWERED, place, (each.window,), todo)
        todo = ()


def _of(design: Design, stage: Stage) -> Iterator[Step]:
    todo: tuple[str, ...] = (*fitting(stage), *connecting(stage), *knobs(design, stage))
    several = feeds(stage)
    feed = several[0] if len(several) == 1 else None
    for place, windows in _read(stage):
        yield Step(stage.name, place, windows, todo, feed)
        todo = ()


def _read(stage: Stage) -> Iterator[tuple[Place, tuple[Window, ...]]]:
    """The current first: it tells most, and soonest."""
    for feed in feeds(stage):
        windows = tuple(rest.amperes[feed.ref] for rest in stage.rests)
        yield Place("current", feed.plus, feed.minus), windows
    nets = dict.fromkeys(net for rest in stage.rests for net in rest.volts)
    for net in nets:
        place = Place("voltage", net, stage.common)
        yield place, tuple(rest.volts[net] for rest in stage.rests)


def fitting(stage: Stage, order: Sequence[str] = ()) -> tuple[str, ...]:
    """What is fitted, in an order if there is one, and what stands aside."""
    found = [f"Fit {', '.join(order or stage.refs)}."]
    if stage.omitted:
        found.append(
            f"{', '.join(stage.omitted)} stays off the mains, its secondary not connected: a bench "
            "source stands in its place."
        )
    return tuple(found)


def connecting(stage: Stage) -> tuple[str, ...]:
    """How bench sources are set and connected."""
    return tuple(
        f"Bench source: plus to {feed.plus}, minus to {feed.minus}, {show(feed.volts, 'V')}, "
        f"current limit {show(feed.limit, 'A', 2)}."
        for feed in feeds(stage)
    )


def feeds(stage: Stage) -> Sequence[Feed]:
    """Feeds at ends of their own: windings that take turns are one."""
    found: dict[frozenset[str], Feed] = {}
    for feed in stage.feeds:
        found.setdefault(frozenset((feed.plus, feed.minus)), feed)
    return list(found.values())


def knobs(design: Design, stage: Stage) -> Iterator[str]:
    """How new knobs stand."""
    for control in design.controls:
        if control.part in stage.refs:
            yield f"{control.part} to the middle of its travel."


def consistent(stage: Sequence[Step], readings: Sequence[Reading]) -> bool:
    """Whether one state of a stage explains all of its readings."""
    count = max((len(step.windows) for step in stage), default=0)
    places = {step.place: step for step in stage}
    return any(
        all(
            verdict(reading, *_ends(places[reading.place].windows[state], reading.place))
            != "outside"
            for reading in readings
            if reading.place in places
        )
        for state in range(count)
    )


def state_of(rest: Rest) -> str:
    """A state in words."""
    return ", ".join(f"{ref} {'on' if level else 'off'}" for ref, level in rest.state.items())
