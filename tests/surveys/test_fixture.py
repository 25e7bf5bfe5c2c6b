"""A design on the bench, against sums by hand."""

from __future__ import annotations

import pytest
from surveys.supplies import alternating, part, supply, survey_of

from railwright.surveys.situations import AS_SET


def test_a_case_that_nothing_touches_is_cooled_by_the_air_alone() -> None:
    """5 V across 1 A less what leaves: 5 K/W to the case and no sink are 65 K/W to the air."""
    pins = "input = IN, output = OUT, ground = GND"
    own = 'junction_to_ambient = { typical = "65 K/W", tolerance = "0 %" }'
    use = f'use = "7805 type 1 A"\n{own}'
    warm = []
    for more in ("", ", case = TAB"):
        text = supply(
            part("U1", "fixed-regulator", pins + more, use), input=(8.0, 8.0, 8.0),
            amperes=(0.2, 0.2),
        )  # fmt: skip
        survey = survey_of(text)
        points = survey.range.middle()
        at = AS_SET.view(survey, points, survey.typical(1), None).at
        assert at.solved.all()
        rise = 65.0 * at.of("U1", "power")[0]
        assert at.of("U1", "junction")[0] == pytest.approx(points.ambient[0] + rise, abs=0.01)
        warm.append(at.of("U1", "junction")[0])
    assert warm[0] == pytest.approx(warm[1])


def test_what_lies_ahead_of_a_transformer_hangs_on_its_primary_at_rest() -> None:
    """Without an alternating source nothing drives it: it lies at the secondary's potential."""
    parts = [
        part("F1", "fuse", "one = L, two = LIVE", 'use = "fuse T 0.2 A"'),
        part(
            "T1",
            "transformer",
            "primary_start = LIVE, primary_end = N, secondary_start = A, secondary_end = GND",
            'use = "mains transformer 230 V, 24 V, 30 VA"',
        ),
        part("D1", "diode", "anode = A, cathode = OUT", 'use = "1N4007"'),
    ]
    text = supply(
        "\n".join(parts), input=(230.0, 230.0, 230.0), volts=(20.0, 20.0), amperes=(0.1, 0.1)
    )
    survey = survey_of(alternating(text, 0.5))
    points = survey.range.middle()
    at = AS_SET.view(survey, points, survey.typical(1), None).at
    assert at.solved.all()
    for net in ("L", "LIVE", "N"):
        assert at.potential(net)[0] == pytest.approx(0.0, abs=1e-6)
    assert at.potential("OUT")[0] > 20.0
