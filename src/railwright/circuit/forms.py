"""The forms that a single value of a design file takes: read, judged, and turned into SI.

Reading goes on past a mistake, with a blank in place of what was refused, so that one run tells
every mistake and names can still be looked up. A blank number is not a number, so that no
comparison with it complains again.

No general validator reads design files: those build nothing from a file with a mistake, which
hides the mistakes that need several tables to be seen, and each of their messages would have to
be put in our words with the key's form looked up a second time.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from railwright.files.complaints import Complaints
from railwright.files.locate import KeyPath
from railwright.files.mistakes import nearest
from railwright.quantity import UNITS, QuantityError, parse, show


class Form:
    """What a key may hold."""

    @property
    def example(self) -> str:
        """What may stand behind the equals sign."""
        raise NotImplementedError

    @property
    def blank(self) -> Any:
        """What takes the place of a value that was refused."""
        raise NotImplementedError

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> Any:
        """The value, in SI; or the blank, after a complaint."""
        raise NotImplementedError

    def written(self, path: KeyPath) -> str:
        """How a person may write the key at a path."""
        return f"{path[-1]} = {self.example}"


_HUGE = 10**20  # no number of a design file; beyond, Python may refuse to show or to convert it


def described(found: object) -> str:
    """How messages name what was found.

    >>> described("12 V"), described(True), described([1])
    ('"12 V"', 'true', 'an array')
    """
    if isinstance(found, str):
        return f'"{found}"'
    if isinstance(found, bool):
        return str(found).lower()
    if isinstance(found, float) or (isinstance(found, int) and abs(found) < _HUGE):
        return str(found)
    kinds = {dict: "a table", list: "an array", int: "a very large number"}
    return kinds.get(type(found), "a date or time")


@dataclass(frozen=True)
class Quantity(Form):
    """A value in a unit of `quantity.UNITS`, within bounds that are allowed themselves."""

    unit: str
    least: float = -math.inf
    most: float = math.inf
    positive: bool = False
    """True where nil is refused as well."""

    blank = math.nan

    @property
    def example(self) -> str:
        text = re.split(" or |, ", UNITS[self.unit].example)[0]
        return f'"{text}"'

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> float:
        huge = isinstance(found, int) and abs(found) >= _HUGE
        if huge or isinstance(found, bool) or not isinstance(found, str | int | float):
            wanted = f"{UNITS[self.unit].name} is wanted, as {self.example}"
            complaints.value(path, f"found {described(found)}, {wanted}.")
            return math.nan
        try:
            value = parse(found, self.unit)
        except QuantityError as error:
            complaints.value(path, str(error))
            return math.nan
        why = self.refusal(value)
        if why:
            complaints.value(path, f"{described(found)} is out of range: {why}.")
            return math.nan
        return value

    def refusal(self, value: float) -> str:
        """What is wanted of a value beyond the bounds; empty where it is within them."""
        if self.positive and value <= 0:
            return f"more than {show(0.0, self.unit)} is wanted"
        if value < self.least:
            return f"at least {show(self.least, self.unit)} is wanted"
        if value > self.most:
            return f"at most {show(self.most, self.unit)} is wanted"
        return ""


@dataclass(frozen=True)
class Text(Form):
    """A text that is not empty, of a pattern if one is given."""

    example: str = '"..."'
    pattern: str = r"(?s:.*\S.*)"
    wanted: str = "a text that is not empty"

    blank = ""

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> str:
        if isinstance(found, str) and re.fullmatch(self.pattern, found):
            return found
        wanted = f"{self.wanted} is wanted, as {self.example}"
        complaints.value(path, f"found {described(found)}, {wanted}.")
        return ""


@dataclass(frozen=True)
class Choice(Form):
    """One of some words."""

    words: tuple[str, ...]

    blank = ""

    @property
    def example(self) -> str:
        return f'"{self.words[0]}"'

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> str:
        if isinstance(found, str) and found in self.words:
            return found
        complaints.value(path, f"found {described(found)}. {self._wanted(found)}")
        return ""

    def written(self, path: KeyPath) -> str:
        others = f", or with one of: {', '.join(self.words[1:])}" if len(self.words) > 1 else ""
        return super().written(path) + others

    def _wanted(self, found: object) -> str:
        if len(self.words) > 10:
            return nearest(found if isinstance(found, str) else "", self.words)
        return f"Wanted is one of: {', '.join(self.words)}."


@dataclass(frozen=True)
class Flag(Form):
    """Yes or no."""

    blank = False

    @property
    def example(self) -> str:
        return "true"

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> bool:
        if isinstance(found, bool):
            return found
        complaints.value(path, f"found {described(found)}. Wanted is true or false.")
        return False
