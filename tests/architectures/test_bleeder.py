"""Bleeders: what is left of a reservoir when the plug is pulled."""

from __future__ import annotations

import math

import pytest

from railwright.architectures.architecture import Sketch
from railwright.architectures.guards.bleeder import HARMLESS, Bleeder, bleeds
from railwright.architectures.sheet import Sheet
from railwright.quantity import parse
from tests.architectures.needs import plain, task_of

MAINS = plain(
    {
        '"dc"': '"ac"',
        'resistance = "100 mΩ"': 'resistance = "1 Ω"\nfrequency = { min = "50 Hz", max = "50 Hz" }',
    }
)


def test_a_capacitor_runs_down_in_small_steps() -> None:
    volts, ohms, step = 30.0, bleeds(4700e-6, 30.0, 30.0), 1e-3
    for _ in range(int(30.0 / step)):
        volts -= step * volts / (ohms * 4700e-6)
    assert 0.5 * 4700e-6 * volts**2 == pytest.approx(HARMLESS, rel=1e-3)


def test_every_reservoir_that_holds_much_has_one() -> None:
    """4700 µF of 35 V hold 2.2 J at 28 V, 220 µF 0.1 J."""
    sheet = Sheet()
    ends = {"first": "AC1", "second": "AC2", "plus": "RAW", "minus": "MINUS"}
    sheet.add("B", "bridge-rectifier", "input", ends, "by hand", use="bridge 1.5 A 400 V")
    for use in ("electrolytic 4700 µF 35 V low-ESR", "electrolytic 220 µF 35 V low-ESR"):
        pins = {"plus": "RAW", "minus": "MINUS"}
        sheet.add("C", "capacitor", "input", pins, "by hand", use=use)
    found = Bleeder().around(task_of(MAINS), Sketch(tuple(sheet.parts))).parts[3:]
    assert [part["pins"] for part in found] == [{"one": "RAW", "two": "MINUS"}]
    ohms = parse(str(found[0]["resistance"]), "Ω")
    left = 28.0 * math.exp(-30.0 / (1.01 * ohms * 1.2 * 4700e-6))
    assert 0.5 * 1.2 * 4700e-6 * left**2 <= 0.5


def test_direct_sources_want_none() -> None:
    assert not Bleeder().wanted(task_of(plain({})))
