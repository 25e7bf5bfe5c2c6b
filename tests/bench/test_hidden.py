"""Simulated supplies with something hidden, against sums by hand and Ohm's law."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply

from railwright.bench.hidden import Conditions, Hidden, HiddenSupplies, suspects
from railwright.bench.reading import Place
from railwright.circuit.design import read_text
from railwright.surveys.stages import METER
from railwright.surveys.suspects import Suspect

CHAIN = read_text(
    supply(
        resistor("R1", "IN", "HIGH", 1e3, "1 %")
        + resistor("R2", "HIGH", "OUT", 2e3, "1 %")
        + resistor("R3", "OUT", "GND", 7e3, "1 %")
    ),
    "small.toml",
)
REGULATOR = read_text(
    supply(
        part("U1", "adjustable-regulator", "input = IN, output = OUT, adjust = ADJ",
             'use = "317 type 1.5 A"')
        + resistor("R1", "OUT", "ADJ", 240.0, "1 %")
        + resistor("R2", "ADJ", "GND", 720.0, "1 %")
    ),
    "small.toml",
)  # fmt: skip
OUT, HIGH = Place("voltage", "OUT", "GND"), Place("voltage", "HIGH", "GND")
INTO = Place("current", "IN", "GND")


def fault(words: str) -> Suspect:
    return next(each for each in suspects(CHAIN) if each.words == words)


def test_parts_are_drawn_within_their_spread_and_again_by_the_same_seed() -> None:
    many = HiddenSupplies(CHAIN, [Hidden(seed) for seed in range(40)])
    read = many.readings()
    assert np.ptp(read[OUT]) > 0.02
    # R3 / (R1 + R2 + R3), 1 % each: 7 V within 0.6 %.
    assert np.abs(read[OUT] - 7.0).max() < 0.006 * 7.0
    again = HiddenSupplies(CHAIN, [Hidden(7)]).readings()
    assert again[OUT][0] == pytest.approx(read[OUT][7], rel=1e-9)


@pytest.mark.parametrize(
    ("words", "high", "out"),
    [("R3 open", 10.0, 10.0), ("R2 open", 10.0, 0.0), ("R1 open", 0.0, 0.0),
     ("R1 and R3 exchanged", 3.0, 1.0)],
)  # fmt: skip
def test_what_is_wrong_is_read(words: str, high: float, out: float) -> None:
    read = HiddenSupplies(CHAIN, [Hidden(1), Hidden(1, (fault(words),))]).readings()
    assert read[HIGH][1] == pytest.approx(high, abs=0.05)
    assert read[OUT][1] == pytest.approx(out, abs=0.05)
    assert read[OUT][0] == pytest.approx(7.0, rel=0.01)


def test_the_voltmeter_takes_its_current() -> None:
    loose = HiddenSupplies(CHAIN, [Hidden(1, (fault("R3 open"),))])
    # Nothing but the meter loads R1 and R2 then.
    sagging = 10.0 * METER / (METER + 3e3)
    assert loose.readings([OUT])[OUT][0] == pytest.approx(sagging, rel=1e-5)


def test_loads_and_feeds_are_set_from_outside() -> None:
    built = HiddenSupplies(CHAIN, [Hidden(3)])
    unloaded = built.readings([OUT, INTO])
    loaded = built.readings([OUT, INTO], Conditions(loads={"main": 1e-3}))
    # 1 mA more through 3 kΩ beside 7 kΩ (Thévenin: 2.1 kΩ).
    assert unloaded[OUT][0] - loaded[OUT][0] == pytest.approx(2.1, rel=0.02)
    assert unloaded[INTO][0] == pytest.approx(1e-3, rel=0.02)
    half = built.readings([OUT], Conditions(volts={"need.input": 5.0}))
    assert half[OUT][0] == pytest.approx(unloaded[OUT][0] / 2.0, rel=1e-4)


def test_a_regulator_reads_what_its_datasheet_promises() -> None:
    read = HiddenSupplies(REGULATOR, [Hidden(seed) for seed in range(30)]).readings([OUT])[OUT]
    # 317 type: reference 1.2 to 1.3 V, times 1 + 720/240 within 1.5 %, and 0.1 mA through 720 Ω.
    assert ((read > 1.2 * 4 * 0.985) & (read < 1.3 * 4 * 1.015 + 0.1)).all()


def test_values_that_nobody_guarantees_are_off_once_more() -> None:
    supplies = HiddenSupplies(REGULATOR, [Hidden(seed) for seed in range(50)])
    assumed = [
        (part.ref, name)
        for part in REGULATOR.circuit.parts
        for name, value in part.values.items()
        if value.assumed
    ]
    assert assumed
    spreads = {name: REGULATOR.circuit.part(name[0]).values[name[1]].spread for name in assumed}
    beyond = [
        ((supplies.actual[name] < spread.low) | (supplies.actual[name] > spread.high)).any()
        for name, spread in spreads.items()
    ]
    assert any(beyond)
    guaranteed = ("R1", "resistance")
    spread = REGULATOR.circuit.part("R1").values["resistance"].spread
    assert (np.abs(supplies.actual[guaranteed] / spread.typical - 1.0) < 0.011).all()


def test_an_ohmmeter_reads_what_nothing_feeds() -> None:
    built = HiddenSupplies(CHAIN, [Hidden(1), Hidden(1, (fault("R2 open"),))])
    read = built.resistances()
    # 10 kΩ in all, 7 kΩ from OUT; R2 is then 1 GΩ.
    assert read[Place("resistance", "IN", "GND")][0] == pytest.approx(10e3, rel=0.01)
    assert read[Place("resistance", "OUT", "GND")] == pytest.approx([7e3, 7e3], rel=0.011)
    assert np.isinf(read[Place("resistance", "IN", "GND")][1])
