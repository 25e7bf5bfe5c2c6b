"""Windows of parts outside in a design: the catalogue's, or the design's own."""

from __future__ import annotations

import pytest
from surveys.supplies import part, supply

from railwright.catalogue.entry import KnownWindow
from railwright.catalogue.loader import load
from railwright.circuit.circuit import Part
from railwright.circuit.design import read_text
from railwright.files.mistakes import FileError

USED = "2950 type 5 V 0.1 A"


def design(more: str = "") -> str:
    pins = "input = IN, output = OUT, ground = GND"
    return supply(part("U1", "low-dropout-regulator", pins, f'use = "{USED}"\n{more}'))


def regulator(more: str = "") -> Part:
    return read_text(design(more), "windows.toml").circuit.part("U1")


def test_a_part_has_the_windows_of_the_catalogue() -> None:
    assert regulator().windows == load()[USED].windows


def test_the_design_states_its_own() -> None:
    found = regulator('output_capacitance = { min = "4.7 µF", max = "100 µF" }').windows
    assert found["output_capacitance"] == KnownWindow(4.7e-6, 100e-6, "F", "design file")
    others = {n: w for n, w in load()[USED].windows.items() if n != "output_capacitance"}
    assert {n: w for n, w in found.items() if n != "output_capacitance"} == others


def test_one_bound_is_enough() -> None:
    found = regulator('output_series_resistance = { max = "2 Ω" }').windows
    assert found["output_series_resistance"].bounds == (0.0, 2.0)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("{ }", "found no bound. Write min, max or both"),
        ('"10 µF"', "a table is wanted: { min ="),
        ('{ min = "10 µH" }', "it is an inductance"),
        ('{ min = "10 µF", max = "1 µF" }', "found min 10 µF, max 1 µF. Wanted is min <= max"),
        ('{ min = "-1 µF" }', "out of range"),
        ('{ typical = "1 µF" }', 'no key "typical" here'),
    ],
)
def test_refusals(row: str, words: str) -> None:
    text = design(f"output_capacitance = {row}")
    with pytest.raises(FileError) as caught:
        read_text(text, "windows.toml")
    (mistake,) = caught.value.mistakes
    assert words in str(caught.value)
    assert mistake.key.startswith("part[0].output_capacitance")
    assert text.split("\n")[mistake.line - 1].startswith("output_capacitance")
