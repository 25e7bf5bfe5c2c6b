"""A design on the bench, against sums by hand."""

from __future__ import annotations

import pytest
from surveys.supplies import part, supply, survey_of

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
