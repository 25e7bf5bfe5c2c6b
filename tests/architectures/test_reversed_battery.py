"""A battery the wrong way round: the diode that opens the fuse."""

from __future__ import annotations

import pytest

from railwright.architectures.architecture import Architecture, Refusal, Unserved
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guards.reversed_battery import ReversedBattery, shunt_diode
from railwright.architectures.step_down import StepDown
from railwright.catalogue.loader import load
from railwright.circuit.circuit import Part
from tests.architectures.needs import plain, read_sketch, task_of, value

BATTERY = plain(
    {
        '"17 V", nominal = "18 V", max = "19 V"': '"20 V", nominal = "24 V", max = "28 V"',
        '"10 %"': '"8 %"',
        '"dc"': '"battery"',
        '"0.3 A"': '"0.15 A"',
    }
)


def parts(kind: Architecture, text: str = BATTERY) -> list[Part]:
    """Of the first sketch with this guard, whatever others could stand in its place."""
    task, guard = task_of(text), ReversedBattery()
    offer = kind.offer(guard.inside(task))
    assert not isinstance(offer, Refusal), offer.reason
    return list(read_sketch(text, guard.around(task, offer[0])).circuit.parts)


def test_a_step_down_gets_a_diode_that_outlasts_its_fuse() -> None:
    """The fuse lets its melting integral through; the diode survives half its crest squared."""
    found = parts(StepDown())
    (fuse,) = (part for part in found if part.kind == "fuse")
    (diode,) = (p for p in found if p.kind == "diode" and p.pins["cathode"] == fuse.pins["two"])
    assert diode.pins["anode"] == "GND"
    survives = 0.5 * value(diode, "surge_current") ** 2 * 8.3e-3
    assert value(fuse, "melting_integral", "high") <= 0.9 * survives


def test_a_diode_in_series_is_enough() -> None:
    found = parts(FixedLinear())
    (fuse,) = (part for part in found if part.kind == "fuse")
    behind = [p for p in found if p.kind == "diode" and fuse.pins["two"] in p.pins.values()]
    assert [p.pins["anode"] for p in behind] == [fuse.pins["two"]]


def test_what_no_diode_survives_is_told() -> None:
    """224 A²s of a T 4 A against 93 A²s of the largest diode; 2 V of 1 Ω open none."""
    task, catalogue = task_of(BATTERY), load()
    with pytest.raises(Unserved, match="no diode of the catalogue"):
        shunt_diode(task, catalogue["fuse T 4 A H"])
    weak = task_of(BATTERY.replace("100 mΩ", "10 Ω"))
    with pytest.raises(Unserved, match="melts at up to 4 A"):
        shunt_diode(weak, catalogue["fuse T 2 A"])


def test_a_brick_wants_none() -> None:
    assert not ReversedBattery().wanted(task_of(plain({})))
