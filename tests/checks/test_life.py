"""How long electrolytic capacitors last, and what ripple current they carry, by the rules."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from checks.test_on_mains import regulated
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.check import Check
from railwright.checks.life import ElectrolyticLife
from railwright.checks.ripple import CapacitorRipple
from railwright.standards.electrolytic import life
from railwright.surveys.extremes import Answer
from railwright.surveys.mains import as_fed, put
from railwright.surveys.situations import View

HOUR = 3600.0
PROMISED = """rated_life = "2000 h"
rated_ripple = "1 A"
rated_temperature = "85 °C"
leakage"""


@cache
def view_of(text: str) -> View:
    survey = survey_of(text)
    situation = as_fed(survey, ElectrolyticLife.situation)
    points = situation.points(survey)
    return situation.view(survey, points, survey.typical(points.count), None)


def asked(check: Check, text: str, subject: str) -> Answer:
    view = view_of(text)
    assert subject in check.subjects(view.survey)
    return put(lambda moment: check.answer(moment, subject), view)


def at_rest(celsius: float, more: str = "") -> str:
    """A resistor and a capacitor of 2000 h at 85 °C, which carries no ripple, in warm air."""
    store = 'capacitance = "100 µF"\nesr = "0.1 Ω"\nrated_voltage = "25 V"\nleakage = "0 A"\n'
    store = store.replace("leakage", PROMISED) + 'options = { dielectric = "electrolytic" }'
    parts = resistor("R1", "IN", "OUT", 1.0) + part(
        "C1", "capacitor", "plus = OUT, minus = GND", store
    )
    return supply(parts, ambient=(celsius, celsius), policy=more)


@pytest.mark.parametrize(("celsius", "holds"), [(50.0, True), (60.0, False)])
def test_ten_kelvins_halve_a_life(celsius: float, holds: bool) -> None:
    """Rated with its ripple, so at a core of 90 °C; without ripple the core is as the air."""
    found = asked(ElectrolyticLife(), at_rest(celsius), "C1")
    wanted = life(2000.0, 273.15 + 90.0, 273.15 + celsius)
    assert wanted == pytest.approx(2000.0 * 2.0 ** ((90.0 - celsius) / 10.0))
    assert found.value[0] / HOUR == pytest.approx(wanted)
    assert found.limit[0] / HOUR == 20000.0
    assert (found.margin[0] > 0) == holds


def test_the_need_may_say_how_long() -> None:
    found = asked(ElectrolyticLife(), at_rest(60.0, 'life = "10000 h"'), "C1")
    assert found.limit[0] / HOUR == 10000.0
    assert found.margin[0] > 0


def test_what_promises_no_life_is_not_proven() -> None:
    survey = survey_of(at_rest(50.0).replace('rated_life = "2000 h"\n', ""))
    assert ElectrolyticLife().subjects(survey) == ["C1"]
    assert "rated life is known for C1" in ElectrolyticLife().missing(survey, "C1")
    assert not ElectrolyticLife().missing(survey_of(at_rest(50.0)), "C1")


def test_what_does_not_dry_out_is_not_asked() -> None:
    dry = at_rest(50.0).replace('"electrolytic"', '"film"')
    assert ElectrolyticLife().subjects(survey_of(dry)) == []


def reservoir(amperes: float, ripple: str) -> str:
    """A reservoir of 4700 µF behind 17 V and 0.6 Ω, its ripple current promised."""
    promised = PROMISED.replace('"1 A"', f'"{ripple}"')
    return regulated(17.0, amperes, 4700).replace("leakage", promised, 1)


def rms_of_a_reservoir(volts: float, ohms: float, farads: float, amperes: float) -> float:
    """Effective value of what alternates in its current: sums of small steps, two diodes."""
    step, kept, across = 4e-6, [], volts
    for count in range(round(0.3 / step)):
        inner = abs(np.sqrt(2.0) * volts * np.sin(2.0 * np.pi * 50.0 * count * step)) - 2 * 0.95
        charge = max(0.0, (inner - across) / ohms)
        across += step * (charge - amperes) / farads
        kept.append(charge - amperes)
    return float(np.std(kept[-round(0.02 / step) :]))


def test_pulses_of_a_rectifier_load_the_reservoir() -> None:
    """At 100 Hz 85 % of a rating at 100 kHz are allowed of so large a capacitor."""
    wanted = rms_of_a_reservoir(17.0, 0.6, 4.7e-3, 1.005)
    found = asked(CapacitorRipple(), reservoir(1.0, "3 A"), "C1")
    assert found.value[0] == pytest.approx(wanted, rel=0.05)
    assert found.limit[0] == pytest.approx(0.85 * 3.0)
    assert found.margin[0] > 0
    small = asked(CapacitorRipple(), reservoir(1.0, "1 A"), "C1")
    assert small.margin[0] < 0
    core = 298.15 + 5.0 * (small.value[0] / 0.85) ** 2
    assert core > 313.15  # warm enough for the rule
    lasts = asked(ElectrolyticLife(), reservoir(1.0, "1 A"), "C1")
    assert lasts.value[0] / HOUR == pytest.approx(life(2000.0, 363.15, core))
