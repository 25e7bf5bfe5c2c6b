"""Kinds of supplies on the mains: a centre tap, two rails about it, a rail that is adjusted."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import alternating, part, resistor, supply, survey_of
from surveys.test_mains import resting
from surveys.test_situations import TRIPPING

from railwright.surveys.mains import as_fed
from railwright.surveys.situations import THRESHOLD, trip_points
from railwright.surveys.survey import Survey

WINDING = "mains transformer 230 V, 2 x 15 V, 30 VA"
TAPPED = part(
    "T1",
    "transformer",
    "primary_start = L, primary_end = N, secondary_start = A, secondary_end = GND, "
    "second_start = GND, second_end = B",
    f'use = "{WINDING}"',
)
RESERVOIR = 'use = "electrolytic 2200 µF 35 V low-ESR"'
RAIL = """[[need.output]]
name = "minus"
nets = { plus = "GND", minus = "RAWM" }
reference = "floating"
voltage = { min = "20 V", max = "20 V" }
current = { min = "0.1 A", max = "0.3 A" }
[need.surroundings]"""


def mains(text: str) -> str:
    """The same supply on mains of 230 V."""
    changes = {
        'kind = "dc"': 'kind = "ac"\nfrequency = { min = "50 Hz", max = "50 Hz" }',
        'nets = { plus = "IN", minus = "GND" }': 'nets = { plus = "L", minus = "N" }',
        'resistance = "0 Ω"': 'resistance = "0.5 Ω"',
    }
    for old, new in changes.items():
        text = text.replace(old, new, 1)
    return text


def dual() -> Survey:
    """A bridge on a centre-tapped secondary: two reservoirs, and nothing behind them."""
    parts = [
        TAPPED,
        part(
            "D1",
            "bridge-rectifier",
            "first = A, second = B, plus = OUT, minus = RAWM",
            'use = "bridge 1.5 A 400 V"',
        ),
        part("C1", "capacitor", "plus = OUT, minus = GND", RESERVOIR),
        part("C2", "capacitor", "plus = GND, minus = RAWM", RESERVOIR),
    ]
    text = supply(
        "\n".join(parts), input=(230.0, 230.0, 230.0), volts=(20.0, 20.0), amperes=(0.1, 0.3)
    )
    return survey_of(mains(text.replace("[need.surroundings]", RAIL, 1)))


def test_two_rails_about_a_centre_tap_mirror_each_other() -> None:
    view = resting(dual())
    (course,) = view.courses[""]
    loads = np.array([view.points.loads["main"], view.points.loads["minus"]])
    means = np.array([course.means["mean", (ref, "voltage")] for ref in ("C1", "C2")])
    for lane in range(view.points.count):
        (mirrored,) = np.flatnonzero((loads[:, lane] == loads[::-1].T).all(axis=1))
        assert means[::-1, mirrored] == pytest.approx(means[:, lane], rel=2e-3)
    # Each rail is fed by half of the windings on every half wave, so it falls with its own load.
    light, heavy = loads[0].argmin(), loads[0].argmax()
    assert means[0, light] > means[0, heavy] + 0.3


def test_both_halves_of_the_secondary_carry_the_same() -> None:
    """Of the mean current of both rails together each winding carries one rail's on a half wave."""
    view = resting(dual())
    (course,) = view.courses[""]
    even = np.flatnonzero(view.points.loads["main"] == view.points.loads["minus"])
    for lane in even:
        one, other = (
            course.means["rms", ("T1", name)][lane]
            for name in ("secondary_current", "second_current")
        )
        assert one == pytest.approx(other, rel=5e-3)
        # Pulses: the effective value is 1.5 to 2.5 times the mean of what the rails take.
        assert 1.5 < one / view.points.loads["main"][lane] < 2.5


HALF_WAVES = (
    ("secondary_start = A, secondary_end = GND", "anode = A, cathode = OUT"),
    ("secondary_start = GND, secondary_end = A", "anode = A, cathode = OUT"),
    ("secondary_start = OUT, secondary_end = A", "anode = GND, cathode = A"),
    ("secondary_start = A, secondary_end = OUT", "anode = GND, cathode = A"),
)


def test_a_half_wave_is_the_same_whichever_way_round_winding_and_diode_are() -> None:
    found = []
    for ends, diode in HALF_WAVES:
        parts = [
            part(
                "T1",
                "transformer",
                f"primary_start = L, primary_end = N, {ends}",
                f'use = "{WINDING}"',
            ),
            part("D1", "diode", diode, 'use = "1N4007"'),
            part("C1", "capacitor", "plus = OUT, minus = GND", RESERVOIR),
        ]
        text = supply(
            "\n".join(parts), input=(230.0, 230.0, 230.0), volts=(20.0, 20.0), amperes=(0.1, 0.1)
        )
        view = resting(survey_of(mains(text)))
        assert view.at.of("C1", "voltage")[0] > 15.0
        (course,) = view.courses[""]
        found.append([course.ripple["main"][0], course.means["mean", ("C1", "voltage")][0]])
    for other in found[1:]:
        assert other == pytest.approx(found[0], rel=1e-3)
    # A reservoir that is charged once a cycle falls by I T / C, less what the pulse takes of T:
    # Horowitz and Hill, The Art of Electronics, 3rd ed., section 1.6.3, from memory.
    assert found[0][0] == pytest.approx(0.1 * 20e-3 / 2200e-6, rel=0.2)
    # The peak of 230 V over 13 turns less the diode, the half of the ripple, and what the windings
    # drop while they charge.
    assert np.sqrt(2.0) * 230.0 / 13.0 - 4.0 < found[0][1] < np.sqrt(2.0) * 230.0 / 13.0 - 1.2


def test_a_rail_that_is_adjusted_has_its_voltage_in_the_cycle() -> None:
    """Two diodes on a centre tap, and a regulator of the 317 type set between 3 V and 9 V."""
    diodes = [
        part(f"D{n}", "diode", f"anode = {net}, cathode = RAW", 'use = "1N4007"')
        for n, net in ((1, "A"), (2, "B"))
    ]
    parts = [
        TAPPED,
        *diodes,
        part("C1", "capacitor", "plus = RAW, minus = GND", RESERVOIR),
        part(
            "U1",
            "adjustable-regulator",
            "input = RAW, output = OUT, adjust = ADJ",
            'use = "317 type 1.5 A"',
        ),
        resistor("R1", "OUT", "ADJ", 220.0),
        part(
            "RV1",
            "potentiometer",
            "one = ADJ, wiper = GND, two = GND",
            'use = "potentiometer ten-turn 2 kΩ"',
        ),
        part("C2", "capacitor", "plus = OUT, minus = GND", RESERVOIR),
    ]
    text = supply(
        "\n".join(parts), input=(230.0, 230.0, 230.0), volts=(3.0, 9.0), amperes=(0.02, 0.1)
    )
    control = '[[control]]\npart = "RV1"\nvalue = "position"\nsets = "main.voltage"\nrole = "set"\n'
    view = resting(survey_of(mains(text.replace("[[part]]", control + "[[part]]", 1))))
    (course,) = view.courses[""]
    output = course.moments.potential("OUT").reshape(view.points.count, -1)
    assert output.mean(axis=1) == pytest.approx(view.points.settings["main"], rel=5e-3)
    # What blocks sees both halves of the secondary: twice the peak, less a diode.
    blocked = course.moments.of("D1", "reverse_voltage").max()
    reservoir = course.moments.potential("RAW").max()
    assert blocked == pytest.approx(2.0 * reservoir + 0.7, rel=0.03)


def test_a_trip_is_found_on_the_stand_in() -> None:
    """A hundredth of the reservoir's volts across 0.1 Ω: 0.1 A for each volt."""
    bridge = part(
        "D1",
        "bridge-rectifier",
        "first = L, second = N, plus = IN, minus = GND",
        'use = "bridge 4 A 400 V"',
    )
    store = part("C1", "capacitor", "plus = IN, minus = GND", RESERVOIR)
    text = TRIPPING.replace("[[part]]", f"{bridge}{store}[[part]]", 1)
    survey = survey_of(alternating(text, 0.3))
    assert THRESHOLD.applies(survey)
    assert as_fed(survey, THRESHOLD) is THRESHOLD
    points = THRESHOLD.points(survey)
    view = THRESHOLD.view(survey, points, survey.typical(points.count), None)
    assert view.solved.all()
    (tripping,) = trip_points(view)["main"]
    current = tripping.solution_of("need.output.main", "current")
    across = tripping.potential("IN") - tripping.potential("GND")
    assert current == pytest.approx(0.1 * across, rel=0.02)
