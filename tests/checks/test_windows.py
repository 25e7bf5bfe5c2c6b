"""What sits in a published window: against sums, parallel impedances and losses by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.check import Worst
from railwright.checks.windows import PublishedWindow
from railwright.surveys.extremes import Extreme, explore
from railwright.surveys.situations import AS_SET

CHECK = PublishedWindow()


def capacitor(ref: str, plus: str, use: str, more: str = "", minus: str = "GND") -> str:
    return part(ref, "capacitor", f"plus = {plus}, minus = {minus}", f'use = "{use}"\n{more}')


def regulated(use: str, kind: str = "low-dropout-regulator", more: str = "") -> str:
    pins = "input = IN, output = OUT, ground = GND"
    return part("U1", kind, pins, f'use = "{use}"\n{more}')


def found(parts: str, subject: str, loads: str = "") -> Extreme:
    survey = survey_of(supply(parts, input=(9.0, 9.0, 9.0), output=loads))
    assert subject in CHECK.subjects(survey)
    assert not CHECK.missing(survey, subject)
    survey.depth = replace(survey.depth, samples=16)
    question = {"": lambda view: CHECK.answer(view, subject)}
    extreme = explore(survey, AS_SET, question, 1)[""]
    worst = Worst(extreme.value, extreme.limit, extreme.margin, "there")
    assert subject.split()[0] in CHECK.because(survey, subject, worst)
    return extreme


OLD = regulated("2940 type 5 V 1 A")  # 22 µF at least, 0.1 to 1 Ω
EXACT_ESR = 'esr = { typical = "0.2 Ω", tolerance = "10 %" }'
TANK = capacitor("C1", "OUT", "electrolytic 47 µF 25 V low-ESR", EXACT_ESR)
SMALL = capacitor("C2", "OUT", "electrolytic 10 µF 25 V low-ESR", 'esr = "0.5 Ω"')
EXACT_WIRE = 'resistance = { typical = "4 mΩ", tolerance = "0 %" }'
OUTPUT, RESISTANCE = "U1 output_capacitance", "U1 output_series_resistance"


def test_one_capacitor_as_it_is_marked() -> None:
    extreme = found(OLD + TANK, OUTPUT)
    assert (extreme.value, extreme.limit) == (pytest.approx(47e-6), pytest.approx(22e-6))
    assert extreme.margin == pytest.approx(47e-6 - 22e-6)


def test_the_very_value_that_is_published_will_do() -> None:
    just = capacitor("C1", "OUT", "electrolytic 22 µF 25 V low-ESR")
    assert found(OLD + just, OUTPUT).margin == pytest.approx(0.0, abs=1e-15)
    assert CHECK.wanted(survey_of(supply(OLD + just))) == 0.0


@pytest.mark.parametrize(("beside", "margin"), [("100 nF", 0.0), ("22 µF", -22e-6)])
def test_what_is_lost_in_the_digits_of_a_bound_exceeds_nothing(beside: str, margin: float) -> None:
    """2200 µF at most: 100 nF for the edges beside so much are 5 in 100 000."""
    own = 'output_capacitance = { min = "22 µF", max = "2200 µF" }'
    tank = capacitor("C1", "OUT", "electrolytic 2200 µF 25 V low-ESR")
    more = part(
        "C2",
        "capacitor",
        "plus = OUT, minus = GND",
        f"""
        capacitance = "{beside}"
        esr = "10 mΩ"
        leakage = "1 µA"
        rated_voltage = "50 V"
        options = {{ dielectric = "film" }}
    """,
    )
    extreme = found(regulated("2940 type 5 V 1 A", more=own) + tank + more, OUTPUT)
    assert extreme.margin == pytest.approx(margin, abs=1e-9)


def test_capacitors_in_parallel_add() -> None:
    assert found(OLD + TANK + SMALL, OUTPUT).value == pytest.approx(57e-6)


def test_no_capacitor_falls_short() -> None:
    extreme = found(OLD, OUTPUT)
    assert (extreme.value, extreme.margin) == (0.0, pytest.approx(-22e-6))


def test_a_capacitor_on_another_net_does_not_count() -> None:
    elsewhere = resistor("R1", "OUT", "FAR", 10.0) + capacitor(
        "C1", "FAR", "electrolytic 47 µF 25 V low-ESR"
    )
    assert found(OLD + elsewhere, OUTPUT).value == 0.0


def test_series_resistance_of_one_capacitor_with_the_way_to_it() -> None:
    assert found(OLD + TANK, RESISTANCE).value == pytest.approx(0.18)
    way = part("W1", "wire", "one = BACK, two = GND", EXACT_WIRE)
    behind = capacitor("C1", "NEAR", "electrolytic 47 µF 25 V low-ESR", EXACT_ESR, "BACK")
    extreme = found(OLD + resistor("R1", "OUT", "NEAR", 0.9) + way + behind, RESISTANCE)
    assert extreme.value == pytest.approx(0.9 + 0.004 + 0.22, rel=1e-9)
    assert extreme.margin < 0


def test_a_ceramic_capacitor_beside_it_takes_from_the_series_resistance() -> None:
    """Impedances at 100 kHz in parallel, the electrolytic one at its limits."""
    exact = 'capacitance = { typical = "10 µF", tolerance = "0 %" }\n' \
            'esr = { typical = "5 mΩ", tolerance = "0 %" }\nrated_voltage = "50 V"\n' \
            'leakage = { typical = "1 nA", tolerance = "0 %" }\n' \
            'options = { dielectric = "film" }'  # fmt: skip
    ceramic = part("C2", "capacitor", "plus = OUT, minus = GND", exact)
    electrolytic = TANK.replace(EXACT_ESR, 'esr = { typical = "0.1 Ω", tolerance = "0 %" }')
    omega = 2 * 3.141592653589793 * 100e3

    def together(farads: float) -> float:
        one, other = 0.1 - 1j / (omega * farads), 0.005 - 1j / (omega * 10e-6)
        return (one * other / (one + other)).real

    least = min(together(c * 47e-6) for c in (0.8, 1.2))
    extreme = found(OLD + electrolytic + ceramic, RESISTANCE)
    assert extreme.value == pytest.approx(least, rel=1e-6)
    assert extreme.value < 0.1 == pytest.approx(extreme.limit)


def test_class_two_counts_with_what_bias_leaves_of_it() -> None:
    """At 3.3 V of 6.3 V it has lost what q = C v / sqrt(1 + (v/Vk)²) says; 60 % at 6.3 V."""
    ceramic = capacitor("C1", "OUT", "ceramic 1 µF 50 V class 2",
                        'rated_voltage = "6.3 V"\nbias_loss = "60 %"')  # fmt: skip
    circuit = regulated("ldo CMOS 3.3 V 0.25 A") + ceramic
    known = survey_of(supply(circuit)).fixture.circuit.part("C1").values
    loss, capacitance = known["bias_loss"].spread.high, known["capacitance"].spread.typical
    knee = (1 - loss) ** (-2 / 3) - 1
    extreme = found(circuit, OUTPUT)
    volts = 3.3  # less or more by the regulator's own tolerance
    left = capacitance * (1 + knee * (volts / 6.3) ** 2) ** -1.5
    assert extreme.value == pytest.approx(left, rel=0.04)
    assert extreme.margin < -0.3e-6


def test_class_two_counts_as_marked_where_it_loses_no_more_than_a_fifth() -> None:
    # At 3.3 V of 50 V, and 25 °C: what is marked 1 µF will do where 1 µF is published.
    extreme = found(regulated("ldo CMOS 3.3 V 0.25 A")
                    + capacitor("C1", "OUT", "ceramic 1 µF 50 V class 2"), OUTPUT)  # fmt: skip
    assert extreme.limit == pytest.approx(1e-6)
    assert extreme.margin == pytest.approx(0.0, abs=1e-12)


def test_the_load_counts_with_what_it_may_bring() -> None:
    loads = '[[need.output.load]]\nkind = "resistive"\ncapacitance = { min = "1 µF", max = "2 mF" }'
    step_down = part(
        "U1",
        "step-down-regulator",
        "input = IN, switch = SW, ground = GND, feedback = OUT",
        'use = "step-down 150 kHz 3 A"',
    )
    stage = step_down + part("L1", "inductor", "one = SW, two = OUT", 'use = "inductor 68 µH 3 A"')
    stage += part("D1", "diode", "anode = GND, cathode = SW", 'use = "1N5822"')
    extreme = found(stage + TANK, OUTPUT, loads)
    assert extreme.value == pytest.approx(47e-6 + 2e-3)
    assert extreme.limit == pytest.approx(820e-6)
    # With that load away, and the one of 1 µF there, it is too little.
    assert found(stage + TANK, OUTPUT).margin == pytest.approx(47e-6 - 82e-6)
    coil = found(stage + TANK, "U1 inductance")
    assert coil.margin == pytest.approx(68e-6 - 22e-6)


SHUNT = resistor("R1", "IN", "OUT", 330) + part(
    "U1", "shunt-reference", "cathode = OUT, anode = GND, reference = OUT", 'use = "431 type 1 %"'
)


@pytest.mark.parametrize(("use", "margin"), [
    ("", 1e-9),
    ("electrolytic 47 µF 25 V low-ESR", 47e-6 - 10e-6),
    ("film 100 nF 63 V", 100e-9 - 10e-6),
])  # fmt: skip
def test_a_reference_wants_little_or_much(use: str, margin: float) -> None:
    parts = SHUNT + (capacitor("C1", "OUT", use) if use else "")
    assert found(parts, "U1 small_capacitance").margin == pytest.approx(margin)


def test_what_its_datasheet_asks_may_be_unknown() -> None:
    survey = survey_of((Path(__file__).parents[1] / "data" / "night_lamp.toml").read_text("utf-8"))
    assert CHECK.subjects(survey) == ["U1"]
    assert "State what its datasheet does of input_capacitance" in CHECK.missing(survey, "U1")
