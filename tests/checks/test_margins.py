"""Margins against hand values: value, limit and margin of checks on small supplies."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove


def finding(text: str, check: str, subject: str) -> Finding:
    (found,) = (
        f
        for f in prove(read_text(text, "margins.toml")).findings
        if (f.id, f.subject) == (check, subject)
    )
    return found


def agrees(found: Finding, value: float, limit: float, sense: int, rel: float = 1e-6) -> None:
    """sense: 1 where the value must reach its limit, -1 where it must not exceed it."""
    assert found.value == pytest.approx(value, rel=rel)
    assert found.limit == pytest.approx(limit, rel=rel)
    assert found.margin == pytest.approx(sense * (found.value - found.limit), rel=1e-9)


def corners(*limits: tuple[float, float]) -> Iterable[tuple[float, ...]]:
    return itertools.product(*limits)


DIVIDER = supply(
    resistor("R1", "IN", "OUT", 1000, "1 %") + resistor("R2", "OUT", "GND", 1000, "2 %"),
    input=(9.0, 10.0, 12.0),
    output='line_regulation = "2 V"\naccuracy = "50 %"',
)
OHMS = ((990.0, 1010.0), (980.0, 1020.0))


def test_power_of_a_resistor() -> None:
    # Greatest where both are equal, so inside the limits: only samples come near it.
    at_corners = max((12 / (a + b)) ** 2 * b for a, b in corners(*OHMS))
    found = finding(DIVIDER, "stress.rating", "R2 rated_power")
    agrees(found, 12**2 / (4 * 990), 0.25, -1, rel=1e-4)
    assert found.value is not None
    assert found.value > at_corners


def test_voltage_of_a_resistor() -> None:
    worst = max(12 * a / (a + b) for a, b in corners(*OHMS))
    agrees(finding(DIVIDER, "stress.rating", "R1 rated_voltage"), worst, 200.0, -1)


def test_power_of_a_derated_resistor() -> None:
    # Film resistors: 0.6 of the power up to 125 °C (NASA MIL-STD-975M, appendix A 3.11).
    text = DIVIDER.replace('"none"', '"NASA MIL-STD-975M"')
    found = finding(text, "stress.rating", "R2 rated_power")
    assert found.limit == pytest.approx(0.6 * 0.25)


def test_power_of_a_resistor_in_warm_air() -> None:
    """Half of it at 112.5 °C, between 70 and 155 °C: IEC 60115-1, from memory."""
    warm = supply(
        resistor("R1", "IN", "OUT", 1000, "1 %") + resistor("R2", "OUT", "GND", 1000, "2 %"),
        input=(9.0, 10.0, 12.0),
        ambient=(20.0, 112.5),
    )
    assert finding(warm, "stress.rating", "R2 rated_power").limit == pytest.approx(0.125)


def test_reserve_is_the_margin_over_the_limit() -> None:
    found = finding(DIVIDER, "stress.rating", "R2 rated_power")
    assert found.reserve == pytest.approx(found.margin / 0.25)


def test_line_regulation_of_a_divider() -> None:
    # It passes half of the input's 2 V from nominal to greatest on.
    worst = max(2 * b / (a + b) for a, b in corners(*OHMS))
    agrees(finding(DIVIDER, "output.line-regulation", "main"), worst, 2.0, -1)


def test_accuracy_of_a_divider_over_its_input() -> None:
    worst = max(abs(v * b / (a + b) - 5.0) for v, a, b in corners((9.0, 12.0), *OHMS))
    agrees(finding(DIVIDER, "output.accuracy", "main"), worst, 2.5, -1)


def test_load_regulation_of_a_lead() -> None:
    text = supply(
        resistor("R1", "IN", "OUT", 1.0, "1 %") + resistor("R2", "OUT", "GND", 1e6),
        volts=(10.0, 10.0),
        amperes=(0.1, 0.6),
        output='load_regulation = "0.8 V"',
    )
    # 0.5 A more through 1.01 Ω; the megohm takes a millionth of it.
    found = finding(text, "output.load-regulation", "main")
    agrees(found, 0.505, 0.8, -1, rel=1e-5)


REFERENCE = part(
    "U1",
    "shunt-reference",
    "cathode = OUT, anode = GND, reference = OUT",
    'use = "431 type 1 %"',
)


def test_current_that_is_left_for_a_reference() -> None:
    text = supply(
        resistor("R1", "IN", "OUT", 1000, "1 %") + REFERENCE,
        input=(9.0, 10.0, 11.0),
        volts=(2.495, 2.495),
        amperes=(0.0, 0.004),
    )
    known = read_text(text, "reference.toml").circuit.part("U1").values
    # Lowest input, highest reference, highest resistance; the load takes 4 mA.
    worst = (9.0 - known["reference_voltage"].spread.high) / 1010 - 0.004
    found = finding(text, "headroom.reference-current", "U1")
    assert found.value == pytest.approx(worst, rel=0.01)
    assert found.limit == pytest.approx(known["minimum_current"].spread.high)
    assert found.where is not None
    assert found.where.input == 9.0
    assert found.where.loads["main"] == pytest.approx(0.004)


WATCHING = (
    part("U1", "fixed-regulator", "input = IN, output = OUT, ground = GND", 'use = "7805 type 1 A"')
    + part(
        "U2",
        "shunt-reference",
        "cathode = ALARM, anode = GND, reference = TAP",
        'use = "431 type 1 %"',
    )
    + resistor("R1", "OUT", "ALARM", 4700, "1 %")
    + resistor("R3", "TAP", "GND", 1000, "1 %")
)
"""A reference that watches the rail of a regulator and draws current when that goes too high."""


def watching(upper: float) -> list[Finding]:
    """What is found of one behind a resistor from the rail [Ω]; nothing where it is not asked."""
    text = supply(
        WATCHING + resistor("R2", "OUT", "TAP", upper, "1 %"),
        input=(9.0, 10.0, 11.0),
        volts=(5.0, 5.0),
        amperes=(0.0, 0.1),
    )
    proof = prove(read_text(text, "margins.toml"), only=("headroom",), suspecting=False)
    return [f for f in proof.findings if f.id == "headroom.reference-current"]


def test_a_reference_that_watches_is_asked_only_where_it_regulates() -> None:
    """Its pin has 2.04 V of 5.25 V behind 1.57 times its leg, 2.62 V behind an equal one: then at
    most (5.25 V - 1.9 V) / 4.65 kΩ = 0.72 mA flow of the 1 mA that it needs."""
    assert watching(1570.0) == []
    (found,) = watching(1000.0)
    assert found.verdict == "falls short"
    assert found.value is not None
    assert found.value < 0.72e-3


def test_a_rail_is_held_behind_its_shunt_too() -> None:
    """From the terminal a way leads to the cathode, but none that something else does not hold."""
    circuit = WATCHING.replace('"IN", output = "OUT"', '"IN", output = "INNER"')
    assert "INNER" in circuit
    text = supply(
        circuit
        + resistor("R4", "INNER", "OUT", 0.05, "1 %")
        + resistor("R2", "OUT", "TAP", 1570.0, "1 %"),
        input=(9.0, 10.0, 11.0),
        volts=(5.0, 5.0),
        amperes=(0.0, 0.1),
    )
    proof = prove(read_text(text, "margins.toml"), only=("headroom",), suspecting=False)
    assert not [f for f in proof.findings if f.id == "headroom.reference-current"]


REGULATOR = part(
    "U1",
    "fixed-regulator",
    "input = IN, output = OUT, ground = GND, case = HOT",
    'use = "7805 type 1 A"',
)
COOLED = supply(
    REGULATOR
    + part(
        "H1",
        "heat-sink",
        "face = HOT, air = AMBIENT",
        'resistance = { typical = "10 K/W", tolerance = "0 %" }',
    ),
    input=(9.0, 10.0, 12.0),
    amperes=(0.0, 0.5),
    ambient=(10.0, 40.0),
)


def test_junction_over_its_thermal_chain() -> None:
    known = read_text(COOLED, "cooled.toml").circuit.part("U1").values
    least_output = known["output_voltage"].spread.low
    power = (12.0 - least_output) * 0.5 + 12.0 * known["quiescent_current"].spread.high
    rise = power * (known["junction_to_case"].spread.high + 10.0)
    found = finding(COOLED, "heat.junction", "U1 junction_limit")
    assert found.value is not None
    assert found.value - 313.15 == pytest.approx(rise, rel=0.02)  # its load regulation is left out
    assert found.where is not None
    assert (found.where.input, found.where.ambient) == (12.0, pytest.approx(313.15))
    assert found.reserve == pytest.approx(found.margin / 100.0)  # 10 K are wanted, for 10 %


@pytest.mark.parametrize(
    ("policy", "verdict"),
    [
        ('reserve = "10 %"', "marginal"),
        ('reserve = "0 %"', "marginal"),  # a junction's reserve is stated by itself
        ('reserve = "0 %"\njunction_reserve = "4 K"', "holds"),
        ('reserve = "0 %"\njunction_reserve = "0 K"', "holds"),
    ],
)
def test_reserve_of_a_junction_is_in_kelvins(policy: str, verdict: str) -> None:
    text = COOLED.replace('"10 K/W"', '"15 K/W"').replace("[need.parts]", f"[need.parts]\n{policy}")
    found = finding(text, "heat.junction", "U1 junction_limit")
    assert found.margin == pytest.approx(4.5, abs=0.4)
    assert found.reserve == pytest.approx(found.margin / 100.0)
    assert found.verdict == verdict


def test_headroom_of_a_regulator_is_input_less_output_less_dropout() -> None:
    known = read_text(COOLED, "cooled.toml").circuit.part("U1").values
    across = 9.0 - known["output_voltage"].spread.high
    found = finding(COOLED, "headroom.series", "U1")
    assert found.value == pytest.approx(across, abs=0.15)  # what its load regulation leaves open
    assert found.limit == pytest.approx(known["dropout"].spread.high, rel=0.15)
    assert found.margin == pytest.approx(found.value - found.limit)
    assert found.where is not None
    assert found.where.loads["main"] == pytest.approx(0.5)


def test_sink_current_of_an_open_collector() -> None:
    text = supply(
        resistor("R1", "IN", "OUT", 10e3, "1 %")
        + resistor("R2", "IN", "LOW", 9e3)
        + resistor("R3", "LOW", "GND", 1e3)
        + part(
            "U1",
            "comparator",
            "plus = LOW, minus = GND, output = OUT, supply = IN, ground = GND",
            'use = "391 type"',
        ),
        volts=(10.0, 10.0),
    )
    found = finding(text, "headroom.sink-current", "U1")
    assert found.value == pytest.approx(10.0 / 9900, rel=0.03)
    assert found.limit == pytest.approx(6e-3)  # least sink current of the 393 type's datasheet
    assert found.verdict == "holds"


SENSED = """
[need.output.overload]
style = "trip"
carry = "0.8 A"
act_by = "1.2 A"
"""


def comparator(ref: str, limit: str) -> str:
    return part(
        ref,
        "comparator",
        f"plus = {limit}, minus = RETURN, output = ALARM, supply = IN, ground = GND",
        'use = "391 type"\noffset = { min = "-1 mV", max = "1 mV" }\n'
        'common_mode_error = { typical = "0 V/V", tolerance = "0 %" }',
    )


def tripping(*more: str) -> str:
    """A shunt of 0.1 Ω in the return, and a limit of 0.1 V: the trip acts at 1 A."""
    return supply(
        resistor("R1", "RETURN", "GND", 0.1, "2 %")
        + resistor("R2", "IN", "LIMIT", 990, "1 %")
        + resistor("R3", "LIMIT", "GND", 10, "1 %")
        + resistor("R4", "IN", "ALARM", 1e4)
        + resistor("R5", "IN", "OUT", 0.01)
        + comparator("U1", "LIMIT")
        + "".join(more),
        volts=(10.0, 10.0),
        amperes=(0.0, 0.5),
        output=SENSED,
    ).replace('{ plus = "OUT", minus = "GND" }', '{ plus = "OUT", minus = "RETURN" }')


SHUNT, OFFSET = (0.098, 0.102), (-1e-3, 1e-3)


def trips(upper: float, lower: float, tolerance: float) -> list[float]:
    """Thresholds of one comparator at all corners of its divider, its offset and the shunt."""
    share = (1 - tolerance, 1 + tolerance)
    return [
        (10 * lower * c / (upper * b + lower * c) + e) / r
        for b, c, r, e in corners(share, share, SHUNT, OFFSET)
    ]


def test_both_ends_of_a_trip_are_the_corners_of_its_parts() -> None:
    found = trips(990, 10, 0.01)
    agrees(finding(tripping(), "overload.carries", "main"), min(found), 0.8, 1, rel=2e-3)
    agrees(finding(tripping(), "overload.acts", "main"), max(found), 1.2, -1, rel=2e-3)


def test_the_wider_of_two_comparators_decides_though_it_is_typically_the_later() -> None:
    text = tripping(
        resistor("R6", "IN", "SECOND", 9250, "6 %"),
        resistor("R7", "SECOND", "GND", 100, "6 %"),
        comparator("U2", "SECOND"),
    )
    first, second = trips(990, 10, 0.01), trips(9250, 100, 0.06)
    assert min(second) < min(first)
    agrees(finding(text, "overload.carries", "main"), min(second), 0.8, 1, rel=2e-3)
