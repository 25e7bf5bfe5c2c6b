"""Headroom at the end of a reservoir's life, against a rectifier summed up by small steps."""

from __future__ import annotations

import pytest
from checks.test_on_mains import asked, regulated, summed

from railwright.checks.headroom import SeriesHeadroom
from railwright.checks.worn import WornHeadroom

DROP = 2.0 * 0.95
"""Datasheets of in-line bridges of 4 A: a diode at 2 A [V]."""


@pytest.mark.parametrize(("microfarads", "holds"), [(2200, True), (1000, False)])
def test_a_worn_reservoir_has_a_deeper_valley(microfarads: int, holds: bool) -> None:
    text = regulated(17.0, 1.0, microfarads)
    new, worn = asked(text, SeriesHeadroom, "U1"), asked(text, WornHeadroom, "U1")
    farads = microfarads * 1e-6
    valleys = [summed(17.0, 0.6, f, 1.0, DROP).valley for f in (farads, 0.8 * farads)]
    lost = new.value[0] - worn.value[0]
    assert lost == pytest.approx(valleys[0] - valleys[1], abs=0.1)
    assert lost > 0.4
    assert new.margin[0] > 0
    assert (worn.margin[0] > 0) == holds
