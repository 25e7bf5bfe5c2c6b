"""An operating point as a person writes it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from railwright.quantity import QuantityError, parse
from railwright.surveys.operating_range import Choice


def choice_of(
    rails: Sequence[str],
    settings: Sequence[str] = (),
    loads: Sequence[str] = (),
    input: str = "",
    ambient: str = "",
) -> Choice:
    """The choice that texts make; an empty one leaves what it is about to the middle.

    rails: names of the need's. settings and loads: "5 V", or "main=5 V" where there are several
    rails. ValueError where a text is no such value, or is of no rail that there is.

    >>> choice_of(["main"], ["5 V"], ambient="40 °C")
    Choice(settings={'main': 5.0}, loads={}, input=None, ambient=313.15)
    """
    return Choice(
        _by_rail(rails, settings, "V"),
        _by_rail(rails, loads, "A"),
        parse(input, "V") if input else None,
        parse(ambient, "°C") if ambient else None,
    )


def _by_rail(rails: Sequence[str], texts: Sequence[str], unit: str) -> Mapping[str, float]:
    found: dict[str, float] = {}
    for text in texts:
        named, sign, value = text.rpartition("=")
        rail = named.strip() if sign else rails[0]
        if not sign and len(rails) > 1:
            raise QuantityError(f"{text!r} says of no rail. Write {rails[0]}={text.strip()}.")
        if rail not in rails:
            raise QuantityError(f"no rail is called {rail!r}: there is {', '.join(rails)}.")
        if rail in found:
            raise QuantityError(f"{rail} is chosen twice: {text!r} is one too many.")
        found[rail] = parse(value, unit)
    return found
