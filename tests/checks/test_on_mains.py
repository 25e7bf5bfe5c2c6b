"""What checks say of supplies on alternating mains, against a rectifier summed up by small steps.

Two cases from the web: "voltage output", a thread of electro-tech-online.com (12 V at 1 A out of a
transformer of 11.8 V and 0.6 Ω), and "Unauthorized thermal event" of flyinglow.ca (24 V on
capacitors of 25 V, of which 35 V were read).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from surveys.supplies import alternating, part, resistor, supply, survey_of

from railwright.checks.check import Check
from railwright.checks.headroom import SeriesHeadroom
from railwright.checks.ripple import MainsRipple
from railwright.checks.stress import Junction, Stress
from railwright.surveys.courses import POWER_UP
from railwright.surveys.cycles import IN_CYCLES
from railwright.surveys.extremes import Answer
from railwright.surveys.mains import as_fed, put
from railwright.surveys.situations import View

DROP = 1.4
"""V of two diodes, as the case has it; ours lie within two tenths of it."""
STEP, SPAN, PERIOD = 4e-6, 0.3, 0.02


@dataclass(frozen=True)
class Summed:
    """The reservoir at rest [V]."""

    peak: float
    valley: float
    mean: float


@cache
def summed(volts: float, ohms: float, farads: float, amperes: float, drop: float = DROP) -> Summed:
    """A sine behind a resistance, diodes of a steady drop, a steady current: Euler's steps."""
    reservoir, course = volts, []
    for count in range(round(SPAN / STEP)):
        inner = abs(math.sqrt(2.0) * volts * math.sin(2.0 * math.pi * 50.0 * count * STEP)) - drop
        reservoir += STEP * (max(0.0, (inner - reservoir) / ohms) - amperes) / farads
        course.append(reservoir)
    last = course[-round(PERIOD / STEP) :]
    return Summed(max(last), min(last), sum(last) / len(last))


def regulated(
    volts: float, amperes: float, microfarads: float, rated: float = 35.0, ripple: str = "1 V"
) -> str:
    """A bridge, a reservoir and a 7812 type on a heat sink, behind 0.6 Ω."""
    store = "".join(
        f'{name} = {{ typical = "{value}", tolerance = "0 %" }}\n'
        for name, value in (("capacitance", f"{microfarads} µF"), ("esr", "10 mΩ"))
    )
    store += f'leakage = "1 µA"\nrated_voltage = "{rated} V"\n'
    store += 'options = { dielectric = "electrolytic" }'
    bridge = 'use = "bridge 4 A 400 V"'
    regulator = "input = RAW, output = OUT, ground = GND, case = TAB"
    parts = [
        part("D1", "bridge-rectifier", "first = L, second = N, plus = RAW, minus = GND", bridge),
        part("C1", "capacitor", "plus = RAW, minus = GND", store),
        part("U1", "fixed-regulator", regulator, 'use = "7812 type 1 A"'),
        part("H1", "heat-sink", "face = TAB, air = AMBIENT", 'use = "heat sink 5 K/W"'),
        part(
            "C2",
            "capacitor",
            "plus = OUT, minus = GND",
            'use = "electrolytic 10 µF 25 V low-ESR"',
        ),
    ]
    text = supply(
        "\n".join(parts),
        input=(volts, volts, volts),
        volts=(12.0, 12.0),
        amperes=(amperes, amperes),
        output=f'ripple = "{ripple}"',
    )
    return alternating(text, 0.6)


@cache
def view_of(text: str, check: type[Check]) -> View:
    """Typical parts as the check has them."""
    survey = survey_of(text)
    situation = as_fed(survey, check.situation)
    assert not situation.unready(survey)
    points = situation.points(survey)
    return situation.view(survey, points, survey.typical(points.count), None)


def asked(text: str, check: type[Check], subject: str) -> Answer:
    view = view_of(text, check)
    assert view.solved.all()
    assert subject in check().subjects(view.survey)
    answer = put(lambda moment: check().answer(moment, subject), view)
    assert answer.margin.shape == (1,)
    return answer


def test_a_weak_transformer_leaves_no_headroom_in_the_valley() -> None:
    found = asked(regulated(11.8, 1.0, 1000), SeriesHeadroom, "U1")
    valley = summed(11.8, 0.6, 1e-3, 1.0).valley
    assert valley == pytest.approx(8.3, abs=0.1)  # as the case has it
    assert found.value[0] == pytest.approx(valley - 12.0, abs=0.4)
    assert found.margin[0] < -4.0


def test_a_sound_transformer_leaves_enough() -> None:
    found = asked(regulated(17.0, 1.0, 4700), SeriesHeadroom, "U1")
    drop = 2.0 * 0.95  # datasheets of in-line bridges of 4 A: a diode at 2 A
    valley = summed(17.0, 0.6, 4.7e-3, 1.0, drop).valley
    assert found.value[0] == pytest.approx(valley - 12.0, abs=0.3)
    assert found.limit[0] == pytest.approx(2.0, abs=0.3)  # datasheet of the 78xx type
    assert found.margin[0] > 0


def test_heat_is_that_of_the_mean() -> None:
    found = asked(regulated(17.0, 1.0, 4700), Junction, "U1 junction_limit")
    mean = summed(17.0, 0.6, 4.7e-3, 1.0).mean
    power = (mean - 12.0) * 1.0 + 5e-3 * mean
    assert found.value[0] - 298.15 == pytest.approx((5.0 + 5.0) * power, rel=0.08)
    assert found.margin[0] > 0


@pytest.mark.parametrize(("rated", "holds"), [(25.0, False), (50.0, True)])
def test_a_reservoir_without_load_charges_to_the_peak(rated: float, holds: bool) -> None:
    found = asked(regulated(24.0, 0.0, 1000, rated), Stress, "C1 rated_voltage")
    assert found.value[0] == pytest.approx(24.0 * math.sqrt(2.0) - DROP, abs=0.5)
    assert found.limit[0] == rated
    assert (found.margin[0] > 0) == holds


def test_a_mean_rating_bounds_the_mean() -> None:
    found = asked(regulated(17.0, 1.0, 4700), Stress, "D1 forward_current")
    assert found.value[0] == pytest.approx(1.005, rel=0.02)  # the load's and the regulator's own


def test_ripple_that_the_regulator_lets_through() -> None:
    """In drop-out the output follows the valley; a sound one rejects it."""
    weak = asked(regulated(11.8, 1.0, 1000), MainsRipple, "main")
    left = summed(11.8, 0.6, 1e-3, 1.0)
    assert weak.value[0] == pytest.approx(left.peak - left.valley, rel=0.1)
    assert weak.margin[0] < 0
    sound = asked(regulated(17.0, 1.0, 4700), MainsRipple, "main")
    assert sound.value[0] < 0.01
    assert sound.margin[0] > 0


def test_each_instant_counts() -> None:
    """The worst of the cycle is no better than its mean."""
    view = view_of(regulated(17.0, 1.0, 4700), SeriesHeadroom)
    least = asked(regulated(17.0, 1.0, 4700), SeriesHeadroom, "U1").value[0]
    mean = put(
        lambda m: Answer(m.of_course("mean", "U1", "unlimited_across"), *np.zeros((2, 1))), view
    )
    assert least < mean.margin[0] - 0.3


WORKSHOP = Path(__file__).parents[2] / "examples" / "workshop-twelve-volts.toml"


def test_what_switches_behind_a_transformer_has_a_cycle() -> None:
    """The input itself is not in it: a stand-in of the winding feeds it."""
    text = WORKSHOP.read_text("utf-8")
    first, last = (text.index(f'[[part]]\nref = "{ref}"') for ref in ("U1", "C2"))
    pins = "input = RAW, switch = SW, ground = GND, feedback = FB, disable = GND, case = TAB"
    film = 'use = "film resistor 0.25 W 1 %"\nresistance = '
    parts = [
        part("U1", "step-down-regulator", pins, 'use = "step-down 150 kHz 3 A"'),
        part("L1", "inductor", "one = SW, two = OUT", 'use = "inductor 100 µH 3 A"'),
        part("D2", "diode", "anode = GND, cathode = SW", 'use = "1N5822"'),
        part("R1", "resistor", "one = OUT, two = FB", film + '"8k87"'),
        part("R2", "resistor", "one = FB, two = GND", film + '"1k"'),
        part("H1", "heat-sink", "face = TAB, air = AMBIENT", 'use = "heat sink 5 K/W"'),
    ]
    survey = survey_of(text[:first] + "\n".join(parts) + "\n" + text[last:])
    assert not IN_CYCLES.unready(survey)
    view = IN_CYCLES.typical(survey)
    assert view.ripple("main").shape == (view.points.count,)


def test_a_rail_of_the_other_half_wave_is_not_followed_in_time() -> None:
    """A direct source stands for the mains: what it does not bring up is no shortfall."""
    text = alternating(
        supply(
            part("D1", "diode", "anode = A, cathode = L", 'use = "1N4002"')
            + part("C1", "capacitor", "plus = GND, minus = A",
                   'use = "electrolytic 470 µF 35 V low-ESR"')
            + resistor("R1", "A", "OUT", 10.0),
            input=(12.0, 12.0, 12.0), volts=(14.0, 14.0), amperes=(0.01, 0.01),
        ),
        0.6,
    )  # fmt: skip
    told = text.replace('"L", minus = "N"', '"L", minus = "GND"')
    told = told.replace('plus = "OUT", minus = "GND"', 'plus = "GND", minus = "OUT"')
    assert "main" in POWER_UP.unready(survey_of(told))
