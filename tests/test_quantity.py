"""Reading and showing values with units, and the spread of a value."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from railwright.quantity import UNITS, QuantityError, Spread, celsius, kelvin, parse, show

ACCEPTED = [
    ("4k7", "Ω", 4700.0),
    ("4K7", "Ω", 4700.0),
    ("R10", "Ω", 0.1),
    ("4R7", "Ω", 4.7),
    ("10R", "Ω", 10.0),
    ("0R", "Ω", 0.0),
    ("1M5", "Ω", 1.5e6),
    ("27k", "Ω", 27e3),
    ("27 k", "Ω", 27e3),
    ("4.7k", "Ω", 4700.0),
    ("1 M", "Ω", 1e6),
    ("27 kΩ", "Ω", 27e3),
    ("27\u00a0k\u2126", "Ω", 27e3),
    ("27\u202fkΩ", "Ω", 27e3),
    ("27000 Ω", "Ω", 27e3),
    ("1 Mohm", "Ω", 1e6),
    ("10 ohms", "Ω", 10.0),
    ("100 mΩ", "Ω", 0.1),
    ("100 MΩ", "Ω", 1e8),
    ("2u2", "F", 2.2e-6),
    ("2µ2", "F", 2.2e-6),
    ("2\u03bc2", "F", 2.2e-6),
    ("100n", "F", 1e-7),
    ("4p7", "F", 4.7e-12),
    ("10 mF", "F", 0.01),
    ("470 uF", "F", 470e-6),
    ("470 \u03bcF", "F", 470e-6),
    ("1F", "F", 1.0),
    ("47µ", "H", 47e-6),
    ("4m7", "H", 4.7e-3),
    ("10m", "H", 0.01),
    ("5 V", "V", 5.0),
    ("5V", "V", 5.0),
    ("  5 V ", "V", 5.0),
    ("+5 V", "V", 5.0),
    ("-5 V", "V", -5.0),
    ("\u22125 V", "V", -5.0),
    ("1e-3 V", "V", 1e-3),
    ("0 V", "V", 0.0),
    ("40 °C", "°C", 313.15),
    ("-40 °C", "°C", 233.15),
    ("0 °C", "°C", 273.15),
    ("313.15 K", "°C", 313.15),
    ("10 K", "K", 10.0),
    ("3 %", "1", 0.03),
    ("100 ppm", "1", 1e-4),
    ("0.997", "1", 0.997),
    (0.997, "1", 0.997),
    (3, "1", 3.0),
    ("100 ppm/K", "1/K", 1e-4),
    ("-0.1 %/K", "1/K", -1e-3),
    ("0.02 %/V", "1/V", 2e-4),
    ("5 ms", "s", 5e-3),
    ("100 ns", "s", 1e-7),
    ("10 min", "s", 600.0),
    ("2000 h", "s", 7.2e6),
    ("1.6 mm", "m", 1.6e-3),
    ("2 cm", "m", 0.02),
    ("35 µm", "m", 35e-6),
    ("2.5 mm²", "m²", 2.5e-6),
    ("2.5 mm^2", "m²", 2.5e-6),
    ("250 g", "kg", 0.25),
    ("45°", "°", 45.0),
    ("60 dB", "dB", 60.0),
    ("2.2 Ah", "C", 7920.0),
    ("9 K/W", "K/W", 9.0),
    ("12 A²s", "A²s", 12.0),
    ("100 V/mV", "V/V", 1e5),
    ("20 mΩ/m", "Ω/m", 0.02),
    ("84.2 Ω/km", "Ω/m", 0.0842),
    ("0.5 V/µs", "V/s", 5e5),
    ("0.5 V/us", "V/s", 5e5),
    ("-2 mV/K", "V/K", -2e-3),
    ("18 nV/√Hz", "V/√Hz", 18e-9),
]


@pytest.mark.parametrize(("text", "unit", "value"), ACCEPTED)
def test_accepted(text: object, unit: str, value: float) -> None:
    assert parse(text, unit) == value


# Text, unit, and a word of the refusal that tells the reason or the cure.
REFUSED: list[tuple[object, str, str]] = [
    # no unit, or only a part of it
    ("27", "Ω", "Write 27 Ω"),
    ("1e3", "Ω", "Write 1e3 Ω"),
    ("40", "°C", "Write 40 °C"),
    ("4.7k", "V", "Write 4.7 kV"),
    ("5 m", "V", "Write 5 mV"),
    ("100n", "Ω", "Write 100 nΩ"),
    ("5 k", "1", "unit is missing"),
    (27, "Ω", 'Write "27 Ω"'),
    (0.5, "1/K", "unit is missing"),
    # not a text, not a number
    (True, "1", "not a ratio"),
    (False, "V", "not a voltage"),
    (None, "V", "not a voltage"),
    ([5], "V", "not a voltage"),
    (math.nan, "1", "not finite"),
    (math.inf, "1", "not finite"),
    ("", "V", "empty"),
    (" ", "V", "empty"),
    ("V", "V", "Write 5 V"),
    ("27 kilo", "Ω", "Write 27k, 27 kΩ or 27000 Ω"),
    ("5 volts", "V", "Write 5 V"),
    ("1 Megohm", "Ω", "Write 27k"),
    ("3 pct", "1", "Write 3 %"),
    ("0x10 V", "V", "Write 5 V"),
    ("\u0663 V", "V", "Write 5 V"),
    ("¼ W", "W", "Write 15 W"),
    ("10²", "1", "Write 3 %"),
    ("--5 V", "V", "Write 5 V"),
    ("- 5 V", "V", "Write 5 V"),
    ("5. V", "V", "Write 5 V"),
    (".5 V", "V", "Write 0.5 V"),
    ("1.2.3 V", "V", "Write 5 V"),
    ("inf V", "V", "finite"),
    ("-inf V", "V", "finite"),
    ("nan", "1", "finite"),
    ("1e999 V", "V", "exponent"),
    ("1e-400 V", "V", "exponent"),
    ("1e9999 V", "V", "Write 5 V"),
    # decimal commas and thousands
    ("1,5 k", "Ω", "Write 1.5 k"),
    ("1,5", "1", "Write 1.5"),
    ("1,500 Ω", "Ω", "1.500 Ω or 1500 Ω"),
    ("1,000,000 Ω", "Ω", "Write 1000000 Ω"),
    ("1.000.000 Ω", "Ω", "not a resistance"),
    ("1 000 Ω", "Ω", "Write 1000 Ω"),
    ("1\u202f000 Ω", "Ω", "Write 1000 Ω"),
    ("1'000 Ω", "Ω", "Write 1000 Ω"),
    ("1_000", "1", "Write 1000"),
    # milli, mega, micro, kilo
    ("1 m", "Ω", "1 mΩ or 1 MΩ"),
    ("1m", "Ω", "1 mΩ or 1 MΩ"),
    ("1m5", "Ω", "1.5 mΩ or 1.5 MΩ"),
    ("10m", "F", "10 mF or 10 µF"),
    ("1m5", "F", "1.5 mF or 1.5 µF"),
    ("10 MF", "F", "10 mF or 10 µF"),
    ("27 KΩ", "Ω", "Write 27 kΩ"),
    ("150 KHz", "Hz", "Write 150 kHz"),
    ("50 hz", "Hz", "Write 50 Hz"),
    ("5 mhz", "Hz", "5 mHz or 5 MHz"),
    ("1 MOHM", "Ω", "1 mohm or 1 Mohm"),
    ("4.7 k Ω", "Ω", "Write 27k"),
    ("2.2 uu", "F", "Write 100n"),
    # letter codes in the wrong place
    ("4k7", "V", "for Ω, F and H"),
    ("4k7 V", "V", "for Ω, F and H"),
    ("4k7 Ω", "Ω", "no unit behind it"),
    ("4k7", "F", "no such code is one of F"),
    ("4R7", "H", "no such code is one of H"),
    ("2µ2", "Ω", "no such code is one of Ω"),
    ("4r7", "Ω", "Write 27k"),
    ("-4k7", "Ω", "Write 27k"),
    ("10 R", "Ω", "Write 27k"),
    ("R", "Ω", "Write 27k"),
    ("k", "Ω", "Write 27k"),
    # more than one value
    ("5 V 3 A", "V", "more than one"),
    ("5 V to 6 V", "V", "more than one"),
    ("5-6 V", "V", "more than one"),
    ("1/2 W", "W", "more than one"),
    ("2 h 30 min", "s", "more than one"),
    ("27 kΩ 1 %", "Ω", "more than one"),
    ("5..6 V", "V", "not a voltage"),
    ("±5 %", "1", "tolerance"),
    ("5 V ± 1 V", "V", "tolerance"),
    # another quantity
    ("5 V", "A", "not a current: it is a voltage"),
    ("5 V", "Ω", "not a resistance: it is a voltage"),
    ("5 min", "m", "it is a time"),
    ("5 m", "s", "Write 5 ms"),
    ("0.5 °", "1", "it is an angle"),
    ("40 F", "°C", "it is a capacitance"),
    ("40 C", "°C", "it is a charge"),
    ("10 mK", "°C", "it is a temperature difference"),
    ("18 nV/Hz", "V/√Hz", "Write 18 nV/√Hz"),
    ("1 kA²s", "A²s", "Write 12 A²s"),
    ("5 Ω/V", "Ω/m", "Write 20.9 mΩ/m"),
    ("5 V/", "V", "Write 5 V"),
    ("3 %", "V", "it is a ratio"),
    # temperatures and their differences
    ("10 °C", "K", "Write 10 K"),
    ("100 ppm/°C", "1/K", "Write 100 ppm/K"),
    ("9 °C/W", "K/W", "Write 9 K/W"),
    ("-300 °C", "°C", "absolute zero"),
    ("-1 K", "°C", "absolute zero"),
]


@pytest.mark.parametrize(("text", "unit", "reason"), REFUSED)
def test_refused(text: object, unit: str, reason: str) -> None:
    with pytest.raises(QuantityError) as refusal:
        parse(text, unit)
    assert repr(text) in str(refusal.value)
    assert reason in str(refusal.value)


@pytest.mark.parametrize("act", [lambda: parse("5 Pa", "Pa"), lambda: show(5.0, "Pa")])
def test_unit_outside_the_table_is_refused(act: Callable[[], object]) -> None:
    with pytest.raises(QuantityError, match="'Pa' is not in the table of units"):
        act()


@pytest.mark.parametrize("unit", UNITS)
def test_examples_of_the_table_are_read(unit: str) -> None:
    for text in UNITS[unit].example.replace(" or ", ", ").split(", "):
        assert math.isfinite(parse(text, unit))


@pytest.mark.parametrize("unit", UNITS)
def test_no_spelling_of_a_unit_has_two_values(unit: str) -> None:
    for text, factor in UNITS[unit].spellings.items():
        if unit != "°C":
            assert parse(f"1 {text}", unit) == float(factor)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (4700.0, "Ω", "4.7 kΩ"),
        (0.12, "Ω", "120 mΩ"),
        (999.96, "Ω", "1 kΩ"),
        (1.25, "V", "1.25 V"),
        (0.0, "V", "0 V"),
        (-0.0021, "V/K", "-2.1 mV/K"),
        (0.03, "1", "3 %"),
        (0.997, "1", "99.7 %"),
        (1.0, "1", "100 %"),
        (1.05, "1", "105 %"),
        (2.0, "1", "2"),
        (150.0, "1", "150"),
        (1e-4, "1/K", "100 ppm/K"),
        (313.15, "°C", "40 °C"),
        (273.15, "°C", "0 °C"),
        (10.0, "K", "10 K"),
        (1500.0, "K", "1500 K"),
        (90.0, "s", "90 s"),
        (7200.0, "s", "2 h"),
        (2.2e-6, "F", "2.2 µF"),
        (0.05, "kg", "50 g"),
        (1.5e-6, "m²", "1.5 mm²"),
        (45.0, "°", "45°"),
        (3e6, "V/s", "3 V/µs"),
        (1.8e-8, "V/√Hz", "18 nV/√Hz"),
        (1e-20, "F", "1e-20 F"),
        (1e16, "V", "1e16 V"),
        (math.inf, "V", "∞ V"),
        (-math.inf, "V", "-∞ V"),
        (math.nan, "V", "no value"),
    ],
)
def test_shown(value: float, unit: str, text: str) -> None:
    assert show(value, unit) == text


def test_more_digits_are_shown_when_asked() -> None:
    assert [show(1234.567, "V", digits) for digits in (1, 3, 5)] == ["1 kV", "1.23 kV", "1.2346 kV"]


magnitudes = st.floats(1e-30, 1e30) | st.floats(1e-9, 1e9) | st.floats(0.5, 2000)
signed = st.builds(lambda size, sign: size * sign, magnitudes, st.sampled_from([-1, 1]))


@given(signed, st.sampled_from([unit for unit in UNITS if unit != "°C"]), st.integers(1, 12))
def test_what_is_shown_reads_back(value: float, unit: str, digits: int) -> None:
    again = parse(show(value, unit, digits), unit)
    assert again == pytest.approx(value, rel=0.51 * 10.0 ** (1 - digits))


@given(st.floats(0, 5000), st.integers(3, 12))
def test_temperature_shown_reads_back(value: float, digits: int) -> None:
    shown = celsius(value)
    again = celsius(parse(show(value, "°C", digits), "°C"))
    assert again == pytest.approx(shown, rel=0.51 * 10.0 ** (1 - digits), abs=1e-8)


@given(st.text(max_size=12), st.sampled_from(list(UNITS)))
def test_any_text_is_a_finite_value_or_refused(text: str, unit: str) -> None:
    try:
        assert math.isfinite(parse(text, unit))
    except QuantityError as refusal:
        assert repr(text) in str(refusal)  # noqa: PT017


@given(st.integers(1, 999), st.sampled_from(["V", "A", "Ω", "W", "J", "Hz"]))
def test_milli_is_never_mega(number: int, unit: str) -> None:
    assert parse(f"{number} m{unit}", unit) == number / 1e3
    assert parse(f"{number} M{unit}", unit) == number * 1e6


def test_kelvin_and_celsius_take_arrays() -> None:
    temperatures = np.array([-40.0, 25.0])
    np.testing.assert_allclose(kelvin(temperatures), [233.15, 298.15], rtol=1e-12)
    np.testing.assert_allclose(celsius(kelvin(temperatures)), temperatures, rtol=1e-12)


# Spread

limits = st.lists(
    st.floats(-1e6, 1e6, allow_subnormal=False).map(lambda x: round(x, 6)), min_size=3, max_size=3
).map(sorted)
spreads = st.one_of(
    limits.map(lambda ends: Spread.limits(*ends)),
    st.builds(Spread.tolerance, st.floats(-1e6, 1e6), st.floats(0, 1), st.floats(0, 1e-2)),
    st.builds(Spread.exact, st.floats(-1e6, 1e6)),
)
shares = st.lists(st.floats(0, 1), min_size=2, max_size=20)


@given(spreads, shares)
def test_quantiles_rise_within_the_limits(spread: Spread, share: list[float]) -> None:
    values = spread.quantile(np.sort(share))
    assert values.min() >= spread.low
    assert values.max() <= spread.high
    assert np.all(np.diff(values) >= -1e-12 * max(abs(spread.low), abs(spread.high)))
    assert spread.quantile([0.0, 1.0]).tolist() == [spread.low, spread.high]


def test_uniform_quantiles_have_the_published_moments() -> None:
    # Mean and variance of the uniform distribution: (low + high)/2, width²/12. Any textbook.
    values = Spread.tolerance(-100.0, 0.05).quantile((np.arange(100_000) + 0.5) / 100_000)
    assert values.mean() == pytest.approx(-100.0, rel=1e-9)
    assert values.var() == pytest.approx(10.0**2 / 12, rel=1e-6)


@pytest.mark.parametrize("ends", [(1.0, 2.0, 5.0), (-5.0, -2.0, -1.0), (0.0, 0.0, 1.0), (0, 1, 1)])
def test_triangular_quantiles_have_the_published_moments(ends: tuple[float, float, float]) -> None:
    # Triangular distribution: mean (a+b+c)/3, variance (a²+b²+c²-ab-ac-bc)/18. Any textbook.
    low, mode, high = ends
    values = Spread.limits(*ends).quantile((np.arange(100_000) + 0.5) / 100_000)
    variance = (low**2 + high**2 + mode**2 - low * high - low * mode - high * mode) / 18
    assert values.mean() == pytest.approx(sum(ends) / 3, rel=1e-6)
    assert values.var() == pytest.approx(variance, rel=1e-4)


@given(spreads, st.floats(-100, 100))
def test_scaling_scales_limits_and_keeps_order(spread: Spread, factor: float) -> None:
    scaled = spread.scaled(factor)
    assert {scaled.low, scaled.high} == {spread.low * factor, spread.high * factor}
    assert scaled.drift == spread.drift
    assert scaled.width == pytest.approx(spread.width * abs(factor), rel=1e-6, abs=1e-6)


@given(spreads)
def test_a_spread_contains_itself(spread: Spread) -> None:
    assert spread.contains(spread)
    assert spread.intersects(spread)


def test_narrower_spreads_are_found_out() -> None:
    row = Spread.tolerance(100.0, 0.05, drift=1e-4)
    assert row.contains(Spread.exact(100.0))
    assert not Spread.exact(100.0).contains(row)
    assert not Spread.tolerance(100.0, 0.05).contains(row)  # without the drift
    assert not Spread.limits(95.5, 100.0, 106.0, drift=1e-4).contains(row)  # one limit inside
    assert Spread.limits(90.0, 100.0, 110.0, drift=1e-4).contains(row)
    assert row.intersects(Spread.limits(104.0, 107.0, 110.0))
    assert not row.intersects(Spread.limits(105.1, 107.0, 110.0))


def test_exact_means_neither_width_nor_drift() -> None:
    assert Spread.exact(5.0).is_exact
    assert Spread.tolerance(5.0, 0.0).is_exact
    assert not Spread.tolerance(5.0, 0.0, drift=1e-4).is_exact
    assert not Spread.limits(4.0, 5.0, 6.0).is_exact


@pytest.mark.parametrize(
    ("make", "reason"),
    [
        (lambda: Spread.limits(3.0, 2.0, 4.0), "low <= typical <= high"),
        (lambda: Spread.limits(1.0, 5.0, 4.0), "low <= typical <= high"),
        (lambda: Spread.limits(1.0, math.nan, 4.0), "finite"),
        (lambda: Spread.limits(1.0, 2.0, math.inf), "finite"),
        (lambda: Spread(1.0, 2.0, 3.0, "exact"), "no width"),
        (lambda: Spread.tolerance(1.0, -0.1), "tolerance is 0 or more"),
        (lambda: Spread.tolerance(1.0, math.nan), "tolerance is 0 or more"),
        (lambda: Spread.tolerance(1.0, 0.1, drift=-1e-4), "drift is 0 or more"),
        (lambda: Spread.tolerance(1.0, 0.1).quantile([0.5, 1.1]), "between 0 and 1"),
        (lambda: Spread.tolerance(1.0, 0.1).quantile(math.nan), "between 0 and 1"),
    ],
)
def test_impossible_spreads_are_refused(make: Callable[[], object], reason: str) -> None:
    with pytest.raises(QuantityError, match=reason):
        make()
