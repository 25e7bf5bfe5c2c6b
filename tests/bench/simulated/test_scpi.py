"""Simulated instruments take what the standard says, and put what they do not into their queue.

SCPI-99, volume 1 (short and long forms), volume 2, chapter 21 (error numbers), IEEE 488.2 (blocks,
common commands): from memory.
"""

from __future__ import annotations

import math

import pytest

from railwright.bench.simulated.scpi import Refused, Speaker, boolean, number, real


@pytest.fixture
def speaker() -> Speaker:
    found = Speaker("MAKER,TYPE,1,1.0")
    found.on("[SOURce:]VOLTage[:LEVel][:IMMediate]", lambda text: str(number(text, 0.0, 10.0)))
    found.on("MEASure[:SCALar]:VOLTage[:DC]?", lambda _: "5")
    return found


@pytest.mark.parametrize(
    "message",
    ["VOLT 3", "VOLTAGE 3", "volt 3", "SOUR:VOLT 3", "SOURCE:VOLTAGE:LEVEL:IMMEDIATE 3",
     ":SOURce:VOLTage 3.0E0", "VOLT:LEV 3"],
)  # fmt: skip
def test_short_and_long_forms_are_one(speaker: Speaker, message: str) -> None:
    assert speaker.answer(message) == "3.0"


@pytest.mark.parametrize(
    ("message", "error"),
    [("VOLTA 3", -113), ("SOURVOLT 3", -113), ("VOLT:", -113), ("CURR 1", -113), ("VOLT?", -113),
     ("VOLT 11", -222), ("VOLT -1", -222), ("VOLT five", -104), ("VOLT nan", -222), ("VOLT", -104)],
)  # fmt: skip
def test_what_is_not_taken_is_in_the_error_queue(
    speaker: Speaker, message: str, error: int
) -> None:
    assert speaker.answer(message) is None
    assert str(speaker.answer("SYST:ERR?")).startswith(f"{error},")
    assert speaker.answer("SYSTem:ERRor:NEXT?") == '0,"No error"'


def test_clearing_empties_the_queue(speaker: Speaker) -> None:
    speaker.answer("NONSENSE")
    speaker.answer("*CLS")
    assert speaker.answer("SYST:ERR?") == '0,"No error"'
    assert speaker.answer("*idn?") == "MAKER,TYPE,1,1.0"


def test_numbers_and_switches() -> None:
    assert [boolean(text) for text in ("ON", "1", "off", "0")] == [True, True, False, False]
    with pytest.raises(Refused, match="-104"):
        boolean("maybe")
    assert real(2.5) == "2.500000E+00"
    # SCPI-99, volume 1, 7.2.1.4 and 7.2.1.5: infinities and not-a-number.
    said = [real(v) for v in (math.inf, -math.inf, math.nan)]
    assert [float(v) for v in said] == [9.9e37, -9.9e37, 9.91e37]
