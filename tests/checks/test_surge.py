"""What rectifiers and fuses go through at switch-on: against Ohm's law and a sum by small steps."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from checks.test_on_mains import regulated
from checks.test_transformers import fed
from surveys.supplies import alternating, part, resistor, supply, survey_of
from surveys.test_mains import rectifier

from railwright.checks.check import Check
from railwright.checks.surge import FuseSurge, RectifierSurge
from railwright.devices.inductor import BEND, saturating_flux
from railwright.standards.iec60127 import PULSES
from railwright.surveys.extremes import Answer
from railwright.surveys.mains import alternating as in_time
from railwright.surveys.mains import as_fed
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.switch_on import REMANENCE, SWITCH_ON, _begun

VOLTS, FARADS, AMPERES = 17.0, 4.7e-3, 1.0
ESR, OHMIC, DROP = 10e-3, 2 * 18e-3, 2 * 0.87
"""Of the reservoir and of two diodes of the 4 A bridge [Ω], and their junctions at 40 A [V]."""
MELTS, INTEGRAL = 3.0, 20.0
"""Melting current [A] and integral [A²s] of the fuse."""


def text(ohms: float, fuse: bool = False, integral: float = INTEGRAL) -> str:
    """A bridge, a reservoir and a 7812 type behind a winding, with a fuse in its lead."""
    found = regulated(VOLTS, AMPERES, 4700).replace(
        'resistance = "0.6 Ω"', f'resistance = "{ohms} Ω"'
    )
    if not fuse:
        return found
    values = {
        "resistance": "1 mΩ",
        "melting_current": f"{MELTS} A",
        "melting_integral": f"{integral} A²s",
        "breaking_capacity": "1000 A",
    }
    exact = "".join(
        f'{name} = {{ typical = "{value}", tolerance = "0 %" }}\n' for name, value in values.items()
    )
    fused = part("F1", "fuse", "one = L, two = L1", exact + 'rated_current = "2 A"')
    return found.replace("first = L", "first = L1").replace('first = "L"', 'first = "L1"') + fused


@cache
def view_of(design: str) -> View:
    survey = survey_of(design)
    assert as_fed(survey, SWITCH_ON) is SWITCH_ON
    assert not SWITCH_ON.unready(survey)
    points = SWITCH_ON.points(survey)
    return SWITCH_ON.view(survey, points, survey.typical(points.count), None)


def asked(check: Check, design: str, subject: str) -> Answer:
    view = view_of(design)
    assert view.solved.all()
    assert check.subjects(view.survey) == [subject]
    assert not check.missing(view.survey, subject)
    return check.answer(view, subject)


@pytest.mark.parametrize(("ohms", "holds"), [(0.6, True), (0.05, False)])
def test_an_empty_reservoir_takes_what_the_resistance_lets_through(
    ohms: float, holds: bool
) -> None:
    """At the peak of the mains: (peak - two junctions) over all that is in the way.

    A junction has 0.95 V - 18 mΩ x 2 A at 2 A, and follows its law with an ideality of 1.8.
    """
    found = asked(RectifierSurge(), text(ohms), "D1")
    most = 10.0
    for _ in range(20):
        junctions = 2.0 * (0.914 + 1.8 * 25.7e-3 * np.log(most / 2.0))
        most = (np.sqrt(2.0) * VOLTS - junctions) / (ohms + ESR + OHMIC)
    assert found.value[0] == pytest.approx(most, rel=0.04)
    # Bridges of 4 A survive 150 A in 8.3 ms; half a wave of 50 Hz with as much I²t is lower.
    assert found.limit[0] == pytest.approx(150.0 * np.sqrt(8.3e-3 / 10e-3))
    assert (found.margin[0] > 0) == holds


def heated(ohms: float, integral: float) -> float:
    """Share of the heat that melts it, above that in use: Euler's steps from both instants."""
    step, worst = 4e-6, 0.0
    for phase in (0.5 * np.pi, 0.0):
        across, squares = 0.0, []
        for count in range(round(0.12 / step)):
            inner = np.sqrt(2.0) * VOLTS * np.sin(2.0 * np.pi * 50.0 * count * step + phase)
            charge = max(0.0, (abs(inner) - DROP - across) / (ohms + ESR + OHMIC))
            across += step * (charge - (AMPERES if across > 14.0 else 0.0)) / FARADS
            squares.append((charge / MELTS) ** 2)
        in_use, heat = np.mean(squares[-round(0.02 / step) :]), 0.0
        for square in squares:
            heat += step * (square - in_use - heat) * MELTS**2 / integral
            worst = max(worst, heat)
    return worst


@pytest.mark.parametrize(("integral", "holds"), [(20.0, True), (3.0, False)])
def test_a_fuse_is_heated_by_the_charge(integral: float, holds: bool) -> None:
    found = asked(FuseSurge(), text(0.6, fuse=True, integral=integral), "F1")
    assert found.value[0] == pytest.approx(heated(0.6, integral), rel=0.08)
    assert found.limit[0] == PULSES
    assert (found.margin[0] > 0) == holds


def test_a_lamp_at_the_winding_is_no_rectifier() -> None:
    led = part("D2", "light-emitting-diode", "anode = X, cathode = N", 'use = "LED red 5 mm"')
    lit = text(0.6) + resistor("R1", "L", "X", 4.7e3) + led
    assert RectifierSurge().subjects(survey_of(lit)) == ["D1"]


def test_a_diode_without_a_surge_current_is_not_proven() -> None:
    bare = supply(rectifier(), input=(12.0, 12.0, 12.0), amperes=(1.0, 1.0))
    survey = survey_of(alternating(bare, 0.6))
    assert RectifierSurge().subjects(survey) == ["D1"]
    assert "surge current" in RectifierSurge().missing(survey, "D1")


def test_a_fuse_without_a_melting_integral_is_not_proven() -> None:
    fused = text(0.6, fuse=True)
    bare = "\n".join(row for row in fused.split("\n") if not row.startswith("melting_integral"))
    assert bare != fused
    survey = survey_of(bare)
    assert FuseSurge().subjects(survey) == ["F1"]
    assert "melting integral" in FuseSurge().missing(survey, "F1")


def test_a_core_keeps_its_share_of_the_flux_whatever_its_coil() -> None:
    """Half of sqrt(2) x 230 V / (2 pi 50 Hz), of coils and of limits that differ."""
    survey = survey_of(fed("3 A"))
    points = SWITCH_ON.points(survey)
    at = AS_SET.view(survey, points, survey.typical(points.count), None).at
    rest = in_time(survey, at, 50.0).take(np.zeros(3, int))
    coil, limit = np.array([500.0, 1000.0, 2000.0]), np.array([0.6, 1.1, 100.0])
    own = {("T1", "magnetising_inductance"): coil, ("T1", "saturation_flux"): limit}
    found = _begun(survey, replace(rest, lanes={**rest.lanes, **own}), np.zeros(3), 50.0)
    kept = found.x[found.model.topology.index["T1", "magnetising"]]
    bend = BEND * coil / (limit * np.sqrt(1.0 + BEND**2))
    wanted = REMANENCE * np.sqrt(2.0) * 230.0 / (2.0 * np.pi * 50.0)
    assert saturating_flux(coil, bend, kept) == pytest.approx(wanted, rel=1e-6)
