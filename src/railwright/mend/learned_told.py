"""What readings tell of the parts of a supply, on the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from railwright.mend.foretold import Foretold, lines
from railwright.mend.learn import Learned, Tied, Together, Value
from railwright.pages.narrow import GAP, Narrow, listed
from railwright.pages.wording import count, printable
from railwright.quantity import show

NAMED = 8
"""Values that are named of those that no reading tells."""
DIGITS = 4
MANY = 3.0
"""Times the design from which on a value is not told in per cent."""


class Lesson(Narrow):
    """Value by value what the readings leave, then what they tell of several together."""

    def __init__(self, learned: Learned, found: Sequence[Foretold] = ()) -> None:
        self.learned, self.foretold = learned, found

    def parts(self) -> Iterator[RenderableType]:
        found = self.learned
        yield Text(f"Learned from {len(found.readings)} readings:", style="bold")
        table = Table.grid(padding=(0, GAP, 0, 0))
        shared = [value for several in found.shifted for value in several]
        for value in (*found.values, *shared):
            table.add_row(*(Text(printable(cell)) for cell in _row(value)))
        yield table
        yield from listed(
            "Known in proportion, though not each by itself", list(map(_tie, found.tied))
        )
        yield from listed(
            "Told of several together, not of any by itself", list(map(_sum, found.together))
        )
        yield from listed("So, at full setting and load", lines(self.foretold))
        if found.untold:
            named = ", ".join(f"{v.ref} {_words(v)}" for v in found.untold[:NAMED])
            more = len(found.untold) - NAMED
            rest = f" and {count(more)} more" if more > 0 else ""
            yield Text(printable(f"Not told, as the design has them: {named}{rest}."))
        if found.left_out:
            places = ", ".join(dict.fromkeys(r.place.told for r in found.left_out))
            yield Text(printable(f"Not learned from: {places}."))
        off = f"{found.farthest:.2g} times its meter's error"
        yield Text(f"Solved with the likeliest values, no reading is off by more than {off}.")


def _words(value: Value) -> str:
    return value.name.replace("_", " ")


def _row(value: Value) -> tuple[str, str, str, str]:
    low, high = show(value.low, value.unit, DIGITS), show(value.high, value.unit, DIGITS)
    left = f"{100.0 * value.left:.0f} % of its spread left"
    return f"{value.ref} {_words(value)}", f"{low} to {high}", off(value), left


def off(value: Value) -> str:
    """How far a value is from what the design says, in words.

    >>> from railwright.quantity import Spread
    >>> off(Value("R1", "resistance", "Ω", Spread.tolerance(1e3, 0.01), 1006.0, 1007.0, 1008.0))
    '0.7 % high'
    """
    typical = value.designed.typical
    if typical == 0.0:
        return f"{show(value.likely, value.unit, 2)} off"
    return _over(value.likely / typical)


def _over(ratio: float) -> str:
    """A ratio in words, as a person tells it of a value.

    >>> _over(1.007), _over(0.5), _over(5.8)
    ('0.7 % high', '50 % low', '5.8 times')
    """
    if ratio > MANY:
        return f"{ratio:.2g} times"
    return f"{100.0 * abs(ratio - 1.0):.2g} % {'high' if ratio > 1.0 else 'low'}"


def _tie(tied: Tied) -> str:
    first = tied.values[0]
    ratios = [
        f"{value.ref} : {first.ref} = {value.likely / first.likely:.4g} ({_moved(value, first)})"
        for value in tied.values[1:]
    ]
    return f"{', '.join(ratios)}, each within {show(tied.residue, '1', 2)} of that"


def _moved(value: Value, first: Value) -> str:
    return _over(value.likely / first.likely * first.designed.typical / value.designed.typical)


def _sum(together: Together) -> str:
    names = ", ".join(f"{value.ref} {_words(value)}" for value in together.values)
    return f"{together.reading.place.told}: {names}"
