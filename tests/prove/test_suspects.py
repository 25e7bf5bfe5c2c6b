"""Values that look wrong: each part that alone would mend a rail, and none where nothing fails."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.run import prove

NAME = "divider.toml"


def told(
    upper: float, lower: float, tolerance: str = "1 %", accuracy: str = "5 %"
) -> dict[str, str]:
    """Ref -> what stands for it instead, of a divider that is to make 5 V out of 10 V."""
    text = supply(
        resistor("R1", "IN", "OUT", upper, tolerance)
        + resistor("R2", "OUT", "GND", lower, tolerance),
        output=f'accuracy = "{accuracy}"',
    )
    found = [f for f in prove(read_text(text, NAME)).findings if f.id == "design.value"]
    assert all(f.verdict == "falls short" and f.causes[0].part == f.subject for f in found)
    return {f.subject: f.causes[0].instead for f in found}


def test_both_halves_of_a_divider_may_be_the_wrong_one() -> None:
    # 5 V of 10 V by equal halves, so the other half of each.
    assert told(1000.0, 1500.0) == {"R1": "1.5 kΩ instead of 1 kΩ", "R2": "1 kΩ instead of 1.5 kΩ"}


def test_a_decade_counts_too() -> None:
    assert told(1000.0, 10000.0)["R2"] == "1 kΩ instead of 10 kΩ"


def test_a_plain_decade_is_told_rather_than_a_value_that_mends_as_well() -> None:
    # 4 V to 6 V are allowed: from 667 Ω to 1.5 kΩ.
    assert told(1000.0, 10000.0, accuracy="20 %")["R2"] == "1 kΩ instead of 10 kΩ"


def test_of_many_values_that_mend_the_middle_one_is_told() -> None:
    # As much allowed: R2 from 667 Ω to 1.5 kΩ, or R1 from 2 kΩ to 4.5 kΩ.
    wrong = told(1000.0, 3000.0, accuracy="20 %")
    assert wrong == {"R1": "3 kΩ instead of 1 kΩ", "R2": "1 kΩ instead of 3 kΩ"}


@pytest.mark.parametrize("tolerance", ["1 %", "20 %"])
def test_right_values_are_under_no_suspicion(tolerance: str) -> None:
    assert told(1000.0, 1000.0, tolerance) == {}


def test_a_wide_tolerance_is_told_where_no_value_is_wrong() -> None:
    # 10 V x 1.11 / (1.11 + 0.99) is 0.29 V too high, of 0.25 V allowed; 2.2 % make it 0.08 V.
    text = supply(
        resistor("R1", "IN", "OUT", 1000, "1 %") + resistor("R2", "OUT", "GND", 1000, "11 %"),
        output='accuracy = "5 %"',
    )
    found = [f for f in prove(read_text(text, NAME)).findings if f.id == "design.value"]
    assert [f.subject for f in found] == ["R2"]


def test_a_regulator_of_another_voltage_is_told() -> None:
    pins = "input = IN, output = OUT, ground = GND"
    text = supply(
        part("U1", "fixed-regulator", pins, 'use = "7809 type 1 A"'),
        input=(18.0, 18.0, 18.0),
        output='accuracy = "6 %"',
        amperes=(0.01, 0.01),
    )
    found = [f for f in prove(read_text(text, NAME)).findings if f.id == "design.value"]
    assert [(f.subject, f.causes[0].instead) for f in found] == [("U1", "5 V instead of 9 V")]


def test_a_leaky_diode_is_told() -> None:
    # Beside 50 kΩ and at 70 °C a large Schottky diode leaks enough to tell.
    text = supply(
        resistor("R1", "IN", "OUT", 100000)
        + resistor("R2", "OUT", "GND", 100000)
        + part("D1", "diode", "anode = GND, cathode = OUT", 'use = "1N5822"'),
        output='accuracy = "5 %"',
        ambient=(70.0, 70.0),
    )
    found = [f for f in prove(read_text(text, NAME)).findings if f.id == "design.value"]
    assert ("D1", "a diode that leaks less") in {(f.subject, f.causes[0].instead) for f in found}


def test_a_wire_has_no_code_that_could_be_misread() -> None:
    # Either leg alone would mend it; the upper one is a long wire, not a part read off its bands.
    text = supply(
        part(
            "W1",
            "wire",
            "one = IN, two = OUT",
            'resistance = { typical = "1 kΩ", tolerance = "1 %" }',
        )
        + resistor("R2", "OUT", "GND", 1500, "1 %"),
        output='accuracy = "5 %"',
    )
    found = [f for f in prove(read_text(text, NAME)).findings if f.id == "design.value"]
    assert {f.subject for f in found} == {"R2"}


def test_a_diode_that_leaks_into_a_regulators_output_is_told() -> None:
    # What D1 leaks in reverse from 30 V feeds the output in the place of U1, which then has less
    # than its least load.
    text = supply(
        part("U1", "adjustable-regulator", "input = IN, output = OUT, adjust = ADJ",
             'use = "317 type 1.5 A"')
        + resistor("R1", "OUT", "ADJ", 110, "1 %")
        + resistor("R2", "ADJ", "GND", 330, "1 %")
        + part("D1", "diode", "anode = OUT, cathode = IN", 'use = "1N5822"'),
        input=(30.0, 30.0, 30.0),
        ambient=(70.0, 70.0),
    )  # fmt: skip
    proof = prove(read_text(text, NAME), only=["output.minimum-load"])
    assert "falls short" in {f.verdict for f in proof.findings if f.id == "output.minimum-load"}
    found = [f for f in proof.findings if f.id == "design.value"]
    assert [(f.subject, f.causes[0].instead) for f in found] == [("D1", "a diode that leaks less")]
    sound = text.replace("1N5822", "1N4002")
    assert {f.id for f in prove(read_text(sound, NAME), only=["output.minimum-load"]).findings
            if f.verdict == "falls short"} == set()  # fmt: skip
