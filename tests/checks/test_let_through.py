"""What a short circuit gets, and what parts bear of it, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from checks.test_transients import capacitor
from surveys.supplies import part, resistor, supply

from railwright.checks.pulses import cooled, felt
from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

VOLTS, OHMS, FARADS, ESR, SHORT = 10.0, 5.0, 1e-3, 0.09, 0.01


def found(check: str, subject: str, let_through: str, parts: str) -> list[Finding]:
    """What a proof says of 10 V that are shorted behind a resistor and a capacitor."""
    overload = (
        '[[need.output.load]]\nkind = "resistive"\n'
        '[need.output.overload]\nstyle = "constant-current"\ncarry = "0.2 A"\nact_by = "2 A"\n'
        f"{let_through}"
    )
    text = supply(
        parts,
        input=(VOLTS, VOLTS, VOLTS),
        volts=(9.9, 9.9),
        amperes=(0.0, 0.02),
        output=overload,
    )
    findings = prove(read_text(text, "through.toml"), only=(check,)).findings
    return [f for f in findings if (f.id, f.subject) == (check, subject)]


def behind(ohms: float = OHMS, watts: float = 50.0) -> str:
    series = resistor("R1", "IN", "OUT", ohms).replace("0.25 W", f"{watts} W")
    return series + capacitor(FARADS, ESR)


@pytest.mark.parametrize(("peak", "verdict"), [(120.0, "holds"), (90.0, "falls short")])
def test_a_short_circuit_gets_what_its_capacitor_gives(peak: float, verdict: str) -> None:
    """V / (ESR + short), and the 2 A of the source: Ohm's law."""
    (one,) = found("overload.peak-current", "main", f'let_through.peak = "{peak} A"', behind())
    assert one.value == pytest.approx((VOLTS - 0.1) / (ESR + SHORT) + 2.0, rel=0.03)
    assert one.verdict == verdict


@pytest.mark.parametrize(("heat", "verdict"), [(0.7, "holds"), (0.4, "falls short")])
def test_the_heat_in_a_short_circuit_is_that_of_the_capacitor(heat: float, verdict: str) -> None:
    """∫ i² dt = V² C / 2 (ESR + short), all of it above act_by but for the last per cents."""
    through = f'let_through.heat = "{heat} A²s"'
    (one,) = found("overload.let-through", "main", through, behind())
    assert one.value == pytest.approx(VOLTS**2 * FARADS / 2.0 / (ESR + SHORT), rel=0.05)
    assert one.verdict == verdict


def test_nothing_is_asked_of_a_need_that_allows_anything() -> None:
    assert found("overload.peak-current", "main", "", behind()) == []
    assert found("overload.let-through", "main", "", behind()) == []


@pytest.mark.parametrize(("watts", "verdict"), [(5.0, "holds"), (1.0, "falls short")])
def test_a_resistor_in_series_feels_the_root_of_time(watts: float, verdict: str) -> None:
    """20 W in 5 Ω for the second that the short lasts: ten times C V / 0.1 A."""
    (one,) = found("stress.resistor-pulse", "R1", "", behind(watts=watts))
    assert one.value is not None
    assert one.value == pytest.approx(20.0 * np.sqrt(1.0 / 5.0) / (2.0 * watts), rel=0.02)
    assert one.verdict == verdict


@pytest.mark.parametrize(("melts", "verdict"), [(200.0, "holds"), (0.5, "falls short")])
def test_a_fuse_that_melts_in_a_short_circuit_is_told(melts: float, verdict: str) -> None:
    fuse = (
        'resistance = "10 mΩ"\nrated_current = "1 A"\nmelting_current = "1.5 A"\n'
        f'melting_integral = "{melts} A²s"\nbreaking_capacity = "50 A"'
    )
    parts = part("F1", "fuse", "one = IN, two = FUSED", fuse)
    parts += behind().replace('one = "IN", two = "OUT"', 'one = "FUSED", two = "OUT"')
    several = found("stress.fuse-in-short", "F1", "", parts)
    assert [one.verdict for one in several] in ([verdict], [] if verdict == "holds" else None)


def test_a_step_is_felt_as_the_root_of_its_time() -> None:
    times = np.concatenate([[0.0], np.geomspace(1e-6, 1.0, 400)])
    power = np.full((1, times.size), 3.0)
    wanted = 3.0 * np.minimum(np.sqrt(times / 0.04), 1.0)
    assert felt(times, power, 0.04)[0] == pytest.approx(wanted, abs=1e-9)


def test_what_cools_by_itself_rises_exponentially() -> None:
    times = np.linspace(0.0, 0.5, 400)
    most = cooled(times, np.full((1, times.size), 9.0), 0.2)
    assert most[0] == pytest.approx(9.0 * (1.0 - np.exp(-2.5)), rel=1e-9)
