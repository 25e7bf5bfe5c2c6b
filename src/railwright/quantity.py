"""Values with units: strict reading, engineering notation, and the spread of a value.

A text is read only where it can mean one thing. Case decides between milli and mega, a bare
number is refused where a unit is due, and so are decimal commas and thousands separators. A
refusal says what was found, what is wanted and what to write instead.

Values are SI. Exceptions, because their SI unit is not what the trade speaks: "°" is in degrees
and "dB" in decibels. "°C" stands for an absolute temperature, whose value is in kelvin; "K"
stands for a temperature difference. Prefixes are those of the SI brochure; times in hours and
minutes, charge in ampere-hours and energy in watt-hours are read as well.
"""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from railwright.standards import iec60062

ZERO_CELSIUS = 273.15  # K, by definition of the Celsius temperature (SI brochure)

Temperature = TypeVar("Temperature", float, NDArray[np.float64])


class QuantityError(ValueError):
    """A value that cannot be used, with what was found, what is wanted and what to write."""


def kelvin(temperature: Temperature) -> Temperature:
    """Kelvin of a Celsius temperature.

    >>> kelvin(40.0)
    313.15
    """
    return temperature + ZERO_CELSIUS


def celsius(temperature: Temperature) -> Temperature:
    """Celsius temperature of kelvin.

    >>> round(celsius(300.0), 2)
    26.85
    """
    return temperature - ZERO_CELSIUS


@dataclass(frozen=True, slots=True)
class Unit:
    """One row of the table of units: how its values are called, written and shown."""

    name: str
    example: str
    spellings: Mapping[str, Decimal]
    """Every accepted text after the number, with its factor to the value."""
    shown: Mapping[str, Decimal]
    """The texts that `show` chooses from, with the least magnitude for which each is taken."""
    plain: str
    """The text whose factor is one."""


_POWERS = {"f": -15, "p": -12, "n": -9, "µ": -6, "u": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
_ALL = "f p n µ m k M G"


def _prefixed(symbol: str, prefixes: str = _ALL, base: str = "1") -> dict[str, Decimal]:
    """Spellings of a symbol with each prefix, in rising order."""
    powers = {prefix: _POWERS[prefix] for prefix in [*prefixes.split(), ""]}
    rising = sorted(powers, key=powers.__getitem__)
    return {prefix + symbol: Decimal(base).scaleb(powers[prefix]) for prefix in rising}


def _unit(
    name: str,
    example: str,
    shown: Mapping[str, Decimal],
    read: Mapping[str, Decimal] = MappingProxyType({}),
) -> Unit:
    """A row whose shown spellings are each taken from one upward; `read` are further spellings."""
    ascii_micro = {text.replace("µ", "u", 1): factor for text, factor in shown.items()}
    spellings = {**shown, **read, **ascii_micro}
    plain = next(text for text, factor in spellings.items() if factor == 1)
    return Unit(name, example, spellings, shown, plain)


def _decimals(**factors: str) -> dict[str, Decimal]:
    return {text: Decimal(factor) for text, factor in factors.items()}


def _ohm_words() -> dict[str, Decimal]:
    return _prefixed("ohm", _ALL + " u") | _prefixed("ohms", _ALL + " u")


_SIMPLE = {
    "V": _unit("a voltage", "5 V or 250 mV", _prefixed("V")),
    "A": _unit("a current", "1.5 A or 20 mA", _prefixed("A")),
    "Ω": _unit("a resistance", "27k, 27 kΩ or 27000 Ω", _prefixed("Ω"), _ohm_words()),
    # No prefix above one: "10 MF" is an old hand's 10 µF.
    "F": _unit("a capacitance", "100n, 100 nF or 470 µF", _prefixed("F", "f p n µ m")),
    "H": _unit("an inductance", "47µ, 47 µH or 1.2 mH", _prefixed("H", "p n µ m")),
    "S": _unit("a conductance", "20 mS or 0.5 S", _prefixed("S", "f p n µ m k")),
    "C": _unit(
        "a charge",
        "30 nC or 2.2 Ah",
        _prefixed("C", "f p n µ m k"),
        _decimals(Ah="3600", mAh="3.6"),
    ),
    "W": _unit("a power", "15 W or 250 mW", _prefixed("W")),
    "J": _unit("an energy", "2 J or 40 mJ", _prefixed("J"), _decimals(Wh="3600", kWh="3600e3")),
    "K": _unit("a temperature difference", "10 K", _prefixed("K", "µ m")),
    "s": _unit(
        "a time",
        "5 ms, 2 s, 10 min or 2000 h",
        _prefixed("s", "f p n µ m") | _decimals(h="3600"),
        _decimals(min="60"),
    ),
    "Hz": _unit("a frequency", "150 kHz or 50 Hz", _prefixed("Hz", "n µ m k M G")),
    "m": _unit("a length", "35 µm, 1.6 mm or 2 m", _prefixed("m", "n µ m k"), _decimals(cm="1e-2")),
    "m²": _unit(
        "an area",
        "1.5 mm² or 40 cm²",
        _decimals(**{"µm²": "1e-12", "mm²": "1e-6", "cm²": "1e-4", "m²": "1"}),
    ),
    "kg": _unit("a mass", "250 g or 1.2 kg", _prefixed("g", "µ m k", base="1e-3")),
    "°": _unit("an angle", "45°", _decimals(**{"°": "1"})),
    "dB": _unit("a level", "60 dB", _decimals(dB="1")),
    "Vs": _unit("a flux linkage", "1.1 Vs or 20 mVs", _prefixed("Vs", "µ m")),
    "A²s": _unit("a melting integral", "12 A²s", _decimals(**{"A²s": "1"}), {"A²·s": Decimal(1)}),
}
_PARTS_OF_ONE = {"": Decimal(1), "%": Decimal("0.01"), "ppm": Decimal("1e-6")}
_PERCENT_FROM = Decimal("1e-3")  # below, a ratio is shown in ppm
_TIMES_FROM = Decimal(2)  # below, it is most often a share of a whole: 100 %, not 1


def _ratio() -> Unit:
    shown = {"ppm": Decimal(0), "%": _PERCENT_FROM, "": _TIMES_FROM}
    return Unit("a ratio", "3 %, 100 ppm or 0.03", _PARTS_OF_ONE, shown, "")


def _reciprocal(name: str, example: str, denominator: str) -> Unit:
    spellings = _over(_PARTS_OF_ONE, _SIMPLE[denominator].spellings)
    shown = {f"ppm/{denominator}": Decimal(0), f"%/{denominator}": _PERCENT_FROM}
    return Unit(name, example, spellings, shown, f"/{denominator}")


def _over(above: Mapping[str, Decimal], below: Mapping[str, Decimal]) -> dict[str, Decimal]:
    return {f"{a}/{b}": above[a] / below[b] for a in above for b in below}


def _quotient(name: str, example: str, above: str, below: str, shown: str = "") -> Unit:
    """A row for `above` per `below`; shown with the prefixes of `above` unless `shown` lists."""
    root = {"√Hz": Decimal(1)}  # no prefix under a root: it would be read both ways
    under = root if below == "√Hz" else _SIMPLE[below].spellings
    spellings = _over(_SIMPLE[above].spellings, under)
    texts = shown.split() or [f"{text}/{below}" for text in _SIMPLE[above].shown]
    return Unit(
        name, example, spellings, {text: spellings[text] for text in texts}, f"{above}/{below}"
    )


UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        **_SIMPLE,
        "1": _ratio(),
        "1/K": _reciprocal("a drift with temperature", "100 ppm/K or 0.1 %/K", "K"),
        "1/V": _reciprocal("a change per volt", "0.02 %/V", "V"),
        "K/W": _quotient("a thermal resistance", "9 K/W", "K", "W", "mK/W K/W"),
        "J/K": _quotient("a heat capacity", "12 J/K", "J", "K"),
        "W/K": _quotient("a thermal conductance", "0.5 W/K", "W", "K"),
        "V/K": _quotient("a voltage drift", "-2 mV/K", "V", "K"),
        "A/K": _quotient("a current drift", "10 nA/K", "A", "K"),
        "Ω/K": _quotient("a resistance drift", "0.4 Ω/K", "Ω", "K"),
        "V/V": _quotient(
            "a voltage ratio", "100 V/mV or 50 µV/V", "V", "V", "nV/V µV/V mV/V V/V V/mV V/µV"
        ),
        "A/V": _quotient("a transconductance", "2 A/V or 500 µA/V", "A", "V"),
        "Ω/m": _quotient("a resistance per length", "20.9 mΩ/m", "Ω", "m"),
        "V/s": _quotient(
            "a voltage slew rate", "0.5 V/µs", "V", "s", "µV/s mV/s V/s V/ms V/µs V/ns"
        ),
        "A/s": _quotient("a current slew rate", "1 A/µs", "A", "s", "µA/s mA/s A/s A/ms A/µs A/ns"),
        "V/√Hz": _quotient("a voltage noise density", "18 nV/√Hz", "V", "√Hz"),
        "A/√Hz": _quotient("a current noise density", "0.5 pA/√Hz", "A", "√Hz"),
        "°C": Unit(
            "a temperature",
            "40 °C or 313.15 K",
            {"°C": Decimal(1), "K": Decimal(1)},
            {"°C": Decimal(0)},
            "°C",
        ),
    }
)
"""The table of units: every text that `parse` and `show` take as a unit."""

_SAME = str.maketrans(
    {
        "\u03bc": "µ",
        "\u2126": "Ω",
        "\u212a": "K",
        "\u2103": "°C",
        "\u2212": "-",
        "\u22c5": "·",
        "\u00a0": " ",
        "\u202f": " ",
        "\u2009": " ",
        "\t": " ",
    }
)
_NUMBER = r"[+-]?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,3})?"
_PARTED = r"(?<=[0-9])[ '_\u2019](?=[0-9]{3}(?![0-9]))"
_VALUE = re.compile(rf"({_NUMBER}) *(.*)")


def parse(text: object, unit: str) -> float:
    """Value of a text where a value in `unit`, one of `UNITS`, is due.

    For "1", a plain number is taken as well as a text. QuantityError where the text is not one
    value of that unit, or could be meant in more than one way.

    >>> parse("4k7", "Ω"), parse("120 mΩ", "Ω"), parse("40 °C", "°C"), parse("3 %", "1")
    (4700.0, 0.12, 313.15, 0.03)
    >>> parse("27 kilo", "Ω")
    Traceback (most recent call last):
    railwright.quantity.QuantityError: '27 kilo' is not a resistance. Write 27k, 27 kΩ or 27000 Ω.
    """
    entry = _entry(unit)
    if not isinstance(text, str):
        return _plain_number(text, unit)
    tidy = text.translate(_SAME).replace("^2", "²").strip()
    value = _marked(tidy, unit)
    if value is None:
        value = _spelled(tidy, unit)
    if value is None:
        raise QuantityError(f"{text!r} is not {entry.name}{_reason(tidy, unit)}")
    if not math.isfinite(value):
        raise QuantityError(f"{text!r} is beyond the range of numbers. Check its exponent.")
    if unit == "°C" and value < 0:
        raise QuantityError(f"{text!r} lies below absolute zero. Write {entry.example}.")
    return value


def _entry(unit: str) -> Unit:
    if unit not in UNITS:
        raise QuantityError(f"{unit!r} is not in the table of units: {', '.join(UNITS)}.")
    return UNITS[unit]


def _plain_number(found: object, unit: str) -> float:
    entry = UNITS[unit]
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise QuantityError(f"{found!r} is not {entry.name}. Write {entry.example}, as a text.")
    if unit != "1":
        full = f'"{found} {unit}"' if unit in entry.spellings else entry.example
        raise QuantityError(f"{found!r} is not {entry.name}: its unit is missing. Write {full}.")
    if not math.isfinite(found):
        raise QuantityError(f"{found!r} is not {entry.name}: it is not finite.")
    return float(found)


def _marked(text: str, unit: str) -> float | None:
    """Value of a letter code, or of a number with a code's letter behind it; None if neither."""
    # A capacitor's m once meant micro, so it is not read without its unit.
    if unit not in iec60062.LETTERS or (unit == "F" and "m" in text):
        return None
    match = _VALUE.fullmatch(text)
    power = iec60062.letter_power(match[2], unit) if match else None
    if match and power:
        return _float(Decimal(match[1]).scaleb(power))
    try:
        return iec60062.decode(text, unit)
    except ValueError:
        return None


def _spelled(text: str, unit: str) -> float | None:
    """Value of a number with one of the unit's spellings behind it; None if it is not that."""
    match = _VALUE.fullmatch(text)
    factor = UNITS[unit].spellings.get(match[2]) if match else None
    if match is None or factor is None:
        return None
    if unit == "°C" and match[2] == "°C":
        return _float(Decimal(match[1]) + Decimal(str(ZERO_CELSIUS)))
    return _float(Decimal(match[1]) * factor)


def _float(exact: Decimal) -> float:
    """The nearest float; not a number where a value other than zero would become zero."""
    value = float(exact)
    return math.nan if exact and not value else value


def _reason(text: str, unit: str) -> str:
    """Why a text is not a value in a unit, and what to write; continues a sentence."""
    entry = UNITS[unit]
    rules = (
        _wrong_number,
        _wrong_milli,
        _wrong_code,
        _wrong_case_or_unit_missing,
        _wrong_degrees,
        _wrong_unit,
    )
    return next(
        (f": {why}" for rule in rules if (why := rule(text, unit))), f". Write {entry.example}."
    )


def _wrong_number(text: str, unit: str) -> str | None:
    """What is wrong with the number or the count of numbers."""
    example = UNITS[unit].example
    if not text:
        return f"it is empty. Write {example}."
    if re.search(_PARTED, text) or text.count(",") > 1:
        return f"thousands are not parted. Write {re.sub(_PARTED, '', text.replace(',', ''))}."
    if re.search(r"[0-9],[0-9]{3}(?![0-9])", text):
        point, joined = text.replace(",", "."), text.replace(",", "")
        return f"a comma may part decimals or thousands. Write {point} or {joined}, as is meant."
    if "," in text:
        return f"decimals are parted by a point. Write {text.replace(',', '.')}."
    if re.match(r"[+-]?(inf|nan|∞)", text, re.IGNORECASE):
        return f"a value is finite. Write {example}."
    if "±" in text or "+/-" in text:
        return f"a tolerance has a key of its own. Write {example}."
    if re.match(r"[+-]?\.[0-9]", text):
        return f"a digit is wanted before the point. Write {text.replace('.', '0.', 1)}."
    if len(re.findall(rf"(?<![\w.]){_NUMBER}", text)) > 1:
        return f"one value is wanted, this is more than one. Write {example}."
    return None


def _wrong_milli(text: str, unit: str) -> str | None:
    """A lone m may be meant as mega; with a capacitor, m and M once meant micro."""
    letters = {"Ω": "m", "F": "m|M|MF"}.get(unit)
    match = re.fullmatch(rf"({_NUMBER}) *({letters})|([0-9]+)m([0-9]+)", text) if letters else None
    if match is None:
        return None
    number = match[1] or f"{match[3]}.{match[4]}"
    other = "MΩ" if unit == "Ω" else "µF"
    return f"its prefix is doubtful. Write {number} m{unit} or {number} {other}, as is meant."


def _wrong_code(text: str, unit: str) -> str | None:
    """A letter code of another unit, or with a unit behind it."""
    match = re.fullmatch(r"(?:[0-9]*[RkKMGTpnµum][0-9]+|[0-9]+R)(.*)", text)
    if match is None:
        return None
    if unit not in iec60062.LETTERS:
        return f"letter codes are for Ω, F and H. Write {UNITS[unit].example}."
    why = "a letter code has no unit behind it" if match[1] else f"no such code is one of {unit}"
    return f"{why}. Write {UNITS[unit].example}."


def _wrong_case_or_unit_missing(text: str, unit: str) -> str | None:
    """A prefix without its unit, or letters in the wrong case."""
    match = _VALUE.fullmatch(text)
    if match is None:
        return None
    number, tail = match.groups()
    spellings = UNITS[unit].spellings
    if tail in _POWERS:
        full = f"{number} {tail}{unit}" if tail + unit in spellings else UNITS[unit].example
        return f"its unit is missing. Write {full}."
    alike = [text for text in spellings if text.lower() == tail.lower()]
    if alike and not any(tail in other.spellings for other in UNITS.values()):
        return f"case matters. Write {' or '.join(f'{number} {text}' for text in alike)}."
    return None


def _wrong_degrees(text: str, unit: str) -> str | None:
    """°C where a difference is wanted."""
    if (unit == "K" and text.endswith("°C")) or ("/" in text and "°C" in text):
        return f"a difference is in kelvin. Write {text.replace('°C', 'K')}."
    return None


def _wrong_unit(text: str, unit: str) -> str | None:
    """Which quantity the text is instead."""
    for other, entry in UNITS.items():
        if other != unit and _spelled(text, other) is not None:
            return f"it is {entry.name}. Write {UNITS[unit].example}."
    return None


def show(value: float, unit: str, digits: int = 3) -> str:
    """Text of a value in `unit`, one of `UNITS`, in engineering notation with `digits` digits.

    What is shown can be read by `parse`, but for what is not finite: "∞ V", "no value".

    >>> show(4700, "Ω"), show(0.12, "Ω"), show(1.25, "V"), show(313.15, "°C"), show(0.03, "1")
    ('4.7 kΩ', '120 mΩ', '1.25 V', '40 °C', '3 %')
    """
    entry = _entry(unit)
    if math.isnan(value):
        return "no value"
    if math.isinf(value):
        return _joined("∞" if value > 0 else "-∞", entry.plain)
    if unit == "°C":
        value = round(celsius(float(value)), 9)  # the difference of kelvins leaves a residue
    size = abs(_rounded(Decimal(float(value)), digits))
    if not size:
        return _joined("0", entry.plain)
    fitting = [text for text, least in entry.shown.items() if size >= least]
    text = fitting[-1] if fitting else next(iter(entry.shown))
    number = _rounded(Decimal(float(value)) / entry.spellings[text], digits)
    if unit == "°C" or _LEAST_PLAIN <= abs(number) < _MOST_PLAIN:
        return _joined(_without_zeros(f"{number:f}"), text)
    mantissa, power = f"{float(value):.{digits - 1}e}".split("e")
    return _joined(f"{_without_zeros(mantissa)}e{int(power)}", entry.plain)


_LEAST_PLAIN, _MOST_PLAIN = Decimal("1e-3"), Decimal("1e6")  # beyond, zeros are hard to count


def _rounded(value: Decimal, digits: int) -> Decimal:
    return Decimal(f"{value:.{digits - 1}e}")


def _without_zeros(number: str) -> str:
    return number.rstrip("0").rstrip(".") if "." in number else number


def _joined(number: str, text: str) -> str:
    return number + text if text in ("", "°") else f"{number} {text}"


@dataclass(frozen=True, slots=True)
class Spread:
    """Where the value of a part lies: limits, typical value, distribution and drift.

    Uniform within a tolerance, triangular between limits with a typical value (makers sort out
    the middle of a batch and sell it as the tighter grade: common practice, no source). `drift`
    is the greatest relative change per kelvin, either way [1/K]. The limits hold without it.
    QuantityError where the limits are not finite or not in order, or the drift is negative.
    """

    low: float
    typical: float
    high: float
    shape: Literal["exact", "uniform", "triangular"]
    drift: float = 0.0

    def __post_init__(self) -> None:
        found = f"low {self.low!r}, typical {self.typical!r}, high {self.high!r}"
        if not all(map(math.isfinite, (self.low, self.typical, self.high))):
            raise QuantityError(f"A spread has finite limits, found {found}.")
        if not self.low <= self.typical <= self.high:
            raise QuantityError(f"A spread has low <= typical <= high, found {found}.")
        if self.shape == "exact" and self.low != self.high:
            raise QuantityError(f"An exact value has no width, found {found}.")
        if not (math.isfinite(self.drift) and self.drift >= 0):
            raise QuantityError(f"A drift is 0 or more per kelvin, found {self.drift!r}.")

    @classmethod
    def exact(cls, value: float) -> "Spread":
        """A value that is known."""
        return cls(value, value, value, "exact")

    @classmethod
    def tolerance(cls, value: float, relative: float, drift: float = 0.0) -> "Spread":
        """A value with a tolerance, relative and the same either way.

        >>> Spread.tolerance(-100.0, 0.01)
        Spread(low=-101.0, typical=-100.0, high=-99.0, shape='uniform', drift=0.0)
        """
        if not relative >= 0:
            raise QuantityError(f"A tolerance is 0 or more, found {relative!r}.")
        part = abs(value) * relative
        return cls(value - part, value, value + part, "uniform", drift)

    @classmethod
    def limits(cls, low: float, typical: float, high: float, drift: float = 0.0) -> "Spread":
        """A value that is published as least, typical and greatest."""
        return cls(low, typical, high, "triangular", drift)

    @property
    def width(self) -> float:
        """Distance between the limits."""
        return self.high - self.low

    @property
    def is_exact(self) -> bool:
        """Whether neither the sample nor its temperature moves the value."""
        return self.low == self.high and self.drift == 0

    def quantile(self, u: ArrayLike) -> NDArray[np.float64]:
        """Values below which the shares `u` of all samples lie; uniform draws give samples.

        QuantityError where a share lies outside 0 to 1.
        """
        share = np.asarray(u, dtype=np.float64)
        if not np.all((share >= 0) & (share <= 1)):
            raise QuantityError("Shares lie between 0 and 1.")
        if self.low == self.high:
            return np.full_like(share, self.typical)
        if self.shape == "uniform":
            values = self.low * (1 - share) + self.high * share
        else:
            below = (self.typical - self.low) / self.width
            left = self.low + self.width * np.sqrt(share * below)
            right = self.high - self.width * np.sqrt((1 - share) * (1 - below))
            values = np.where((share < below) | (share == 0), left, right)
        return np.clip(values, self.low, self.high)

    def scaled(self, factor: float) -> "Spread":
        """The spread of the value times a factor; the relative drift stays."""
        ends = sorted((self.low * factor, self.high * factor))
        return Spread(ends[0], self.typical * factor, ends[1], self.shape, self.drift)

    def contains(self, other: "Spread") -> bool:
        """Whether this spread is at least as wide as another, at both limits and in drift."""
        return self.low <= other.low and other.high <= self.high and other.drift <= self.drift

    def intersects(self, other: "Spread") -> bool:
        """Whether some value lies within the limits of both; drift is not looked at."""
        return self.low <= other.high and other.low <= self.high
