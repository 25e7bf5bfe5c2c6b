"""A p-channel transistor in the way of a current: its gate, its loss, what keeps it cool.

Its source is on what is positive; a divider from there holds its gate. Source: common practice, no
source; every value has its own formula.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.cooling import Cooling, coolings
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE
from railwright.catalogue.entry import Entry
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import bracket, nearest

UPPERS = 10e3, 11e3, 12e3, 13e3, 9.1e3, 8.2e3
"""Ω from gate to source, near which they are tried: turn it off in some ten microseconds (common
practice, no source)."""
LEAST_LOWER = 1e3
"""Ω from the gate down at least: what draws it there carries no more than some milliamperes."""
USUAL_GATE = 0.8
"""Share of the gate voltage of the on-resistance from which on that counts, as in the check
`headroom.gate-drive`."""


@dataclass(frozen=True)
class PChannel:
    """One that carries a current, or limits it."""

    task: Task
    entry: Entry
    current: float
    """A at most."""
    fed: tuple[float, float]
    """V at its source against what draws its gate, least and most."""

    @property
    def on(self) -> float:
        """Resistance at most, hot [Ω]."""
        return on_resistance(self.entry)

    @property
    def loss(self) -> float:
        """While it is on [W]."""
        return self.current**2 * self.on

    @property
    def wanted(self) -> float:
        """V at its gate, from which on its resistance counts."""
        return USUAL_GATE * self._published

    @property
    def most(self) -> float:
        """V that its gate may have."""
        return self.task.bears(self.entry, "gate_source_voltage")

    @property
    def _published(self) -> float:
        return spread_of(self.entry, "on_gate_voltage").typical

    def gates(self) -> Iterator[float]:
        """V wanted at its gate: with the reserve, then without."""
        for spare in (self.task.need.parts.reserve, 0.0):
            yield self.wanted + spare * self._published

    @cached_property
    def divider(self) -> tuple[float, float]:
        """Ω from source to gate, and from there to what draws it down.

        Unserved where none keeps the gate's window.
        """
        (low, high), series = self.fed, self.task.need.parts.series
        off = 2.0 * (self.task.need.parts.resistor_tolerance or USUAL_TOLERANCE)
        for gate in self.gates():
            for about in UPPERS:
                upper = nearest(about, series)
                least = upper * (high / self.most * (1.0 + off) - 1.0)
                lower = bracket(max(least, LEAST_LOWER), series)[1]
                if low * upper / (upper + lower) >= gate:
                    return upper, lower
        raise self.gateless

    @cached_property
    def zener(self) -> Entry | None:
        """What bounds its gate where a resistor alone draws that down; None where nothing has to.

        Unserved where nothing keeps the gate's window.
        """
        low, high = self.fed
        known = [e for e in of_kind(self.task.catalogue, "zener") if _zener(e).high <= self.most]
        for gate in self.gates():
            if low < gate:
                continue
            if high <= self.most:
                return None
            found = [entry for entry in known if _zener(entry).low >= gate]
            if found:
                return min(found, key=lambda e: (price_of(e), -_zener(e).low))
        raise self.gateless

    @property
    def gateless(self) -> Unserved:
        """That nothing keeps its gate's window."""
        return Unserved(
            f"its gate wants {show(self.wanted, 'V')} of {show(self.fed[0], 'V')}, and may have "
            f"{show(self.most, 'V')} of {show(self.fed[1], 'V')}"
        )

    @cached_property
    def cooling(self) -> Cooling:
        """What keeps it cool while it is on."""
        return self._cooled(self.loss, self.task.hottest(self.entry))

    def limiting(self, loss: float) -> Cooling:
        """What keeps it cool in an overload [W]: below its own limit, for that is no use of it.

        Unserved where nothing does.
        """
        limit = spread_of(self.entry, "junction_limit").high
        return self._cooled(loss, limit - self.task.need.parts.junction_reserve)

    def _cooled(self, loss: float, limit: float) -> Cooling:
        hottest = self.task.need.surroundings.ambient.max
        return coolings(self.task.catalogue, self.entry, loss, hottest, limit)[0]


def _zener(entry: Entry) -> Spread:
    return spread_of(entry, "zener_voltage")


def on_resistance(entry: Entry) -> float:
    """Resistance at most of one that is on, hot [Ω]."""
    return spread_of(entry, "on_resistance").high * spread_of(entry, "warm_factor").high


def p_channels(task: Task, current: float, volts: float) -> Iterator[Entry]:
    """Those that may carry a current [A] and block a voltage [V], the cheapest first."""
    for entry in transistors(task, "field-effect-transistor", "channel", "p"):
        blocks, carries = (task.bears(entry, r) for r in ("drain_source_voltage", "drain_current"))
        if volts <= blocks and current <= carries:
            yield entry


def transistors(task: Task, kind: str, option: str, wanted: str) -> Sequence[Entry]:
    """Of a kind and polarity, the cheapest first."""
    found = [e for e in of_kind(task.catalogue, kind) if e.options.get(option) == wanted]
    return sorted(found, key=price_of)


def none_carries(current: float, volts: float) -> Unserved:
    """That there is none for a current [A] and a voltage [V]."""
    return Unserved(
        f"no p-channel transistor of the catalogue carries {show(current, 'A')} of "
        f"{show(volts, 'V')}"
    )
