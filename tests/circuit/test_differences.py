"""What differs between two designs, told once and in the words of the file."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.circuit.differences import Difference, differences
from railwright.circuit.differences import Differences as Found

DIVIDER = resistor("R1", "IN", "OUT", 1000, "1 %") + resistor("R2", "OUT", "GND", 1000, "1 %")
DIODE = part("D1", "diode", "anode = OUT, cathode = IN", 'use = "1N4148"')


def found(before: str, after: str, **need: str) -> Found:
    return differences(
        read_text(supply(before), "before.toml"), read_text(supply(after, **need), "after.toml")
    )


def of_part(before: str, after: str) -> tuple[str, str, list[Difference]]:
    (part,) = found(before, after).parts
    return part.ref, part.change, list(part.differences)


def test_nothing_differs_where_only_the_order_of_the_file_does() -> None:
    one, two = resistor("R1", "IN", "OUT", 1000), resistor("R2", "OUT", "GND", 1000)
    assert found(one + two, two + one) == Found([], [], [])


def test_a_value_is_told_with_its_unit_and_tolerance() -> None:
    other = DIVIDER.replace("1000", "2200", 1)
    assert of_part(DIVIDER, other) == (
        "R1",
        "changed",
        [Difference("resistance", "1 kΩ ± 1 %", "2.2 kΩ ± 1 %")],
    )


def test_values_that_round_alike_are_told_apart() -> None:
    _, _, (change,) = of_part(DIVIDER, DIVIDER.replace("1000", "1000.4", 1))
    assert (change.before, change.after) == ("1 kΩ ± 1 %", "1.0004 kΩ ± 1 %")


def test_a_part_more_or_less_is_told_by_what_the_file_says_of_it() -> None:
    ref, change, told = of_part(DIVIDER, DIVIDER + DIODE)
    assert (ref, change) == ("D1", "added")
    assert [(d.what, d.after) for d in told] == [
        ("kind", "diode"),
        ("use", "1N4148"),
        ("pin anode", "OUT"),
        ("pin cathode", "IN"),
    ]
    ref, change, gone = of_part(DIVIDER + DIODE, DIVIDER)
    assert (ref, change) == ("D1", "removed")
    assert [(d.what, d.before) for d in gone] == [(d.what, d.after) for d in told]


def test_of_another_part_of_the_catalogue_the_name_tells() -> None:
    other = DIODE.replace("1N4148", "1N5822")
    _, _, told = of_part(DIVIDER + DIODE, DIVIDER + other)
    assert told == [Difference("use", "1N4148", "1N5822")]


@pytest.mark.parametrize(("more", "told"), [
    ('package = "DO-214"', Difference("package", "DO-35", "DO-214")),
    ('terminals = { anode = "2" }', Difference("terminal of anode", "", "2")),
    ('forward_current = "50 mA"', Difference("forward_current", "150 mA", "50 mA")),
    ('tracks = { group = "reel", tolerance = "1 %" }', Difference("tracks to", "", "1 %")),
])  # fmt: skip
def test_what_is_stated_beside_the_name_is_told(more: str, told: Difference) -> None:
    _, _, found = of_part(
        DIVIDER + DIODE, DIVIDER + DIODE.replace('use = "1N', f'{more}\nuse = "1N')
    )
    assert told in found


def test_a_window_is_told_by_its_bounds() -> None:
    regulator = part(
        "U1", "fixed-regulator", "input = IN, output = OUT, ground = GND", 'use = "7805 type 1 A"'
    )
    own = regulator + 'output_capacitance = { min = "1 µF", max = "22 µF" }\n'
    _, _, (told,) = of_part(regulator, own)
    assert (told.what, told.after) == ("output_capacitance", "at least 1 µF, at most 22 µF")


def test_a_reversed_part_differs_in_its_pins() -> None:
    turned = part("D1", "diode", "anode = IN, cathode = OUT", 'use = "1N4148"')
    _, _, told = of_part(DIVIDER + DIODE, DIVIDER + turned)
    assert told == [Difference("pin anode", "OUT", "IN"), Difference("pin cathode", "IN", "OUT")]


def test_a_net_of_another_name_is_told_once() -> None:
    bleeder = resistor("R3", "OUT", "MID", 10) + resistor("R4", "MID", "GND", 10)
    told = found(DIVIDER + bleeder, DIVIDER + bleeder.replace("MID", "HALF"))
    assert told == Found([], [Difference("net", "MID", "HALF")], [])


def test_what_is_asked_of_the_supply_is_told_with_its_units() -> None:
    told = found(DIVIDER, DIVIDER, output='accuracy = "3 %"\nripple = "2 mV"')
    assert list(told.around) == [
        Difference("need.output.main.accuracy", "", "3 %"),
        Difference("need.output.main.ripple", "", "2 mV"),
    ]
