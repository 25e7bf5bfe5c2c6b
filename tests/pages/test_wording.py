"""Results in words: digits that tell, signs that are kept, nothing rounded to a pass."""

from dataclasses import replace

import pytest
from pages.fake_proof import fake_proof

from railwright.pages import wording
from railwright.prove.proof import Cause, Finding, Looked, Share

(HEADROOM,) = (f for f in fake_proof().findings if f.id == "headroom.series")
(JUNCTION,) = (f for f in fake_proof().findings if f.id == "stress.junction")


def judged(value: float, limit: float, margin: float, unit: str = "V") -> tuple[str, str]:
    return wording.value_and_limit(
        replace(HEADROOM, value=value, limit=limit, margin=margin, unit=unit)
    )


class TestValueAndLimit:
    def test_says_on_which_side_it_must_stay(self) -> None:
        assert judged(1.42, 2.5, -1.08) == ("1.42 V", "at least 2.5 V")
        assert judged(0.32, 0.3, -0.02) == ("320 mV", "at most 300 mV")

    def test_takes_the_digits_that_tell_them_apart(self) -> None:
        assert judged(2.4996, 2.5, -0.0004) == ("2.4996 V", "at least 2.5 V")
        assert judged(2.5, 2.5, 0.0) == ("2.5 V", "limit 2.5 V")

    def test_does_not_guess_a_side(self) -> None:
        assert judged(1.0, 3.0, 0.5) == ("1 V", "limit 3 V")

    def test_temperatures_are_in_celsius(self) -> None:
        assert wording.value_and_limit(JUNCTION) == ("117 °C", "at most 125 °C")
        assert wording.margin(JUNCTION) == "+7.8 K"

    def test_a_unit_that_is_not_in_the_table_is_shown_all_the_same(self) -> None:
        assert judged(2.0, 3.0, 1.0, "turns") == ("2 turns", "at most 3 turns")

    def test_nothing_measured(self) -> None:
        bare = Finding("x", "U1", "Is it?", "holds", "It is.", "")
        assert wording.value_and_limit(bare) == (wording.NOTHING, "")
        assert wording.margin(bare) == wording.NOTHING


@pytest.mark.parametrize(
    ("reserve", "text"),
    [
        (-0.0001, "-0.01 %"),
        (0.0512, "5.1 %"),
        (0.0996, "10 %"),
        (0.0994, "9.9 %"),
        (-1.0, "-100 %"),
        (-99.0, "< -999 %"),
        (float("nan"), wording.NOTHING),
    ],
)
def test_percent_keeps_the_sign(reserve: float, text: str) -> None:
    assert wording.percent(reserve) == text


class TestPassing:
    def test_all_is_never_a_hundred_percent_of_a_batch(self) -> None:
        """The estimate is that of a batch and stays below 1, whatever passes."""
        text = wording.passing(Share(0.9995, 0.9963, 1.0, 1000))
        assert text.startswith("all of")
        assert text.endswith("pass: at least 99.6 % of a batch will")

    def test_none_is_never_nothing_of_a_batch(self) -> None:
        text = wording.passing(Share(0.00025, 0.0, 0.0018, 2000))
        assert text.startswith("none of")
        assert text.endswith("passes: at most 0.2 % of a batch will")

    def test_all_but_one_is_not_all(self) -> None:
        text = wording.passing(Share(0.9999, 0.9994, 0.99999, 10000))
        assert text.startswith("about 99.9 % pass: 99.9 % to 100 % of a batch")


def test_causes_tell_the_spread_and_leave_mistakes_out() -> None:
    (trip,) = (f for f in fake_proof().findings if f.id == "overload.carries")
    assert wording.causes(HEADROOM, 2) == "U2 dropout 61 %, RS1 resistance 22 % of the spread"
    assert wording.causes(trip) == ""
    assert wording.mistakes(trip) == "R9 resistance: 10 kΩ instead of 1 kΩ"


def test_a_connection_is_told_by_what_would_be_right() -> None:
    cause = Cause("U1", "", 1.0, "plus and minus of U1 exchanged")
    assert wording.mistakes(replace(HEADROOM, causes=[cause])) == cause.instead


def test_causes_of_a_wiring_fault_have_no_share() -> None:
    assert wording.causes(replace(HEADROOM, margin=None), 1) == "U2 dropout"


def test_looked_leaves_out_what_was_not_needed() -> None:
    assert wording.looked(Looked(4, 0, 0, "default")) == "4 points, depth default"


def test_a_name_cannot_steer_the_terminal() -> None:
    assert wording.printable("a\x1b[31mb\x07\tc") == "a\ufffd[31mb\ufffd c"
