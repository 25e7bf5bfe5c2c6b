"""What a converter asks of a limited source while that comes up, against the power it passes on."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.source import SourceOverload, _drawn

STARTS, VOLTS, AMPERES = 8.0, 5.0, 3.0


def stage(limit: str, more: str = "") -> str:
    """24 V to 5 V at 3 A, from a source of so much current."""
    pins = "input = IN, switch = SW, ground = GND, feedback = FB, disable = GND"
    starts = f'supply_minimum = {{ typical = "{STARTS} V", tolerance = "0 %" }}\n'
    coil = (
        'inductance = "68 µH"\nwinding_resistance = "10 mΩ"\nsaturation_current = "10 A"\n'
        'rated_current = "5 A"'
    )
    text = supply(
        part("U1", "step-down-regulator", pins, f'use = "step-down 150 kHz 3 A"\n{starts}{more}')
        + part("D1", "diode", "anode = GND, cathode = SW", 'use = "1N5822"')
        + part("L1", "inductor", "one = SW, two = OUT", coil)
        + resistor("R1", "OUT", "FB", 3070)
        + resistor("R2", "FB", "GND", 1000),
        input=(24.0, 24.0, 24.0),
        amperes=(0.0, AMPERES),
    )
    source = f'limit = {{ current = "{limit}", style = "constant-current" }}\n[[need.output]]'
    return text.replace("[[need.output]]", source, 1)


def test_drawn_current_is_the_power_over_the_voltage() -> None:
    """P = V I: what is drawn times the source's voltage is what comes out and what is lost.

    Lost is between a tenth and half of what comes out: switch 1.2 V and diode 0.5 V at 3 A.
    """
    drawn = list(_drawn(survey_of(stage("1 A")), STARTS))
    assert [volts for volts, _ in drawn] == pytest.approx([24 - 4 * k for k in range(5)])
    for volts, current in drawn:
        assert 1.1 < volts * current / (VOLTS * AMPERES) < 1.5
    assert drawn[-1][1] > 2.2 * drawn[0][1]


@pytest.mark.parametrize(("share", "falls"), [(0.5, True), (0.98, True), (1.02, False)])
def test_verdict_follows_the_limit(share: float, falls: bool) -> None:
    most = max(current for _, current in _drawn(survey_of(stage("1 A")), STARTS))
    answer = SourceOverload().look(survey_of(stage(f"{share * most:.4f} A")))
    assert list(answer.looked) == ["U1"]
    assert [fault.subject for fault in answer.faults] == (["U1"] if falls else [])
    assert all(fault.proven for fault in answer.faults)


def test_a_source_that_folds_back_is_not_proven_to_carry_it() -> None:
    text = stage("10 A").replace("constant-current", "foldback")
    (fault,) = SourceOverload().look(survey_of(text)).faults
    assert not fault.proven
    assert "folds back" in fault.because


def test_a_converter_that_never_starts_is_not_proven() -> None:
    never = stage("10 A").replace(f'"{STARTS} V"', '"30 V"')
    (fault,) = SourceOverload().look(survey_of(never)).faults
    assert not fault.proven
    assert "30 V" in fault.because


def test_a_soft_start_is_left_to_what_looks_at_time() -> None:
    soft = stage("1 A", 'soft_start_time = "5 ms"\n')
    assert list(SourceOverload().look(survey_of(soft)).looked) == []


def test_is_not_asked_of_a_source_without_a_limit() -> None:
    free = stage("1 A").replace('limit = { current = "1 A", style = "constant-current" }', "")
    assert list(SourceOverload().look(survey_of(free)).looked) == []
