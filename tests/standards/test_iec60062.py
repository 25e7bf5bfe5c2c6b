"""Letter and colour codes, both ways."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from railwright.standards.iec60062 import (
    DRIFT_COLOURS,
    LETTERS,
    TOLERANCE_COLOURS,
    TOLERANCE_LETTERS,
    bands_to_value,
    decode,
    encode,
    tolerance_letter,
    tolerance_of,
    value_to_bands,
)


@pytest.mark.parametrize(
    ("code", "unit", "value"),
    [
        # IEC 60062, from memory; the rule, that the letter stands for the point, was also read
        # in public source text.
        ("4K7", "Ω", 4700.0),
        ("4R7", "Ω", 4.7),
        ("4n7", "F", 4.7e-9),
        ("R10", "Ω", 0.1),
        ("0R22", "Ω", 0.22),
        ("10R", "Ω", 10.0),
        ("1M5", "Ω", 1.5e6),
        ("100n", "F", 1e-7),
        ("p33", "F", 0.33e-12),
        ("2\u03bc2", "F", 2.2e-6),
        ("2u2", "F", 2.2e-6),
        ("1m5", "F", 1.5e-3),
        ("4µ7", "H", 4.7e-6),
        ("1G", "Ω", 1e9),
    ],
)
def test_letter_codes_read(code: str, unit: str, value: float) -> None:
    assert decode(code, unit) == value


@pytest.mark.parametrize(
    ("value", "unit", "code"),
    [
        (4700.0, "Ω", "4k7"),
        (0.1, "Ω", "R10"),
        (0.015, "Ω", "R015"),
        (10.0, "Ω", "10R"),
        (0.0, "Ω", "0R"),
        (1.5e6, "Ω", "1M5"),
        (10.2e3, "Ω", "10k2"),
        (4.7e-9, "F", "4n7"),
        (0.5e-12, "F", "p50"),
        (2.2e-6, "F", "2µ2"),
        (0.01, "H", "10m"),
    ],
)
def test_letter_codes_written(value: float, unit: str, code: str) -> None:
    assert encode(value, unit) == code


@given(st.sampled_from(list(LETTERS)), st.integers(1, 9999), st.data())
def test_what_is_written_reads_back(unit: str, digits: int, data: st.DataObject) -> None:
    powers = list(LETTERS[unit].values())
    power = data.draw(st.integers(min(powers) - 3, max(powers)))
    value = float(Decimal(digits).scaleb(power))
    if value >= 10.0 ** (min(powers) - 1):
        assert decode(encode(value, unit), unit) == value


@pytest.mark.parametrize(
    ("code", "unit"),
    [
        ("", "Ω"),
        ("R", "Ω"),
        ("47", "Ω"),
        ("4.7k", "Ω"),
        ("4k7k", "Ω"),
        ("4 k7", "Ω"),
        ("-4k7", "Ω"),
        ("4r7", "Ω"),
        ("4m7", "Ω"),
        ("4k7", "F"),
        ("4N7", "F"),
        ("4R7", "H"),
        ("4k7", "V"),
    ],
)
def test_what_is_no_code_is_refused(code: str, unit: str) -> None:
    with pytest.raises(ValueError, match="is not a letter code"):
        decode(code, unit)


@pytest.mark.parametrize(
    ("value", "unit", "reason"),
    [
        (12345.0, "Ω", "more than the 4 digits"),
        (-1.0, "Ω", "0 or more"),
        (float("nan"), "Ω", "0 or more"),
        (1e-9, "Ω", "outside the range"),
        (1e20, "Ω", "outside the range"),
        (1.0, "V", "exist for Ω, F and H"),
    ],
)
def test_what_no_code_can_say_is_refused(value: float, unit: str, reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        encode(value, unit)


@pytest.mark.parametrize("letter", TOLERANCE_LETTERS)
def test_tolerance_letters_both_ways(letter: str) -> None:
    assert tolerance_letter(tolerance_of(letter)) == letter


def test_tolerance_letters_as_published() -> None:
    # IEC 60062, from memory.
    assert [tolerance_of(letter) for letter in "BCDFGJKM"] == [
        0.001,
        0.0025,
        0.005,
        0.01,
        0.02,
        0.05,
        0.1,
        0.2,
    ]


def test_unknown_tolerances_are_refused() -> None:
    with pytest.raises(ValueError, match="'X' is no tolerance letter"):
        tolerance_of("X")
    with pytest.raises(ValueError, match=r"no tolerance letter for 0\.03"):
        tolerance_letter(0.03)


@pytest.mark.parametrize(
    ("bands", "value", "tolerance", "drift"),
    [
        # IEC 60062, from memory; the colour digits were also read in public source text.
        (("yellow", "violet", "red", "gold"), 4700.0, 0.05, None),
        (("brown", "black", "silver", "silver"), 0.1, 0.1, None),
        (("red", "red", "gold", "gold"), 2.2, 0.05, None),
        (("brown", "black", "orange"), 10e3, 0.2, None),
        (("brown", "black", "black", "red", "brown"), 10e3, 0.01, None),
        (("orange", "white", "red", "orange", "violet", "yellow"), 392e3, 0.001, 25e-6),
    ],
)
def test_colours_both_ways(
    bands: tuple[str, ...], value: float, tolerance: float, drift: float | None
) -> None:
    assert bands_to_value(bands) == (value, tolerance, drift)
    assert value_to_bands(value, tolerance, drift, 2 if len(bands) < 5 else 3) == bands


@pytest.mark.parametrize(
    ("colour", "drift"),
    [("brown", 100e-6), ("red", 50e-6), ("orange", 15e-6), ("yellow", 25e-6)],
)
def test_drift_colours_as_published(colour: str, drift: float) -> None:
    # IEC 60062, from memory.
    assert DRIFT_COLOURS[colour] == drift


@given(
    st.integers(100, 999),
    st.integers(-2, 9),
    st.sampled_from(list(TOLERANCE_COLOURS.values())),
    st.none() | st.sampled_from(list(DRIFT_COLOURS.values())),
)
def test_bands_written_read_back(
    digits: int, power: int, tolerance: float, drift: float | None
) -> None:
    value = float(Decimal(digits).scaleb(power))
    bands = value_to_bands(value, tolerance, drift, digits=3)
    assert len(bands) == (5 if drift is None else 6)
    assert bands_to_value(bands) == (value, tolerance, drift)


@pytest.mark.parametrize(
    ("bands", "reason"),
    [
        (("red", "red"), "2 bands: wanted are 3, 4, 5 or 6"),
        (("red",) * 7, "7 bands: wanted are 3, 4, 5 or 6"),
        (("gold", "red", "red", "gold"), "'gold' is no digit colour"),
        (("red", "red", "red", "black"), "'black' is no tolerance colour"),
        (("red", "red", "red", "red", "red", "gold"), "'gold' is no drift colour"),
        (("red", "red", "pink", "gold"), "'pink' is no multiplier colour"),
    ],
)
def test_impossible_bands_are_refused(bands: tuple[str, ...], reason: str) -> None:
    with pytest.raises(ValueError, match=reason):
        bands_to_value(bands)


@pytest.mark.parametrize(
    ("value", "tolerance", "drift", "digits", "reason"),
    [
        (4990.0, 0.01, None, 2, "more than 2 digits"),
        (0.0, 0.01, None, 2, "above 0"),
        (0.01, 0.01, None, 2, "outside the range"),
        (1e12, 0.01, None, 2, "outside the range"),
        (4700.0, 0.03, None, 2, "no tolerance colour"),
        (4700.0, 0.2, None, 3, "no tolerance colour"),
        (4700.0, 0.01, 70e-6, 3, "no drift colour"),
        (4700.0, 0.01, 50e-6, 2, "3 where a drift"),
    ],
)
def test_what_no_bands_can_say_is_refused(
    value: float, tolerance: float, drift: float | None, digits: int, reason: str
) -> None:
    with pytest.raises(ValueError, match=reason):
        value_to_bands(value, tolerance, drift, digits)
