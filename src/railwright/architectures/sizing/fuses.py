"""The fuse at the input: carries what the supply draws, outlives switching on, breaks a short."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from railwright.architectures.architecture import Unserved
from railwright.architectures.sizing.choice import Choice, of_kind, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show
from railwright.standards.iec60127 import PULSES, breaking_capacity, opening_time
from railwright.standards.policy import Policy

TIME_LAG = "fuse T "
OPENS_AT = 2.1
"""Times its rating: the least current at which IEC 60127-2 says when a fuse opens."""
LOW_BREAKING, HIGH_BREAKING = 3, 5
"""Sheets of IEC 60127-2 for time-lag fuses."""


def charging_integral(capacitance: float, voltage: float, resistance: float) -> float:
    """Integral of the squared current that charges a capacitor from a stiff source [A²s].

    C V² / (2 R), closed form of the exponential; all in SI.

    >>> round(charging_integral(100e-6, 20.0, 0.2), 9)
    0.1
    """
    return capacitance * voltage**2 / (2.0 * resistance)


@dataclass(frozen=True)
class Faults:
    """What a fuse sees beside the current in use."""

    surge: Callable[[float], float]
    """A²s when it is switched on, by the fuse's own resistance [Ω]."""
    prospective: float
    """A, into a short circuit at once behind it."""
    opens: float = math.inf
    """A, at which it has to melt."""
    withstands: float = 1.0
    """Share of its melting integral that switching on may take."""


def charging(capacitance: float, voltage: float, resistance: float, kept: float) -> Faults:
    """Behind a stiff source [V, Ω] with a capacitor [F]; kept: what may be used of a limit.

    Of its melting integral a fuse withstands a part again and again (`standards.iec60127`).
    """
    return Faults(
        lambda own: charging_integral(capacitance, voltage, resistance + own),
        voltage / max(resistance, 1e-3),
        withstands=PULSES * kept,
    )


def fuse(
    catalogue: Mapping[str, Entry],
    current: float,
    ambient: float,
    derating: Policy,
    kept: float,
    faults: Faults,
) -> Choice:
    """The smallest time-lag fuse that carries a current for good and outlives switching on.

    current [A]; ambient [K]; kept: share of the allowed current that may be used. Of equal ratings
    the one that breaks what the source gives into a short circuit. Unserved where there is none.
    """
    fuses = [e for e in of_kind(catalogue, "fuse") if e.name.startswith(TIME_LAG)]
    for entry in sorted(fuses, key=lambda e: _order(e, faults.prospective)):
        rated = _rated(entry)
        share = derating.fuse_current(rated, ambient)
        ratio = 1.0 if share is None else float(share)
        surge = faults.surge(spread_of(entry, "resistance").low)
        may = faults.withstands * spread_of(entry, "melting_integral").low
        if current <= kept * ratio * rated and surge <= may:
            melts = spread_of(entry, "melting_current").high
            if melts > kept * faults.opens:
                raise Unserved(
                    f"a fuse of {show(rated, 'A')}, which {show(current, 'A')} and switching on "
                    f"want, melts at {show(melts, 'A')}; a short circuit behind the transformer "
                    f"draws {show(faults.opens, 'A')}"
                )
            return Choice(
                entry,
                f"{show(current, 'A')} flow; {show(ratio, '1')} of {show(rated, 'A')} may be used "
                f"({derating.name}); opens within {show(_opens_within(entry), 's')} at "
                f"{show(OPENS_AT * rated, 'A')} (IEC 60127-2); switching on takes "
                f"{show(surge, 'A²s')} of {show(may, 'A²s')}",
            )
    raise Unserved(
        f"no time-lag fuse of the catalogue carries {show(current, 'A')} under {derating.name}"
    )


def _rated(entry: Entry) -> float:
    return spread_of(entry, "rated_current").high


def _opens_within(entry: Entry) -> float:
    """When it has opened at the least current that is sure to open it [s]."""
    rated = _rated(entry)
    breaks = spread_of(entry, "breaking_capacity").low
    sheet = HIGH_BREAKING if breaks > breaking_capacity(LOW_BREAKING, rated) else LOW_BREAKING
    return opening_time(sheet, rated, OPENS_AT * rated).greatest


def _order(entry: Entry, prospective: float) -> tuple[float, bool]:
    return _rated(entry), spread_of(entry, "breaking_capacity").low < prospective
