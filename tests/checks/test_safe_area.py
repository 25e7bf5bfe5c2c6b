"""What transistors stand of voltage and current at once, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from checks.test_transients import capacitor
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.safe_area import PowerUpPulse, SafeArea, ShortCircuitPulse
from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.quantity import ZERO_CELSIUS
from railwright.surveys.short_circuit import SHORT_CIRCUIT
from railwright.surveys.situations import AS_SET


def follower(
    volts: float, more: str, amperes: tuple[float, float] = (1.0, 1.0), sink: float = 0.001
) -> str:
    """A follower whose base is held by a zener that gets warm, some 15 to 20 V."""
    pins = "collector = IN, base = BASE, emitter = OUT, case = SINK"
    return supply(
        part("Q1", "bipolar-transistor", pins, more)
        + resistor("R1", "IN", "BASE", 470.0).replace("0.25 W", "50 W")
        + part("D1", "zener", "anode = GND, cathode = BASE", 'use = "zener 15 V 0.5 W"')
        + resistor("R2", "OUT", "GND", 1e3)
        + part("H1", "heat-sink", "face = SINK, air = AMBIENT", f'resistance = "{sink} K/W"')
        + capacitor(CHARGED, 0.1),
        input=(volts, volts, volts),
        volts=(14.3, 14.3),
        amperes=amperes,
        output=LIMIT,
    )


CHARGED = 4.7e-3
LIMIT = """
[[need.output.load]]
kind = "resistive"
[need.output.overload]
style = "constant-current"
carry = "1.2 A"
act_by = "2 A"
"""
RATED = 'use = "2N3055"'
UNSAID = f'{RATED}\nsecond_breakdown_voltage = "0 V"'


def found(check: str, text: str) -> list[Finding]:
    """What a proof says of Q1."""
    findings = prove(read_text(text, "area.toml"), only=(check,)).findings
    return [f for f in findings if f.id == check and f.subject == "Q1"]


def test_the_safe_current_falls_on_a_straight_line_of_logarithms() -> None:
    """From 115 W at 40 V to 0.9 A at 60 V; the case on a cold sink, so at 25 °C."""
    survey = survey_of(follower(69.3, RATED))
    view = survey.once(AS_SET.typical)
    across = view.at.of("Q1", "voltage")
    assert across > 45.0
    steep = np.log(115.0 / 40.0 / 0.9) / np.log(60.0 / 40.0)
    limit = SafeArea().answer(view, "Q1").limit
    assert limit == pytest.approx(115.0 / 40.0 * (40.0 / across) ** steep, rel=2e-3)


def test_a_warm_case_leaves_less() -> None:
    """Each watt warms the case on 1 K/W by 1 K of the 175 K up to 200 °C."""
    cold, warm = (
        survey_of(follower(64.3, RATED, sink=sink)).once(AS_SET.typical) for sink in (0.001, 1.0)
    )
    left = 1.0 - warm.at.of("Q1", "power") / (200.0 - 25.0)
    limit = SafeArea().answer(cold, "Q1").limit
    assert SafeArea().answer(warm, "Q1").limit == pytest.approx(left * limit, rel=0.02)


@pytest.mark.parametrize(("volts", "verdict"), [(64.3, "holds"), (81.3, "falls short")])
def test_second_breakdown_bounds_what_the_power_would_allow(volts: float, verdict: str) -> None:
    """62 V and 1 A are 62 W of 115 W."""
    (one,) = found("stress.safe-area", follower(volts, RATED))
    assert one.verdict == verdict


def test_nothing_is_asked_below_the_voltage_of_second_breakdown() -> None:
    assert found("stress.safe-area", follower(40.0, RATED)) == []


def test_a_power_transistor_that_states_nothing_is_not_proven_where_it_matters() -> None:
    (one,) = found("stress.safe-area", follower(64.3, UNSAID))
    assert one.verdict == "not proven"
    assert "second breakdown voltage" in one.because
    assert found("stress.safe-area", follower(25.0, UNSAID)) == []


def test_a_step_of_power_heats_a_junction_with_the_root_of_time() -> None:
    """A short circuit of a follower without a limit: V I R_jc sqrt(t / 50 ms), its power steady.

    The area by the trapezoids of the record instead of sums over intervals.
    """
    survey = survey_of(follower(25.0, 'use = "BD241C"', (0.1, 0.1), 1.0))
    check, view = ShortCircuitPulse(), survey.within("in cycles").once(SHORT_CIRCUIT.typical)
    (record,) = view.records
    power = (record.rows["Q1", "voltage"] * record.rows["Q1", "current"])[0]
    before = view.at.of("Q1", "junction")[0]
    highest = []
    for last in np.flatnonzero(record.times > 0):
        now = record.times[last]
        ahead = np.linspace(max(now - 50e-3, 0.0), now, 4001)
        reached = np.sqrt((now - ahead) / 50e-3)
        mean = np.interp(0.5 * (ahead[1:] + ahead[:-1]), record.times, power - power[0])
        highest.append(float(mean @ (reached[:-1] - reached[1:])))
    rise = 3.125 * max(highest)
    share = check.answer(view, "Q1").value[0]
    assert share == pytest.approx(rise / (150.0 + ZERO_CELSIUS - before), rel=0.02)


@pytest.mark.parametrize(("volts", "verdict"), [(25.0, "holds"), (45.0, "falls short")])
def test_charging_a_great_capacitor_may_be_too_much_for_a_follower(
    volts: float, verdict: str
) -> None:
    (one,) = found(PowerUpPulse.id, follower(volts, 'use = "BD241C"', (0.0, 0.1), 1.0))
    assert one.verdict == verdict
    assert "While the supply comes up Q1 uses" in one.because


def test_a_short_circuit_without_a_limit_kills_a_follower() -> None:
    (one,) = found(ShortCircuitPulse.id, follower(25.0, 'use = "BD241C"', (0.0, 0.1), 1.0))
    assert one.verdict == "falls short"
