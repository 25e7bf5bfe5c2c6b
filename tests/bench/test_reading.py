"""Meters and verdicts."""

from __future__ import annotations

import pytest

from railwright.bench.reading import Meter, Place, Reading, ReadingError, verdict

OUT = Place("voltage", "OUT", "GND")


def test_the_error_of_a_meter_is_a_share_and_counts_of_its_range() -> None:
    # 0.5 % + 3 digits of 4000: of 12 V on the range of 20 V, 60 mV + 3 x 5 mV (the usual reading of
    # a datasheet's "% of reading + digits", common practice, no source).
    meter = Meter.of_words("0.5 % + 3 digits of 4000")
    assert meter.error(12.0) == pytest.approx(0.06 + 3 * 20.0 / 4000)
    assert Meter.of_words("1 %").error(12.0) == pytest.approx(0.12)


def test_words_that_are_no_accuracy_are_refused() -> None:
    with pytest.raises(ReadingError, match='Write "1 %"'):
        Meter.of_words("good")


@pytest.mark.parametrize(
    ("value", "told"),
    [(4.9, "inside"), (5.0, "inside"), (5.1, "inside"), (5.14, "doubtful"), (4.86, "doubtful")],
)
def test_only_what_the_meter_cannot_explain_is_outside(value: float, told: str) -> None:
    assert verdict(Reading("all", OUT, value, 0.05), 4.9, 5.1) == told
    assert verdict(Reading("all", OUT, value + 1.0, 0.05), 4.9, 5.1) == "outside"
