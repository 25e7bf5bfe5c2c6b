"""The way of a loss from a junction to the air: alone, or over a pad and a heat sink."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from railwright.architectures.architecture import Unserved
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import celsius, show
from railwright.standards.thermal import junction_temperature, needed_resistance

PAD = "silicone"
"""Word in the trade name of pads that insulate and want no grease."""


INSULATED = ("SOT-227",)
"""Packages whose base plate is insulated: what fills the gap under it will do."""
HEAVY = 1.0
"""K/W; a sink of less is heavier than most supplies, and is taken only where it is asked for."""


@dataclass(frozen=True)
class Cooling:
    """A sink with what is under the tab, if anything; both None where the part needs none."""

    sink: Entry | None
    pad: Entry | None
    why: str


def coolings(
    catalogue: Mapping[str, Entry],
    part: Entry,
    loss: float,
    ambient: float,
    limit: float,
    *,
    insulated: bool = True,
    heavy: bool = False,
    most: float = inf,
    touched: bool = False,
) -> list[Cooling]:
    """Ways to keep a junction at its limit, the smallest first.

    loss [W]; ambient and limit [K]; resistances at their upper limits; insulated: whether a pad
    keeps the sink from the potential of the tab; heavy: whether a sink may weigh kilograms;
    most: what a sink may have [K/W]; touched: whether it counts how hot a hand finds it, which a
    sink tells and a bare part does not: ways with one follow that without, where both do.
    Unserved, with the junction that the largest sink leaves, where there is none.
    """
    alone = spread_of(part, "junction_to_ambient").high
    open_air = junction_temperature(ambient, loss, alone)
    found = []
    if open_air <= limit:
        found = [Cooling(None, None, _chain(ambient, loss, (alone,), open_air, limit))]
        if not touched:
            return found
    try:
        sunk = _with_sinks(catalogue, part, loss, ambient, limit, insulated, heavy, most)
    except Unserved:
        if not found:
            raise
        return found
    return [*found, *sunk]


def _with_sinks(
    catalogue: Mapping[str, Entry],
    part: Entry,
    loss: float,
    ambient: float,
    limit: float,
    insulated: bool,
    heavy: bool,
    most: float,
) -> list[Cooling]:
    """Those ways of `coolings` that have a sink."""
    open_air = junction_temperature(ambient, loss, spread_of(part, "junction_to_ambient").high)
    pads = [e for e in of_kind(catalogue, "insulator") if part.package.startswith(e.package)]
    pads = [e for e in pads if PAD in e.trade or part.package in INSULATED]
    pad = pads[0] if insulated and pads else None
    known = of_kind(catalogue, "heat-sink")
    sinks = [e for e in known if heavy or spread_of(e, "resistance").typical >= HEAVY]
    sinks.sort(key=lambda e: (price_of(e), -spread_of(e, "resistance").typical))
    largest = min((spread_of(e, "resistance").high for e in sinks), default=inf)
    if sinks and largest > most:
        raise Unserved(
            f"the largest sink has up to {show(largest, 'K/W')}; so that it may be touched at a "
            f"loss of {show(loss, 'W')}, {show(most, 'K/W')} are wanted"
        )
    sinks = [e for e in sinks if spread_of(e, "resistance").high <= most]
    if "case" not in part.pins or (insulated and pad is None) or not sinks:
        raise Unserved(
            f"its loss of {show(loss, 'W')} would take the junction of a {part.package} without "
            f"a sink to {show(open_air, '°C')}; {show(limit, '°C')} is allowed"
        )
    inner = [spread_of(each, name).high for each, name in _inner(part, pad)]
    chains = [(sink, (*inner, spread_of(sink, "resistance").high)) for sink in sinks]
    hot = {s.name: junction_temperature(ambient, loss, *chain) for s, chain in chains}
    found = [
        Cooling(sink, pad, _chain(ambient, loss, chain, hot[sink.name], limit))
        for sink, chain in chains
        if hot[sink.name] <= limit
    ]
    if not found:
        wanted = needed_resistance(limit, ambient, loss, *inner)
        least = min(spread_of(sink, "resistance").high for sink in sinks)
        raise Unserved(
            f"its loss of {show(loss, 'W')} takes the junction to "
            f"{show(min(hot.values()), '°C')} even on the largest sink, at most "
            f"{show(least, 'K/W')}; {show(limit, '°C')} is allowed, which "
            + (
                f"wants {show(wanted, 'K/W')}"
                if wanted > 0
                else "no sink can give behind the package and the pad"
            )
        )
    return found


def _inner(part: Entry, pad: Entry | None) -> list[tuple[Entry, str]]:
    """What lies between junction and sink."""
    own = [(part, "junction_to_case")]
    return own if pad is None else [*own, (pad, "resistance")]


def _chain(
    ambient: float, loss: float, resistances: tuple[float, ...], junction: float, limit: float
) -> str:
    chain = " + ".join(f"{each:.3g}" for each in resistances)
    chain = f"({chain})" if len(resistances) > 1 else chain
    return (
        f"{celsius(ambient):.0f} °C + {show(loss, 'W')} x {chain} K/W = {show(junction, '°C')}, "
        f"{show(limit, '°C')} allowed (JESD51-1; upper limits)"
    )
