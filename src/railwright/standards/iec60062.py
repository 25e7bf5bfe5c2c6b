"""Marking of resistors and capacitors: letter codes and colour codes, read and written.

Source: IEC 60062, "Marking codes for resistors and capacitors"; letters, colours and their
numbers from memory. The standard does not speak of inductors: for them the letters of
capacitors are used alike (common practice, no source). Left out, because editions differ or
because they are rare: the milliohm letter L, the colour pink, and the tolerances finer than
0.1 % or wider than 20 %.
"""

import math
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple, TypeVar

_Number = TypeVar("_Number", int, float)

_MICRO = "\u00b5"  # the micro sign; the Greek letter U+03BC looks the same

# The letter stands where the decimal point would stand. Powers of ten.
LETTERS: dict[str, dict[str, int]] = {
    "Ω": {"R": 0, "k": 3, "M": 6, "G": 9, "T": 12},
    "F": {"p": -12, "n": -9, _MICRO: -6, "m": -3, "F": 0},
    "H": {"n": -9, _MICRO: -6, "m": -3, "H": 0},
}
_SAME_LETTER = {
    "Ω": {"K": "k"},
    "F": {"u": _MICRO, "\u03bc": _MICRO},
    "H": {"u": _MICRO, "\u03bc": _MICRO},
}

TOLERANCE_LETTERS = {
    "B": 0.001,
    "C": 0.0025,
    "D": 0.005,
    "F": 0.01,
    "G": 0.02,
    "J": 0.05,
    "K": 0.1,
    "M": 0.2,
}

DIGIT_COLOURS = (
    "black",
    "brown",
    "red",
    "orange",
    "yellow",
    "green",
    "blue",
    "violet",
    "grey",
    "white",
)
_DIGIT = {colour: digit for digit, colour in enumerate(DIGIT_COLOURS)}
_MULTIPLIER = _DIGIT | {"gold": -1, "silver": -2}  # powers of ten
TOLERANCE_COLOURS = {
    "violet": 0.001,
    "blue": 0.0025,
    "green": 0.005,
    "brown": 0.01,
    "red": 0.02,
    "gold": 0.05,
    "silver": 0.1,
}
_WITHOUT_BAND = 0.2
DRIFT_COLOURS = {  # relative per kelvin
    "black": 250e-6,
    "brown": 100e-6,
    "red": 50e-6,
    "yellow": 25e-6,
    "green": 20e-6,
    "orange": 15e-6,
    "blue": 10e-6,
    "violet": 5e-6,
    "grey": 1e-6,
}

_CODE_DIGITS = 4  # significant digits that a letter code may carry


class Marking(NamedTuple):
    """What coloured bands say: value [Ω], tolerance [relative], drift [1/K] or None."""

    value: float
    tolerance: float
    drift: float | None


def letter_power(letter: str, unit: str) -> int | None:
    """Power of ten of a code letter for Ω, F or H; None where the letter is none of that unit.

    >>> letter_power("K", "Ω"), letter_power("K", "F")
    (3, None)
    """
    same = _SAME_LETTER.get(unit, {})
    return LETTERS.get(unit, {}).get(same.get(letter, letter))


def decode(code: str, unit: str) -> float:
    """Value [Ω, F or H] of a letter code.

    ValueError where the text is no code for that unit.

    >>> decode("4k7", "Ω"), decode("R10", "Ω"), decode("2u2", "F")
    (4700.0, 0.1, 2.2e-06)
    """
    match = re.fullmatch(r"([0-9]*)([^0-9\s])([0-9]*)", code)
    power = letter_power(match[2], unit) if match else None
    if match is None or power is None or not (match[1] or match[3]):
        letters = ", ".join(LETTERS.get(unit, ()))
        wanted = f"digits with one of {letters} at the decimal point" if letters else "Ω, F or H"
        raise ValueError(f"{code!r} is not a letter code for {unit}: wanted is {wanted}")
    return float(Decimal(f"{match[1] or 0}.{match[3] or 0}e{power}"))


def encode(value: float, unit: str) -> str:
    """Letter code of a value [Ω, F or H].

    ValueError where a code of four digits cannot say the value.

    >>> encode(4700, "Ω"), encode(0.1, "Ω"), encode(10, "Ω"), encode(2.2e-6, "F")
    ('4k7', 'R10', '10R', '2µ2')
    """
    if unit not in LETTERS:
        raise ValueError(f"letter codes exist for Ω, F and H, not for {unit!r}")
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{value!r} {unit} has no letter code: wanted is a value of 0 or more")
    marked = Decimal(f"{value:.{_CODE_DIGITS - 1}e}")
    if not math.isclose(float(marked), value, rel_tol=1e-9):
        raise ValueError(f"{value!r} {unit} needs more than the {_CODE_DIGITS} digits of a code")
    powers = {power: letter for letter, power in LETTERS[unit].items()}
    fitting = [power for power in powers if power <= marked.adjusted()] if value else [0]
    power = max(fitting, default=min(powers))
    whole, _, rest = f"{marked.scaleb(-power):f}".partition(".")
    rest = rest.rstrip("0")
    if len(whole) > _CODE_DIGITS or len(rest) > _CODE_DIGITS:
        raise ValueError(f"{value!r} {unit} lies outside the range of letter codes")
    if whole == "0" and rest:
        return powers[power] + rest.ljust(2, "0")
    return whole + powers[power] + rest


def tolerance_of(letter: str) -> float:
    """Relative tolerance that a letter means.

    >>> tolerance_of("F")
    0.01
    """
    if letter not in TOLERANCE_LETTERS:
        raise ValueError(
            f"{letter!r} is no tolerance letter: wanted is one of {', '.join(TOLERANCE_LETTERS)}"
        )
    return TOLERANCE_LETTERS[letter]


def tolerance_letter(tolerance: float) -> str:
    """Letter of a relative tolerance.

    >>> tolerance_letter(0.05)
    'J'
    """
    return _key_of(tolerance, TOLERANCE_LETTERS, "tolerance letter")


def bands_to_value(bands: Sequence[str]) -> Marking:
    """What three to six coloured bands of a resistor say, read from the digit end.

    Three bands are four without a tolerance, which is then 20 %. Four have two digits, five and
    six have three; the sixth is the drift.

    >>> bands_to_value(["yellow", "violet", "red", "gold"])
    Marking(value=4700.0, tolerance=0.05, drift=None)
    """
    if len(bands) not in (3, 4, 5, 6):
        raise ValueError(f"{len(bands)} bands: wanted are 3, 4, 5 or 6")
    count = 2 if len(bands) < 5 else 3
    digits = "".join(str(_look_up(band, _DIGIT, "digit")) for band in bands[:count])
    power = _look_up(bands[count], _MULTIPLIER, "multiplier")
    if len(bands) == 3:
        tolerance = _WITHOUT_BAND
    else:
        tolerance = _look_up(bands[count + 1], TOLERANCE_COLOURS, "tolerance")
    drift = _look_up(bands[5], DRIFT_COLOURS, "drift") if len(bands) == 6 else None
    return Marking(float(Decimal(f"{digits}e{power}")), tolerance, drift)


def value_to_bands(
    value: float, tolerance: float, drift: float | None = None, digits: int = 2
) -> tuple[str, ...]:
    """Coloured bands of a resistor: value [Ω], tolerance [relative], drift [1/K].

    Two digits give four bands, or three at 20 %; three digits give five; a drift is a sixth band
    and needs three digits.
    ValueError where the bands cannot say the value.

    >>> value_to_bands(4700, 0.05)
    ('yellow', 'violet', 'red', 'gold')
    >>> value_to_bands(10e3, 0.01, 50e-6, digits=3)
    ('brown', 'black', 'black', 'red', 'brown', 'red')
    """
    if digits not in (2, 3) or (drift is not None and digits == 2):
        raise ValueError("bands have 2 or 3 digits, and 3 where a drift is marked")
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{value!r} Ω has no bands: wanted is a value above 0")
    marked = Decimal(f"{value:.{digits - 1}e}")
    if not math.isclose(float(marked), value, rel_tol=1e-9):
        raise ValueError(f"{value!r} Ω needs more than {digits} digits")
    power = marked.adjusted() - digits + 1
    if not -2 <= power <= 9:
        raise ValueError(f"{value!r} Ω lies outside the range of {digits} digits and a multiplier")
    figures = [DIGIT_COLOURS[int(figure)] for figure in f"{marked.scaleb(-power):.0f}"]
    bands = [*figures, _key_of(power, _MULTIPLIER, "multiplier colour")]
    if digits == 3 or not math.isclose(tolerance, _WITHOUT_BAND):
        bands.append(_key_of(tolerance, TOLERANCE_COLOURS, "tolerance colour"))
    if drift is not None:
        bands.append(_key_of(drift, DRIFT_COLOURS, "drift colour"))
    return tuple(bands)


def _look_up(colour: str, table: dict[str, _Number], role: str) -> _Number:
    if colour not in table:
        raise ValueError(f"{colour!r} is no {role} colour: wanted is one of {', '.join(table)}")
    return table[colour]


def _key_of(value: float, table: Mapping[str, float], role: str) -> str:
    for key, published in table.items():
        if math.isclose(value, published, rel_tol=1e-9):
            return key
    raise ValueError(f"no {role} for {value!r}: there are {', '.join(map(repr, table.values()))}")
