"""A switching regulator behind a rectifier: the mains cycle by its means, its own at instants."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import cast

import numpy as np
import pytest
from surveys.supplies import part, survey_of

from railwright.surveys.cycles import IN_CYCLES, CycleView
from railwright.surveys.mains import CYCLES_ON_MAINS, IN_USE, MainsView, as_fed, to_and_fro
from railwright.surveys.situations import AS_SET
from railwright.surveys.survey import Survey

PANEL = Path(__file__).parents[2] / "examples" / "panel-five-volts.toml"
VOLTS, OHMS, FARADS, DROP = 17.0, 0.6, 4.7e-3, 2 * 0.9
BESIDE = 330e-6
"""F; of the stage's own input capacitor."""
SHARE = 0.85
"""Of a ripple current of 100 kHz that 4700 µF may carry at 100 Hz."""


@cache
def fed() -> Survey:
    """Five volts and 1.5 A by a step-down stage behind a winding, a bridge and a reservoir."""
    text = PANEL.read_text("utf-8")
    head, _, rest = text.partition("[[need.output]]")
    title = head.partition("[need.input]")[0]
    need = f"""[need.input]
kind = "ac"
nets = {{ plus = "L", minus = "N" }}
voltage = {{ min = "{VOLTS} V", nominal = "{VOLTS} V", max = "{VOLTS} V" }}
frequency = {{ min = "50 Hz", max = "50 Hz" }}
resistance = "{OHMS} Ω"

"""
    bridge = "first = L, second = N, plus = FEED, minus = GND"
    store = 'use = "electrolytic 4700 µF 35 V low-ESR"'
    more = part("D9", "bridge-rectifier", bridge, 'use = "bridge 4 A 400 V"')
    more += part("C9", "capacitor", "plus = FEED, minus = GND", store)
    output = rest.replace('min = "0.05 A", max = "1.5 A"', 'min = "1.5 A", max = "1.5 A"')
    return survey_of(title + need + "[[need.output]]" + output + more)


@cache
def on_mains() -> MainsView:
    survey = fed().within("in cycles")
    points = survey.coarsest.extremes().take(np.array([0]))
    view = as_fed(survey, AS_SET).view(survey, points, survey.typical(1), None)
    assert view.solved.all()
    return cast(MainsView, view)


@cache
def in_cycles() -> CycleView:
    survey = fed().within("in cycles")
    points = CYCLES_ON_MAINS.points(survey)
    view = CYCLES_ON_MAINS.view(survey, points, survey.typical(points.count), None)
    assert view.solved.all()
    return view


def test_what_switches_is_looked_at_on_the_mains() -> None:
    survey = fed()
    assert as_fed(survey, IN_CYCLES) is CYCLES_ON_MAINS
    assert as_fed(survey, IN_USE) is CYCLES_ON_MAINS
    assert not CYCLES_ON_MAINS.unready(survey)


def test_its_input_stands_at_the_valley_and_at_the_crest() -> None:
    (course,) = on_mains().courses[""]
    reservoir = course.moments.of("U1", "supply_voltage")
    held = in_cycles().at.of("U1", "supply_voltage")
    assert held.min() == pytest.approx(reservoir.min(), rel=0.02)
    assert held.max() == pytest.approx(reservoir.max(), rel=0.02)
    assert reservoir.max() - reservoir.min() > 0.5


def test_the_coil_swings_most_at_the_crest() -> None:
    """(input - output) D / (L f), with the drops of switch and diode left out."""
    view = in_cycles()
    swing = view.kept("highest", "L1", "current") - view.kept("lowest", "L1", "current")
    held = view.at.of("U1", "supply_voltage")
    frequency = 150e3
    wanted = (held - 5.04) * 5.04 / held / (68e-6 * frequency)
    assert swing == pytest.approx(wanted, rel=0.15)
    valley, crest = np.split(swing, 2)
    assert (crest > valley).all()


def test_the_reservoir_carries_the_ripple_of_both() -> None:
    """Pulses of the rectifier by a sum of small steps, with the mean current drawn all the time.

    The stage draws more in the valley than at the crest, and the winding is held warm: within 12 %.
    """
    (course,) = on_mains().courses[""]
    drawn = float(course.means["mean", ("D9", "current")][0])
    step, kept, across = 4e-6, [], VOLTS
    for count in range(round(0.3 / step)):
        inner = np.sqrt(2.0) * VOLTS * abs(np.sin(2.0 * np.pi * 50.0 * count * step))
        charge = max(0.0, (inner - DROP - across) / OHMS)
        across += step * (charge - drawn) / (FARADS + BESIDE)
        kept.append(charge - drawn)
    slow = float(np.std(kept[-round(0.02 / step) :])) * FARADS / (FARADS + BESIDE)
    view = in_cycles()
    own = np.sqrt(view.kept("rms", "C9", "current") ** 2 - view.kept("mean", "C9", "current") ** 2)
    wanted = np.sqrt(own**2 + (slow / SHARE) ** 2)
    assert to_and_fro(view, "C9") == pytest.approx(wanted, rel=0.12)
    assert (own > 0.05).all()
