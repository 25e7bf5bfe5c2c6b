"""What pins see in other orders of the rails: by the laws of Ohm and of the voltages around."""

from __future__ import annotations

import pytest
from surveys.supplies import gate, part, resistor, supply, survey_of

from railwright.checks.rail_order import RailOrder

SINK = 'use = "heat sink 9 K/W"'


def found(parts: str, volts: float = 12.0, load: str = "") -> dict[str, str]:
    text = supply(parts, input=(18.0, 18.0, 18.0), volts=(volts, volts), output=load)
    answer = RailOrder().look(survey_of(text))
    assert answer.looked
    assert all(fault.proven for fault in answer.faults)
    return {fault.subject: fault.because for fault in answer.faults}


def regulated(farads: str, ahead: str = "100 nF", use: str = "7812 type 1 A") -> str:
    def capacitor(ref: str, net: str, value: str) -> str:
        more = f'use = "film 100 nF 63 V"\ncapacitance = "{value}"'
        return part(ref, "capacitor", f"plus = {net}, minus = GND", more)

    pins = "input = IN, output = OUT, ground = GND"
    return (
        part("U1", "fixed-regulator", pins, f'use = "{use}"')
        + capacitor("C1", "IN", ahead)
        + capacitor("C2", "OUT", farads)
    )


def diode(anode: str, cathode: str) -> str:
    return part("D1", "diode", f"anode = {anode}, cathode = {cathode}", 'use = "1N4002"')


def with_load(farads: str, kind: str = "resistive") -> str:
    return (
        f'[[need.output.load]]\nkind = "{kind}"\ncapacitance = {{ min = "0 F", max = "{farads}" }}'
    )


@pytest.mark.parametrize(("parts", "volts", "load"), [
    (regulated("10 µF"), 12.0, ""),
    (regulated("1 mF") + diode("OUT", "IN"), 12.0, ""),
    (regulated("1 mF", use="7805 type 1 A"), 5.0, ""),
    (regulated("1 mF", ahead="2.2 mF"), 12.0, ""),
    (regulated("1 µF"), 12.0, with_load("20 µF")),
], ids=["little", "diode back", "low", "an input that lasts", "little of the load"])  # fmt: skip
def test_a_regulator_stands_it(parts: str, volts: float, load: str) -> None:
    assert found(parts, volts, load) == {}


@pytest.mark.parametrize(("parts", "load", "told"), [
    (regulated("1 mF"), "", "1 mF at its output still holds 12"),
    (regulated("1 mF") + diode("IN", "OUT"), "", "1 mF at its output"),
    (regulated("1 µF"), with_load("470 µF"), "471 µF at its output"),
    (regulated("1 µF", "2.2 mF"), with_load("0 F", "battery"), "the load of main still holds"),
], ids=["shorted input", "diode reversed", "load", "battery"])  # fmt: skip
def test_a_regulator_does_not_stand_it(parts: str, load: str, told: str) -> None:
    assert told in found(parts, load=load)["U1"]


@pytest.mark.parametrize(("farads", "more", "unknown"), [
    ("2.2 mF", "", True),
    ("470 µF", "", False),
    ("2.2 mF", 'reverse_conductance = "0 A/V"\n', False),
], ids=["much", "little", "blocks"])  # fmt: skip
def test_what_a_diode_inside_stands_is_not_known(farads: str, more: str, unknown: bool) -> None:
    use = 'use = "2940 type 5 V 1 A"\n'
    parts = regulated(farads, use="2940 type 5 V 1 A").replace(use, use + more)
    parts = parts.replace("fixed-regulator", "low-dropout-regulator")
    assert more in parts
    answer = RailOrder().look(survey_of(supply(parts, input=(9.0,) * 3, volts=(5.0, 5.0))))
    assert [(fault.subject, fault.proven) for fault in answer.faults] == [("U1", False)] * unknown


FIVE = part("U5", "fixed-regulator", "input = IN, output = V5, ground = GND",
            'use = "78L05 type 0.1 A"')  # fmt: skip


def on_five(ref: str, a: str, output: str) -> str:
    return gate(ref, a, a, output).replace('supply = "IN"', 'supply = "V5"')


def test_an_input_behind_too_small_a_resistance() -> None:
    """18 V less 0.6 V of the clamp: 10 mA through 1.74 kΩ."""
    for ohms, short in ((1700.0, True), (1780.0, False)):
        parts = FIVE + on_five("U2", "UP", "OUT") + resistor("R1", "IN", "UP", ohms)
        because = found(parts)
        assert ("U2" in because) == short
        if short:
            assert "While V5 is not up, IN can drive pin a of U2 through R1" in because["U2"]


def test_a_rail_that_feeds_the_supply_is_down_with_it_or_not() -> None:
    # Its own rail, and one made from it, bring nothing while it is down; one beside it does.
    own = FIVE + on_five("U2", "V5", "OUT")
    assert found(own) == {}
    beside = part("U6", "fixed-regulator", "input = IN, output = V9, ground = GND",
                  'use = "78L09 type 0.1 A"')  # fmt: skip
    parts = beside + FIVE + on_five("U2", "V9", "OUT")
    assert "V9 can drive pin a of U2 beyond" in found(parts)["U2"]
    behind = beside.replace('input = "IN"', 'input = "V5"')
    assert found(parts.replace(beside, behind)) == {}


def test_an_output_of_another_rail_drives_through_its_own_resistance() -> None:
    parts = FIVE + gate("U3", "IN", "IN", "MID") + on_five("U2", "MID", "OUT")
    assert "U2" in found(parts)
    behind = parts.replace('a = "MID", b = "MID"', 'a = "FAR", b = "FAR"')
    assert found(behind + resistor("R1", "MID", "FAR", 10e3)) == {}
