"""What the windings of a transformer carry and how warm they get, against a sum by small steps."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from surveys.supplies import alternating, part, supply, survey_of

from railwright.checks.check import Check
from railwright.checks.transformers import WindingCurrent, WindingHeat
from railwright.surveys.extremes import Answer
from railwright.surveys.mains import as_fed, put
from railwright.surveys.situations import View

VOLTS, RATIO, FIRST, OWN, CORE = 230.0, 12.0, 20.0, 0.4, 20e3
AMPERES, FARADS, DROP = 1.0, 4.7e-3, 2 * 0.95
"""Diodes as datasheets of in-line bridges of 4 A have them."""
STEP = 4e-6  # s


def transformer(rated: str) -> str:
    values = {
        "turns_ratio": RATIO,
        "primary_resistance": f"{FIRST} Ω",
        "secondary_resistance": f"{OWN} Ω",
        "leakage_inductance": "1 mH",
        "magnetising_inductance": "1000 H",
        "saturation_flux": "100 Vs",
        "core_resistance": f"{CORE} Ω",
    }
    exact = "".join(
        f'{name} = {{ typical = "{value}", tolerance = "0 %" }}\n' for name, value in values.items()
    )
    ends = "primary_start = L, primary_end = N, secondary_start = A, secondary_end = B"
    more = f'rated_current = "{rated}"\nrated_rise = "60 K"\nwinding_limit = "115 °C"\n'
    return part("T1", "transformer", ends, exact + (more if rated else ""))


def fed(rated: str, celsius: float = 25.0) -> str:
    """A transformer, a bridge and a reservoir at the terminals."""
    store = 'use = "electrolytic 4700 µF 35 V low-ESR"\n'
    store += 'capacitance = { typical = "4700 µF", tolerance = "0 %" }'
    parts = [
        transformer(rated),
        part(
            "D1",
            "bridge-rectifier",
            "first = A, second = B, plus = OUT, minus = GND",
            'use = "bridge 4 A 400 V"',
        ),
        part("C1", "capacitor", "plus = OUT, minus = GND", store),
    ]
    text = supply(
        "\n".join(parts),
        input=(VOLTS, VOLTS, VOLTS),
        volts=(20.0, 20.0),
        amperes=(AMPERES, AMPERES),
        ambient=(celsius, celsius),
    )
    return alternating(text, 1e-3)


@cache
def effective() -> float:
    """Effective value of the secondary's current [A]: Euler's steps, the core left out."""
    ohms = OWN + FIRST / RATIO**2
    across, kept = VOLTS / RATIO, []
    for count in range(round(0.4 / STEP)):
        inner = np.sqrt(2.0) * VOLTS / RATIO * abs(np.sin(2.0 * np.pi * 50.0 * count * STEP))
        charge = max(0.0, (inner - DROP - across) / ohms)
        across += STEP * (charge - AMPERES) / FARADS
        kept.append(charge)
    return float(np.sqrt(np.mean(np.square(kept[-round(0.02 / STEP) :]))))


@cache
def view_of(text: str) -> View:
    survey = survey_of(text)
    situation = as_fed(survey, WindingCurrent.situation)
    points = situation.points(survey)
    return situation.view(survey, points, survey.typical(points.count), None)


def asked(check: Check, text: str) -> Answer:
    view = view_of(text)
    assert view.solved.all()
    assert check.subjects(view.survey) == ["T1"]
    assert not check.missing(view.survey, "T1")
    return put(lambda moment: check.answer(moment, "T1"), view)


@pytest.mark.parametrize(("rated", "holds"), [("3 A", True), ("1.5 A", False)])
def test_pulses_load_a_secondary_by_more_than_the_mean(rated: str, holds: bool) -> None:
    """1.6 to 2 times the direct current, as tables of transformer makers have it."""
    found = asked(WindingCurrent(), fed(rated))
    assert found.value[0] == pytest.approx(effective(), rel=0.04)
    assert 1.6 < found.value[0] / AMPERES < 2.3
    assert found.limit[0] == float(rated.split()[0])
    assert (found.margin[0] > 0) == holds


@pytest.mark.parametrize(("rated", "holds"), [("3 A", True), ("1.2 A", False)])
def test_losses_warm_the_windings(rated: str, holds: bool) -> None:
    found = asked(WindingHeat(), fed(rated, 40.0))
    full, idle = float(rated.split()[0]), VOLTS**2 / CORE
    copper = OWN + FIRST / RATIO**2
    # The core sees a little less than the mains; both resistances see the same pulses.
    share = (copper * effective() ** 2 + idle) / (copper * full**2 + idle)
    wanted = 40.0 + 60.0 * share**0.8
    assert found.value[0] - 273.15 == pytest.approx(wanted, abs=0.05 * (wanted - 40.0))
    assert found.limit[0] - 273.15 == pytest.approx(115.0)
    assert (found.margin[0] > 0) == holds


def test_a_type_that_is_not_rated_is_not_proven() -> None:
    survey = survey_of(fed(""))
    assert "rated current" in WindingCurrent().missing(survey, "T1")
    assert "rated rise" in WindingHeat().missing(survey, "T1")
