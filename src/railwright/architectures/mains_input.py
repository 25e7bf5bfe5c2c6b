"""What makes a raw direct voltage of the mains: fuse, transformer, bridge, reservoir.

Every one is sized for the unfavourable limit of the others: the valley at the lowest mains with a
worn reservoir, its voltage at the highest mains without a load, the pulses of its charging at the
highest mains with full load.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from railwright.architectures.architecture import Rectified, Task, Unserved
from railwright.architectures.front import Draw, Front, sized_for
from railwright.architectures.regulator import Feed, Regulator
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.bridges import bridge
from railwright.architectures.sizing.capacitors import bears
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.fuses import Faults, charging_integral, fuse
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.devices.inductor import BEND
from railwright.devices.transformer import BENT
from railwright.quantity import show
from railwright.standards.electrolytic import mains_share
from railwright.standards.iec60063 import bracket
from railwright.standards.iec60127 import PULSES
from railwright.standards.rectifier import Reservoir, reservoir, saturation_surge, shorted
from railwright.standards.thermal import GROWS
from railwright.standards.wire import WARM

Array = NDArray[np.float64]
RAW, BELOW, FIRST, SECOND, LIVE = "RAW", "RAW_BELOW", "AC1", "AC2", "LIVE"
"""Nets: the reservoirs', both ends of the secondary, behind the fuse."""
TAP = "MIDDLE"
"""Net between two secondaries in series."""
WORN = 0.8
"""Of its capacitance has an electrolytic capacitor at the end of its life (IEC 60384-4)."""
TWO_DROPS = 2.0, 1.7
"""V over both diodes that conduct, in the pulses: most, usual (datasheets of bridges)."""
LEAST_DROPS = 1.0
"""V, of both with no more than the leakage of the reservoir (two silicon junctions)."""
LEAST_RESERVOIR = 220e-6
SAGS = 10e-3
"""s between pulses at 50 Hz."""
LEAST_WIRE = 0.95
"""Of its marked value has a wirewound resistor of the usual grade at least."""
MIDDLE = "about the middle"
SINGLE = "one", "side by side", "in series"
"""Ways to join secondaries for one reservoir."""
LEVEL = BENT / BEND
"""Times the flux at which a transformer's core begins to saturate is that which it never passes."""
CORE_SURGES = 2.0
"""Times its first wave takes the core in all, until its flux has found its middle (common
practice, no source)."""
CAUTION = (
    "MAINS: whoever is not qualified for it has this part built, and earthed, by who is; "
    "local codes hold. Pull the plug and let the reservoir empty before touching anything"
)


@dataclass(frozen=True)
class Winding:
    """A transformer whose secondaries are joined in one way."""

    entry: Entry
    joined: str
    """`one`, `side by side`, `in series`, or `about the middle`: either for a side of its own."""
    behind: float = 0.0
    """Ω between the bridge and the reservoir."""

    @property
    def sides(self) -> int:
        """Reservoirs that it charges at once."""
        return 2 if self.joined == MIDDLE else 1

    @property
    def of_ratio(self) -> float:
        """Times the ratio of its type is that of all its primary to all its secondary turns."""
        return 0.5 if self.joined == "in series" else 1.0

    @property
    def shares(self) -> float:
        """Of the whole current carries each secondary."""
        return 0.5 if self.joined == "side by side" else 1.0

    @property
    def of_resistance(self) -> float:
        """Times the resistance of one secondary is that of all."""
        return {"side by side": 0.5, "in series": 2.0}.get(self.joined, 1.0)

    def ratio(self, end: str) -> float:
        """Turns of the primary over those that charge a reservoir; `end` of its spread."""
        return float(getattr(spread_of(self.entry, "turns_ratio"), end)) * self.of_ratio

    def resistance(self, source: float, end: str) -> float:
        """Seen from the secondary [Ω]."""
        own = getattr(spread_of(self.entry, "secondary_resistance"), end) * self.of_resistance
        first = getattr(spread_of(self.entry, "primary_resistance"), end) + source
        return float(own + self.sides * first / self.ratio("typical") ** 2) + self.behind

    def leakage(self, end: str) -> float:
        """Seen from the secondary [H]."""
        own = getattr(spread_of(self.entry, "leakage_inductance"), end)
        return self.sides * float(own) / self.ratio("typical") ** 2


@dataclass(frozen=True)
class MainsFront(Front):
    """Fuse, transformer, bridge and reservoir."""

    task: Task
    winding: Winding
    capacitor: Entry
    current: float
    """A that it is sized for."""
    effective: float
    """A through the whole secondary, at most; so mean through the bridge is `current`."""
    valley: str
    """How the least voltage comes about."""
    beside: float = 0.0
    """A through the bridge at switch-on, at most, that comes on another way than the whole's."""

    def fitted(self, regulator: Regulator) -> Draw:
        drawn = self.carrying(regulator.taken)
        regulator.headroom(0.0)
        return drawn

    def carrying(self, current: float) -> Draw:
        """What draws it where a current is taken of it [A]; Unserved where that is too much."""
        if current > self.current:
            raise Unserved(
                f"{show(current, 'A')} are taken of {show(self.current, 'A')} for which "
                "transformer and reservoir were chosen"
            )
        return self._draw

    @cached_property
    def bridge(self) -> Choice:
        """The rectifier for current, reverse voltage and switching on."""
        reverse = self.winding.sides * self.feed.high + LEAST_DROPS
        return bridge(self.task, self.current, reverse, max(self.surge, self.beside))

    @property
    def surge(self) -> float:
        """A into an empty reservoir, at most: what the winding's resistance alone would let."""
        source = self.task.need.input.resistance
        return self.feed.high / self.winding.resistance(source, "low")

    @cached_property
    def fuse(self) -> Choice:
        """The one that carries the primary current, stays whole, and opens behind a short."""
        task, winding, mains = self.task, self.winding, self.task.need.input
        entry, ratio = winding.entry, winding.ratio("low")
        hertz = mains.frequency.min if mains.frequency is not None else 50.0
        magnetising = mains.voltage.max / (
            2.0 * math.pi * hertz * spread_of(entry, "magnetising_inductance").low
        )
        current = winding.sides * self.effective / ratio + magnetising
        primary = spread_of(entry, "primary_resistance")
        most = spread_of(self.capacitor, "capacitance").high

        def surge(own: float) -> float:
            """Both at once: the reservoir through the transformer, and a core that saturates."""
            ohms = winding.resistance(mains.resistance + own, "low")
            charge = charging_integral(most, self.feed.high, ohms) * (winding.sides / ratio) ** 2
            limits = mains.resistance + own + primary.low
            flux = LEVEL * spread_of(entry, "saturation_flux").low
            core = saturation_surge(mains.voltage.max, hertz, flux, limits)
            return charge + CORE_SURGES * core

        opens = shorted(
            mains.voltage.min,
            hertz,
            mains.resistance + WARM * primary.high,
            WARM * spread_of(entry, "secondary_resistance").high,
            spread_of(entry, "turns_ratio").high,
            spread_of(entry, "leakage_inductance").high,
            2 if winding.joined == "side by side" else 1,
        )
        prospective = math.sqrt(2.0) * mains.voltage.max / max(mains.resistance, 1e-3)
        faults = Faults(surge, prospective, opens, PULSES * task.kept)
        hottest = task.need.surroundings.ambient.max
        return fuse(task.catalogue, current, hottest, task.derating, task.kept, faults)

    def _draw(self, sheet: Sheet) -> None:
        self.draw_rectifier(sheet, self.feed.net)
        self.draw_reservoir(sheet)

    def draw_rectifier(self, sheet: Sheet, plus: str) -> None:
        """From the mains to the bridge, whose upper end is on a net."""
        task, entry, fused, rectifier = self.task, self.winding.entry, self.fuse, self.bridge
        live, ground = task.inner(LIVE), self.feed.ground
        pins = {"one": task.fed.plus, "two": live}
        sheet.add("F", "fuse", "mains", pins, f"{fused.why}. {CAUTION}", use=fused.entry.name)
        pins = {"primary_start": live, "primary_end": task.fed.minus, **self._ends()}
        carried = self.effective * self.winding.shares
        may = spread_of(entry, "rated_current").typical
        why = (
            f"{show(carried, 'A')} effective of {show(may, 'A')} in each secondary at the highest "
            f"mains; {self.valley}; {show(self.feed.high, 'V')} at most without a load"
        )
        sheet.add("T", "transformer", "mains", pins, why, use=entry.name)
        first, second = task.inner(FIRST), task.inner(SECOND)
        lowest = self.below.net if self.winding.joined == MIDDLE else ground
        pins = {"first": first, "second": second, "plus": plus, "minus": lowest}
        sheet.add("B", "bridge-rectifier", "input", pins, rectifier.why, use=rectifier.entry.name)

    def draw_reservoir(self, sheet: Sheet, falls_to: float | None = None) -> None:
        """The capacitor, or one on either side of the middle.

        falls_to: V in its valley, where that is less than the whole winding leaves.
        """
        ground = self.feed.ground
        lowest = self.below.net if self.winding.joined == MIDDLE else ground
        upper = self._rectified(self.feed.low if falls_to is None else falls_to)
        sheet.rectified = (upper,)
        if self.winding.joined == MIDDLE:
            sheet.rectified = upper, replace(upper, net=ground, ground=lowest)
        rated = show(spread_of(self.capacitor, "rated_voltage").high, "V")
        why = f"{self.valley}; {rated} on at most {show(self.feed.high, 'V')}"
        nets = [self.feed.net, ground] if lowest == ground else [self.feed.net, ground, lowest]
        for plus, minus in pairwise(nets):
            pins = {"plus": plus, "minus": minus}
            sheet.add("C", "capacitor", "input", pins, why, use=self.capacitor.name)

    def _rectified(self, low: float) -> Rectified:
        """What guards behind it are told of it."""
        mains, winding = self.task.need.input, self.winding
        hertz = mains.frequency.max if mains.frequency is not None else 50.0
        return Rectified(
            self.feed.net,
            self.feed.ground,
            low + self.task.between,
            self.feed.high,
            math.sqrt(2.0) * mains.voltage.min / winding.ratio("high") - TWO_DROPS[0],
            math.hypot(
                WARM * winding.resistance(mains.resistance, "high"),
                2.0 * math.pi * hertz * winding.leakage("high"),
            ),
            winding.resistance(mains.resistance, "low"),
        )

    @property
    def below(self) -> Feed:
        """What feeds the rail below the middle; voltages as magnitudes."""
        return replace(self.feed, net=self.task.inner(BELOW))

    def _ends(self) -> dict[str, str]:
        """Pins of the secondaries -> nets."""
        first, second = self.task.inner(FIRST), self.task.inner(SECOND)
        if self.winding.joined == "one":
            return {"secondary_start": first, "secondary_end": second}
        if self.winding.joined == "side by side":
            beside = {"second_start": first, "second_end": second}
            return {"secondary_start": first, "secondary_end": second, **beside}
        about = self.winding.joined == MIDDLE
        middle = self.feed.ground if about else self.task.inner(TAP)
        behind = {"second_start": middle, "second_end": second}
        return {"secondary_start": first, "secondary_end": middle, **behind}


def kept_apart(rail: Output) -> None:
    """Unserved where a rail has to be common with the input, which a transformer is there for."""
    if rail.reference == "common with input":
        raise Unserved(
            f"{rail.name} has to be common with the input; a transformer is there to keep it "
            "apart from the mains"
        )


def mains_fronts(
    task: Task, rail: Output, joins: Sequence[str] = SINGLE, current: float | None = None
) -> Sequence[MainsFront]:
    """Transformers with a reservoir that could feed a rail: the cheap, then the cool ones first.

    joins: how their secondaries may be joined; `MIDDLE` is for a rail on either side; current:
    what is taken [A], where that is not what the rail gives. Unserved where there is none.
    """
    mains = task.need.input
    current = sized_for(rail) if current is None else current
    if mains.kind != "ac" or mains.frequency is None:
        raise Unserved(f"the input is {mains.kind}; a transformer wants one that alternates")
    windings = [each for each in _windings(task) if each.joined in joins]
    pairs = [(w, c) for w in windings for c in _reservoirs(task, w)]
    ground = task.terminals(rail.name).minus
    seen = _Seen.of(task, pairs, current, ground) if pairs else None
    if seen is None or not seen.fits.any():
        raise Unserved(
            f"no transformer of the catalogue with a reservoir gives {show(current, 'A')} at "
            f"{show(rail.voltage.max, 'V')} from {show(mains.voltage.min, 'V')} to "
            f"{show(mains.voltage.max, 'V')}"
        )
    fronts = [seen.front(int(n)) for n in np.flatnonzero(seen.fits)]
    found = [front for front in fronts if front.feed.low > rail.voltage.max]
    if not found:
        best = max(front.feed.low for front in fronts)
        raise Unserved(
            f"{rail.name} wants up to {show(rail.voltage.max, 'V')}; the highest valley of a "
            f"transformer of the catalogue that carries {show(current, 'A')} is {show(best, 'V')}"
        )
    return _guarded(sorted(found, key=_order))


def tapped_fronts(
    task: Task, rail: Output, current: float, most: float
) -> Sequence[tuple[MainsFront, MainsFront]]:
    """Two secondaries in series, with what they make of a reservoir, and each half by itself.

    current: what is taken [A]. A half charges it over its own diodes, either in turn. So much lies
    behind the bridge that the whole puts no more than `most` [A] into what the half has charged.
    Those whose whole could feed the rail, the cheap, then the cool ones first; Unserved where there
    is none.
    """
    wholes = mains_fronts(task, rail, ("in series",), current)
    ground = wholes[0].feed.ground
    halves = _Seen.of(task, [(_half(w), w.capacitor) for w in wholes], current, ground)
    slowed = [
        replace(w.winding, behind=_slowing(w, halves.front(n), most)) for n, w in enumerate(wholes)
    ]
    pairs = [(each, w.capacitor) for each, w in zip(slowed, wholes, strict=True)]
    seen = _Seen.of(task, pairs, current, ground)
    both = [int(n) for n in np.flatnonzero(seen.fits & halves.fits)]
    joined = [(seen.front(n), halves.front(n)) for n in both]
    best = max((whole.feed.low for whole, _ in joined), default=0.0)
    found = [
        (replace(whole, beside=half.surge), half)
        for whole, half in joined
        if whole.feed.low > rail.voltage.max
    ]
    if not found:
        raise Unserved(
            f"{rail.name} wants up to {show(rail.voltage.max, 'V')}; behind what keeps a contact "
            f"from {show(most, 'A')} the highest valley of two secondaries in series is "
            f"{show(best, 'V')}"
        )
    return found


def _half(whole: MainsFront) -> Winding:
    return Winding(whole.winding.entry, "one")


def _slowing(whole: MainsFront, half: MainsFront, most: float) -> float:
    """Least resistor of the series that keeps the whole from more than a current [Ω]."""
    held = 0.5 * half.current * SAGS / (WORN * spread_of(half.capacitor, "capacitance").low)
    above = whole.feed.high - (half.feed.loaded - held)
    wanted = above / most - whole.winding.resistance(whole.task.need.input.resistance, "low")
    return bracket(wanted / LEAST_WIRE, whole.task.need.parts.series)[1] if wanted > 0 else 0.0


def _guarded(fronts: Sequence[MainsFront]) -> Sequence[MainsFront]:
    """Those with a bridge that survives switching on and a fuse that protects the windings."""
    found, refused = [], []
    for front in fronts:
        try:
            assert front.bridge
            assert front.fuse
        except Unserved as unserved:
            refused.append(unserved)
        else:
            found.append(front)
    if not found:
        raise refused[0]
    return found


def _order(front: MainsFront) -> tuple[float, ...]:
    dear, farads = price_of(front.capacitor), spread_of(front.capacitor, "capacitance").typical
    return price_of(front.winding.entry), round(front.feed.high), dear, farads


def _windings(task: Task) -> Iterator[Winding]:
    """Transformers whose core stands the mains, each with its secondaries in each way."""
    mains = task.need.input
    assert mains.frequency is not None
    for entry in of_kind(task.catalogue, "transformer"):
        if not {"rated_current", "rated_rise", "winding_limit"} <= entry.values.keys():
            continue
        crest = math.sqrt(2.0) * mains.voltage.nominal / (2.0 * math.pi * mains.frequency.min)
        if crest > spread_of(entry, "saturation_flux").typical:
            continue
        if "secondary_start" in entry.pins and "second_start" not in entry.pins:
            yield Winding(entry, "one")
        else:
            yield Winding(entry, "side by side")
            yield Winding(entry, "in series")
            yield Winding(entry, MIDDLE)


def _may_hold(entry: Entry) -> bool:
    known = {"capacitance", "rated_voltage", "rated_ripple"} <= entry.values.keys()
    wet = entry.options.get("dielectric") == "electrolytic"
    return known and wet and spread_of(entry, "capacitance").typical >= LEAST_RESERVOIR


def _unloaded(task: Task, winding: Winding) -> float:
    """Highest voltage of the reservoir [V]."""
    crest = math.sqrt(2.0) * task.need.input.voltage.max / winding.ratio("low")
    return crest - LEAST_DROPS / winding.sides


def _reservoirs(task: Task, winding: Winding) -> Sequence[Entry]:
    """Capacitors that stand the highest mains, the cheapest of each capacitance."""
    highest = _unloaded(task, winding)
    found: dict[float, Entry] = {}
    for entry in sorted(of_kind(task.catalogue, "capacitor"), key=price_of):
        if _may_hold(entry) and bears(task, entry) >= highest:
            found.setdefault(spread_of(entry, "capacitance").typical, entry)
    return list(found.values())


@dataclass(frozen=True)
class _Seen:
    """Transformers with reservoirs, side by side, and what each makes of the mains."""

    task: Task
    pairs: Sequence[tuple[Winding, Entry]]
    current: float
    ground: str
    lowest: Reservoir
    nominal: Reservoir
    highest: Reservoir

    @classmethod
    def of(
        cls, task: Task, pairs: Sequence[tuple[Winding, Entry]], current: float, ground: str
    ) -> _Seen:
        """Each at the unfavourable end of every spread."""
        volts = task.need.input.voltage
        states = [
            _resting(task, pairs, current, volts.min, ("high", TWO_DROPS[0]), ("low", WORN)),
            _resting(
                task, pairs, current, volts.nominal, ("typical", TWO_DROPS[1]), ("typical", 1)
            ),
            _resting(task, pairs, current, volts.max, ("low", TWO_DROPS[1]), ("high", 1)),
        ]
        return cls(task, pairs, current, ground, *states)

    @property
    def fits(self) -> NDArray[np.bool_]:
        """Whether neither windings nor reservoir are overloaded."""
        return np.array([self._fits(n) for n in range(len(self.pairs))])

    def _fits(self, n: int) -> bool:
        winding, capacitor = self.pairs[n]
        kept, entry = self.task.kept, winding.entry
        carried = float(self.highest.effective[n]) * winding.shares
        loss = (carried / spread_of(entry, "rated_current").typical) ** 2
        parts = self.task.need.parts
        rise = spread_of(entry, "rated_rise").typical * loss**GROWS
        allowed = spread_of(entry, "winding_limit").typical - parts.junction_reserve
        marked = spread_of(capacitor, "capacitance").typical
        ripple = spread_of(capacitor, "rated_ripple").low * mains_share(marked)
        return (
            loss <= kept**2
            and self.task.need.surroundings.ambient.max + rise <= allowed
            and float(self.highest.ripple[n]) <= kept * ripple
        )

    def front(self, n: int) -> MainsFront:
        """One of them as what feeds a regulator."""
        task, (winding, capacitor) = self.task, self.pairs[n]
        valley, mains = float(self.lowest.valley[n]), task.need.input.voltage
        feed = Feed(
            task.inner(RAW),
            self.ground,
            valley - task.between,
            float(self.nominal.mean[n]),
            _unloaded(task, winding),
            float(self.highest.mean[n]),
        )
        crest = math.sqrt(2.0) * mains.min / winding.ratio("high")
        diodes = "two diodes" if winding.sides == 1 else "a diode"
        told = (
            f"at {show(mains.min, 'V')} its crest is sqrt(2) x {show(mains.min, 'V')}/"
            f"{winding.ratio('high'):.3g} = {show(crest, 'V')}; {diodes}, pulses in "
            f"{show(winding.resistance(task.need.input.resistance, 'high'), 'Ω')} and "
            f"{show(self.current, 'A')} out of {WORN:.0%} of the least "
            f"{show(spread_of(capacitor, 'capacitance').low, 'F')} leave {show(valley, 'V')} in "
            "the valley (steady state of the rectifier, Schade 1943)"
        )
        effective = float(self.highest.effective[n])
        return MainsFront(feed, task, winding, capacitor, self.current, effective, told)


def _resting(
    task: Task,
    pairs: Sequence[tuple[Winding, Entry]],
    current: float,
    volts: float,
    source: tuple[str, float],
    held: tuple[str, float],
) -> Reservoir:
    """The state in which all of them repeat at a mains voltage.

    source: end of the spread of ratio and resistance, and drop of both diodes [V]; held: end of
    the spread of the capacitance, and the share of it that is left.
    """
    (end, drops), (which, share), own = source, held, task.need.input.resistance
    frequency = task.need.input.frequency
    assert frequency is not None
    return reservoir(
        np.array([math.sqrt(2.0) * volts / w.ratio(end) - drops / w.sides for w, _ in pairs]),
        np.array([w.resistance(own, end) for w, _ in pairs]),
        np.array([w.leakage(end) for w, _ in pairs]),
        np.array([share * getattr(spread_of(c, "capacitance"), which) for _, c in pairs]),
        current,
        frequency.min,
        steps=200,
    )
