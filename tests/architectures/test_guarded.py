"""Kinds of supply within guards: what the inner one is asked, what stands around, what is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

import pytest

from railwright.architectures import guarded as composing
from railwright.architectures.architecture import (
    Architecture,
    Offer,
    Refusal,
    Sketch,
    Task,
    Unserved,
)
from railwright.architectures.demands import survives
from railwright.architectures.guarded import guarded
from railwright.architectures.guards import every
from railwright.architectures.guards.guard import Guard, with_rail
from railwright.architectures.sheet import Sheet
from railwright.circuit.need import Terminals
from tests.architectures.needs import plain, task_of

GUARDED = plain({'"10 %"': '"10 %"\nnever_above = "15 V"'})


class Lead(Architecture):
    """A wire from the input to the output, which holds whatever may be above it."""

    @property
    def volts(self) -> float:
        """What it may put on the output."""
        return 19.0

    def sketches(self, task: Task) -> Sequence[Sketch]:
        rail = task.need.output[0]
        survives(rail, self.volts)
        sheet = Sheet()
        ends = {"one": task.fed.plus, "two": task.terminals(rail.name).plus}
        sheet.add("R", "resistor", "all", ends, "by hand", resistance="1 Ω")
        return [Sketch(tuple(sheet.parts))]


class Weak(Lead):
    """One that needs no guard."""

    @property
    def volts(self) -> float:
        return 14.0


@dataclass(frozen=True)
class Series(Guard):
    """A resistor in the way of the current."""

    name = "series resistor"
    purpose = "never above"
    dispensable = True
    net_name: ClassVar[str] = "BEHIND"

    def wanted(self, task: Task) -> bool:
        return self.output(task).never_above is not None

    def inside(self, task: Task) -> Task:
        nets = task.terminals(self.rail)
        behind = Terminals(self.net(task, self.net_name), nets.minus)
        return with_rail(task, replace(self.output(task), nets=behind, never_above=None))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        sheet = Sheet.of(sketch.parts)
        ends = {"one": self.net(task, self.net_name), "two": task.terminals(self.rail).plus}
        sheet.add("R", "resistor", self.name, ends, "a guard", resistance="2 Ω")
        return replace(sketch, parts=tuple(sheet.parts))


@dataclass(frozen=True)
class Outer(Series):
    """The same for another purpose, nearer to the terminals."""

    name = "outer resistor"
    purpose = "another"
    depth = -1
    net_name = "BETWEEN"

    def inside(self, task: Task) -> Task:
        kept = self.output(task).never_above
        behind = super().inside(task)
        return with_rail(behind, replace(self.output(behind), never_above=kept))


@dataclass(frozen=True)
class Hopeless(Series):
    """One that never can."""

    name = "hopeless"
    preference = -1

    def inside(self, task: Task) -> Task:
        raise Unserved("it is a bad day")


def offered(monkeypatch: pytest.MonkeyPatch, kind: Architecture, *guards: type[Guard]) -> Offer:
    monkeypatch.setattr(composing, "every", lambda: guards)
    return guarded(kind, task_of(GUARDED))


def joined(offer: Offer) -> list[tuple[str, str, str]]:
    """Refs and nets of the parts of the first sketch."""
    assert not isinstance(offer, Refusal), offer.reason
    found = []
    for part in offer[0].parts:
        pins = part["pins"]
        assert isinstance(pins, Mapping)
        found.append((str(part["ref"]), pins["one"], pins["two"]))
    return found


def test_a_guard_stands_between_supply_and_terminals(monkeypatch: pytest.MonkeyPatch) -> None:
    found = joined(offered(monkeypatch, Lead(), Series))
    assert found == [("R1", "IN", "BEHIND"), ("R2", "BEHIND", "OUT")]


def test_guards_are_put_on_from_the_terminals_inwards(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Outer, "dispensable", False)
    found = joined(offered(monkeypatch, Lead(), Series, Outer))
    assert found == [
        ("R1", "IN", "BEHIND"),
        ("R2", "BEHIND", "BETWEEN"),
        ("R3", "BETWEEN", "OUT"),
    ]


def test_what_can_do_without_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    assert joined(offered(monkeypatch, Weak(), Series)) == [("R1", "IN", "OUT")]


def test_another_guard_takes_the_place_of_one_that_cannot(monkeypatch: pytest.MonkeyPatch) -> None:
    assert len(joined(offered(monkeypatch, Lead(), Series, Hopeless))) == 2


def test_the_guard_tells_why_it_cannot(monkeypatch: pytest.MonkeyPatch) -> None:
    offer = offered(monkeypatch, Lead(), Hopeless)
    assert offer == Refusal("hopeless of main: it is a bad day")


def test_all_guards_that_could_serve_tell_why_they_cannot(monkeypatch: pytest.MonkeyPatch) -> None:
    class Other(Hopeless):
        name = "other"

    offer = offered(monkeypatch, Lead(), Hopeless, Other)
    assert offer == Refusal("hopeless of main: it is a bad day; other of main: it is a bad day")


def test_guards_are_those_of_the_folder() -> None:
    names = [guard.name for guard in every()]
    assert "trip" in names
    assert not {"series resistor", "hopeless"} & {*names}
    depths = [guard.depth for guard in every()]
    assert depths == sorted(depths)


def test_without_a_guard_that_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    offer = offered(monkeypatch, Lead())
    assert isinstance(offer, Refusal)
    assert "this has no guard against that" in offer.reason
