"""Single faults of a small supply, worked by hand; and of one with a guard that has to act.

An adjustable regulator holds Vr between its output and its adjust pin, so Vout = Vr (1 + R2/R1),
and gives the input less its dropout where it cannot hold it (datasheet of the 317 type).
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from surveys.supplies import alternating, part, resistor, supply, survey_of

from railwright.circuit.design import read_text
from railwright.prove.proof import FaultRow, Proof
from railwright.prove.run import prove
from railwright.surveys.depth import DEEP
from railwright.surveys.fault_spread import faults_over_the_spread
from railwright.surveys.single_faults import single_faults

INPUT, REFERENCE, DROPOUT = 12.0, 1.25, 1.5
UPPER, LOWER = 120.0, 360.0
LEAST, MOST = 0.01, 0.1
"""A; loads."""
BRIDGE = 0.1
"""Ω of a short."""

REGULATOR = part(
    "U1",
    "adjustable-regulator",
    "input = IN, output = OUT, adjust = ADJ",
    f"""
reference = {{ typical = "{REFERENCE} V", tolerance = "0 %" }}
adjust_current = {{ typical = "0 A", tolerance = "0 %" }}
line_regulation = {{ typical = "0 %/V", tolerance = "0 %" }}
load_regulation = {{ typical = "0.0001 %", tolerance = "0 %" }}
rated_current = "1.5 A"
dropout = {{ typical = "{DROPOUT} V", tolerance = "0 %" }}
dropout_current = {{ typical = "1 A", tolerance = "0 %" }}
dropout_resistance = {{ typical = "0 Ω", tolerance = "0 %" }}
dropout_drift = {{ typical = "0 mV/K", tolerance = "0 %" }}
current_limit = {{ typical = "2 A", tolerance = "0 %" }}
junction_to_case = {{ typical = "5 K/W", tolerance = "0 %" }}
junction_to_ambient = {{ typical = "20 K/W", tolerance = "0 %" }}
junction_limit = "125 °C"
difference_maximum = "40 V"
""",
)


def held(parts: str, never_above: str, **more: object) -> Proof:
    text = supply(
        parts,
        input=(INPUT, INPUT, INPUT),
        amperes=(LEAST, MOST),
        output=f'never_above = "{never_above}"',
        **more,  # type: ignore[arg-type]
    )
    return prove(read_text(text, "faults.toml"))


@cache
def plain(never_above: str) -> Proof:
    divider = resistor("R1", "OUT", "ADJ", UPPER) + resistor("R2", "ADJ", "GND", LOWER)
    return held(REGULATOR + divider, never_above)


def row(proof: Proof, ref: str, mode: str) -> FaultRow:
    (found,) = (r for r in proof.faults if (r.part, r.mode) == (ref, mode))
    return found


def set_to(upper: float, lower: float) -> float:
    return REFERENCE * (1.0 + lower / upper)


SHORTED = INPUT - BRIDGE * (LEAST + INPUT / (UPPER + LOWER))
"""The output with the least load, where the regulator is shorted."""


@pytest.mark.parametrize(
    ("ref", "mode", "highest", "severity"),
    [
        ("R2", "open", INPUT - DROPOUT, "I"),
        ("R1", "short", INPUT - DROPOUT, "I"),
        ("U1", "short input-output", SHORTED, "I"),
        ("R1", "drift", set_to(UPPER / 2.0, LOWER), "I"),
        ("R2", "drift", set_to(UPPER, 2.0 * LOWER), "I"),
        ("U1", "drift", 1.2 * set_to(UPPER, LOWER), "III"),
        ("R2", "short", REFERENCE, "III"),
        ("R1", "open", REFERENCE, "III"),
        ("U1", "open output", 0.0, "III"),
    ],
)
def test_every_mode_brings_the_output_where_it_must(
    ref: str, mode: str, highest: float, severity: str
) -> None:
    found = row(plain("7 V"), ref, mode)
    assert found.highest["main"] == pytest.approx(highest, rel=2e-3, abs=2e-3)
    assert found.severity == severity


def test_falls_short_with_the_part_that_lifts_the_output_most() -> None:
    (found,) = (f for f in plain("7 V").findings if f.id == "faults.never-above")
    assert (found.subject, found.verdict) == ("main", "falls short")
    assert found.value == pytest.approx(SHORTED, rel=1e-3)
    assert found.margin == pytest.approx(7.0 - SHORTED, rel=1e-3)
    assert (found.causes[0].part, found.causes[0].value) == ("U1", "short input-output")
    assert {cause.part for cause in found.causes} == {"U1", "R1", "R2"}


def test_holds_where_the_load_survives_the_input() -> None:
    (found,) = (f for f in plain("14 V").findings if f.id == "faults.never-above")
    assert found.verdict == "holds"
    assert row(plain("14 V"), "U1", "short input-output").severity == "III"


def test_shares_are_those_of_the_kind() -> None:
    shares = [r.share for r in plain("7 V").faults if r.part == "R1"]
    assert sum(shares) == pytest.approx(1.0, abs=0.005)


def test_over_the_spread_the_worst_parts_stand_beside_the_one_that_fails() -> None:
    """5 % resistors: Vr (1 + 2 R2 1.05 / (R1 0.95)) with R2 drifted to twice its value."""
    divider = resistor("R1", "OUT", "ADJ", UPPER, "5 %") + resistor(
        "R2", "ADJ", "GND", LOWER, "5 %"
    )
    text = supply(
        REGULATOR + divider,
        input=(INPUT, INPUT, INPUT),
        amperes=(LEAST, MOST),
        output='never_above = "14 V"',
    )
    survey = replace(survey_of(text), depth=DEEP)
    modes = survey.once(single_faults).modes
    found = {modes[each.mode].ref + modes[each.mode].words: each.value
             for each in survey.once(faults_over_the_spread)["main"]}  # fmt: skip
    assert found["R2drift"] == pytest.approx(set_to(0.95 * UPPER, 2.0 * 1.05 * LOWER), rel=2e-3)
    assert found["R1drift"] == pytest.approx(set_to(0.5 * 0.95 * UPPER, 1.05 * LOWER), rel=2e-3)
    assert not survey_of(text).once(faults_over_the_spread)


def guard(zener: str) -> str:
    """A regulator of 5 V behind a fuse, and a thyristor that shorts its output above a zener."""
    return "".join(
        [
            part("F1", "fuse", "one = IN, two = FUSED", 'use = "fuse F 1 A"'),
            part(
                "U1",
                "fixed-regulator",
                "input = FUSED, output = OUT, ground = GND",
                'use = "7805 type 1 A"',
            ),
            part(
                "C1",
                "capacitor",
                "plus = OUT, minus = GND",
                'use = "electrolytic 100 µF 35 V low-ESR"',
            ),
            part("D1", "zener", "anode = FIRE, cathode = OUT", f'use = "{zener}"'),
            resistor("R1", "FIRE", "GND", 100.0),
            part(
                "Q1",
                "thyristor",
                "anode = OUT, cathode = GND, gate = FIRE",
                'use = "thyristor 8 A"',
            ),
        ]
    )


@cache
def guarded() -> Proof:
    return held(guard("zener 6V2 0.5 W"), "9 V")


class TestGuard:
    def test_holds_the_output_down(self) -> None:
        """It fires at 6.2 V and about 0.9 V at the gate, and what is left at a zener's 30 mA."""
        (found,) = (f for f in guarded().findings if f.id == "faults.never-above")
        assert found.verdict == "holds"
        assert row(guarded(), "U1", "short input-output").highest["main"] < 8.0

    def test_fires_and_blows_the_fuse(self) -> None:
        """Unloaded by any limit, the source drives hundreds of amperes through a fuse of 1 A."""
        seen = row(guarded(), "U1", "short input-output").seen
        assert "Q1 fires" in seen
        assert "F1 melts" in seen

    def test_fails_hidden(self) -> None:
        """A guard that has failed by itself is not seen: nothing of the output tells."""
        found = row(guarded(), "Q1", "open anode")
        assert (found.severity, found.effect) == ("IV", "none")
        assert "hidden" in found.seen

    def test_without_its_thyristor_falls_short(self) -> None:
        text = guard("zener 6V2 0.5 W")
        bare = text[: text.index('[[part]]\nref = "D1"')]
        (found,) = (f for f in held(bare, "9 V").findings if f.id == "faults.never-above")
        assert found.verdict == "falls short"
        assert (found.causes[0].part, found.causes[0].value) == ("U1", "short input-output")
        assert found.value == pytest.approx(INPUT, abs=0.05)


def test_a_zener_that_is_shorted_burns_its_resistor() -> None:
    """12 V across 100 Ω make 1.44 W, more than twice 0.25 W: by hand."""
    parts = resistor("R1", "IN", "OUT", 100.0) + part(
        "D1", "zener", "anode = GND, cathode = OUT", 'use = "zener 5V1 1 W"'
    )
    text = supply(
        parts,
        input=(INPUT, INPUT, INPUT),
        amperes=(0.0, 0.01),
        output='never_above = "15 V"',
    )
    proof = prove(read_text(text, "faults.toml"))
    (found,) = (f for f in proof.findings if f.id == "faults.contained")
    assert found.verdict == "marginal"
    assert "R1 sees 1.4" in found.because
    assert ("R1", "rated_power") in {(cause.part, cause.value) for cause in found.causes}
    assert row(proof, "D1", "short").severity == "II"
    assert "R1 sees 1.4" in row(proof, "D1", "short").seen


def test_what_a_fault_takes_beyond_its_voltage_is_told_as_the_table_tells_it() -> None:
    """The 12 V of the input on a capacitor of 10 V, where the regulator of 5 V is shorted."""
    parts = REGULATOR + resistor("R1", "OUT", "ADJ", UPPER) + resistor("R2", "ADJ", "GND", LOWER)
    rated = 'use = "electrolytic 10 µF 25 V low-ESR"\nrated_voltage = "10 V"'
    parts += part("C1", "capacitor", "plus = OUT, minus = GND", rated)
    proof = held(parts, "14 V")
    (found,) = (f for f in proof.findings if f.id == "faults.contained")
    assert (found.verdict, found.subject) == ("marginal", "C1")
    assert "with U1 short input-output C1 sees 12 V of 10 V" in found.because
    grave = row(proof, "U1", "short input-output")
    assert grave.severity == "II"
    assert "C1 (rated voltage)" in grave.seen


@pytest.mark.parametrize("never_above", ["7 V", "14 V"])
def test_the_finding_holds_where_no_row_of_the_table_is_of_the_second_class(
    never_above: str,
) -> None:
    proof = plain(never_above)
    (found,) = (f for f in proof.findings if f.id == "faults.contained")
    assert found.verdict == "holds"
    assert "II" not in {each.severity for each in proof.faults}


def test_behind_a_rectifier_a_shorted_regulator_gives_the_crest_of_the_mains() -> None:
    """12 V effective at most: sqrt(2) x 12 V, less two silicon junctions at ten milliamperes."""
    bridge = part(
        "B1", "bridge-rectifier", "first = L, second = N, plus = IN, minus = GND",
        'use = "bridge 1.5 A 400 V"',
    )  # fmt: skip
    store = part(
        "C1", "capacitor", "plus = IN, minus = GND", 'use = "electrolytic 1000 µF 25 V low-ESR"'
    )
    divider = resistor("R1", "OUT", "ADJ", UPPER) + resistor("R2", "ADJ", "GND", LOWER)
    text = supply(
        bridge + store + REGULATOR + divider,
        input=(10.0, 11.0, 12.0),
        amperes=(LEAST, MOST),
        output='never_above = "18 V"',
    )
    proof = prove(read_text(alternating(text, 0.5), "faults.toml"), only=("faults",))
    (found,) = (f for f in proof.findings if f.id == "faults.never-above")
    assert found.verdict == "holds"
    assert found.value == pytest.approx(12.0 * 2.0**0.5 - 1.4, abs=0.3)
    assert found.causes[0].part == "U1"
    assert found.where is not None
    assert found.where.input == 12.0
