"""A linear regulator in its place: what it carries, needs, withstands, loses, by its limits.

What feeds it may be the input of the supply or a rail before it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sizing.cooling import Cooling, coolings
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable
from railwright.devices import kinds
from railwright.quantity import show

ROOM = 298.15  # K; where dropouts are stated
ACCURACY = 0.05
"""Of a fixed rail where the need says nothing; that of the check `output.accuracy`."""
NOISE_FROM, NOISE_TO = 10.0, 100e3  # Hz; the band in which the need states noise
SPARE_HEADROOM = 1.0  # V; the reserve of a headroom counts against at least this


@dataclass(frozen=True)
class Feed:
    """What feeds a stage, its net, and that to which it returns."""

    net: str
    ground: str
    low: float
    """V, least at full load, with nothing lost on the way; so nominal, and high at any load."""
    nominal: float
    high: float
    loaded: float
    """V, at the highest input and full load, in the mean."""
    follows: float | None = None
    """V above the output at most, where it follows that; None where it does not."""


@dataclass(frozen=True)
class Wiring:
    """Nets of a regulator: what it takes from, what it gives to, what both return to."""

    raw: str
    out: str
    ground: str
    negative: bool = False
    """Whether both lie below the ground."""

    def across(self, net: str) -> dict[str, str]:
        """Pins of a capacitor from a net to the ground."""
        if self.negative:
            return {"plus": self.ground, "minus": net}
        return {"plus": net, "minus": self.ground}

    def leading(self, start: str, end: str) -> dict[str, str]:
        """Pins of a diode that empties one net into another; turned round where both lie below."""
        if self.negative:
            start, end = end, start
        return {"anode": start, "cathode": end}


@dataclass(frozen=True)
class Setting:
    """How the voltage of a regulator is set."""

    lowest: float
    """V, least output that a user can have."""
    highest: float
    """V, most that has to be held."""
    reach: float
    """V, what is to be reached at full load so that a control has its reserve."""
    current: float
    """A that its legs draw from the output, at most."""
    draw: Callable[[Sheet, Wiring], tuple[NewTable, ...]]
    """Puts its parts on the sheet; the controls."""
    pins: dict[str, str]
    """Pins of the regulator beside input and output -> nets."""
    turned_up: float = 0.0
    """V, most at the upper end of a knob; nil without one."""


def rated_current(entry: Entry) -> float:
    """The current for which a regulator is sold [A]."""
    return spread_of(entry, "rated_current").typical


@dataclass(frozen=True)
class Means:
    """Regulators of one sort, and how their voltage is set."""

    kinds: tuple[str, ...]
    setting: Callable[[Place], Setting]
    """Unserved where a regulator cannot be brought to the output."""


@dataclass(frozen=True)
class Place:
    """A regulator of the catalogue between what feeds it and a rail."""

    task: Task
    rail: Output
    entry: Entry
    feed: Feed

    @property
    def negative(self) -> bool:
        """Whether it regulates below its ground."""
        return kinds()[self.entry.kind].negative

    @property
    def wiring(self) -> Wiring:
        """Its nets."""
        terminals = self.task.terminals(self.rail.name)
        out = terminals.minus if self.negative else terminals.plus
        return Wiring(self.feed.net, out, self.feed.ground, self.negative)

    @property
    def rated(self) -> float:
        """Its rated current [A]."""
        return rated_current(self.entry)

    @property
    def load_share(self) -> float:
        """Fall of the output per ampere, as a share of it."""
        return spread_of(self.entry, "load_regulation").high / self.rated

    @property
    def line_share(self) -> float:
        """Change of the output per volt at the input, as a share of it."""
        return spread_of(self.entry, "line_regulation").high

    @property
    def regulation(self) -> float:
        """What line and load take from the output or add to it at worst, as a share of it."""
        return self.load_share * self.rail.current.max + self.line_share * self._unlike_test

    @property
    def _unlike_test(self) -> float:
        """How far the voltage across is from that of the datasheet's test [V]."""
        tested = spread_of(self.entry, "reference_difference").typical
        across = (volts - self.rail.voltage.max for volts in (self.feed.low, self.feed.loaded))
        return max(abs(each - tested) for each in across)

    @property
    def accuracy(self) -> float:
        """Share of the output that may be off, the wanted reserve left."""
        return (self.rail.accuracy or ACCURACY) * self.task.kept

    def accuracy_left(self) -> float:
        """Share that reference and legs may be off, when regulation has taken its own.

        Unserved where nothing is left, or where it does not carry the load to begin with.
        """
        wanted = self.rail.current.max
        if wanted > self.rated:
            raise Unserved(
                f"{show(wanted, 'A')} are wanted of its {show(self.rated, 'A')}", reached=1
            )
        if self.regulation >= self.accuracy:
            raise Unserved(
                f"line and load take {show(self.regulation, '1')} of the output, of "
                f"{show(self.accuracy, '1')} that may be used",
                reached=1.5,
            )
        return self.accuracy - self.regulation


@dataclass(frozen=True)
class Regulator:
    """A regulator in its place whose voltage is set."""

    place: Place
    setting: Setting

    @property
    def drawn(self) -> float:
        """Greatest current through it [A]; a resistive load takes more of more volts."""
        rail = self.place.rail
        most = rail.current.max * self.setting.highest / rail.voltage.max
        return most + self.setting.current

    @property
    def own_current(self) -> float:
        """What it takes to ground itself at full load, at most [A]."""
        known = self.place.entry.values
        own = known["quiescent_current"].spread.high if "quiescent_current" in known else 0.0
        share = known["load_share"].spread.high if "load_share" in known else 0.0
        return own + share * self.drawn

    @property
    def taken(self) -> float:
        """Greatest current from what feeds it [A]."""
        return self.drawn + self.own_current

    @property
    def dropout(self) -> float:
        """Greatest dropout at full load, cold and hot [V]; as `devices.linear_regulator` has it."""
        entry = self.place.entry
        beyond = self.drawn - spread_of(entry, "dropout_current").typical
        slope = spread_of(entry, "dropout_resistance")
        volts = spread_of(entry, "dropout").high
        volts += beyond * (slope.high if beyond > 0 else slope.low)
        if "dropout_drift" not in entry.values:
            return volts
        drift, hottest = spread_of(entry, "dropout_drift"), spread_of(entry, "junction_limit").high
        coldest = self.place.task.need.surroundings.ambient.min
        return volts + max(0.0, drift.low * (coldest - ROOM), drift.high * (hottest - ROOM))

    @property
    def needed(self) -> float:
        """What it has to have across it with the wanted reserve [V]."""
        reserve = self.place.task.need.parts.reserve
        return self.dropout + reserve * max(self.dropout, SPARE_HEADROOM)

    @property
    def loss(self) -> float:
        """Greatest loss [W]: highest input, lowest setting, full load."""
        loaded, follows = self.place.feed.loaded, self.place.feed.follows
        across = loaded - self.setting.lowest if follows is None else follows
        return across * self.drawn + loaded * self.own_current

    def headroom(self, lost: float) -> float:
        """What is left across it beyond what is needed, `lost` before it [V].

        Unserved where nothing is.
        """
        lowest, highest = self.place.feed.low, self.setting.highest
        lost += self.place.task.ahead
        left = lowest - lost - highest
        if left < self.needed:
            raise Unserved(
                f"at {show(lowest, 'V')} in, {show(lost, 'V')} are lost before it and "
                f"{show(left, 'V')} left across it at {show(highest, 'V')} out; it needs "
                f"{show(self.dropout, 'V')} (upper limit), {show(self.needed, 'V')} with the "
                "wanted reserve",
                reached=5,
            )
        self._awake(lowest - lost)
        return left - self.needed

    def _awake(self, lowest: float) -> None:
        """Unserved where the least at its input [V] is too little for it to work."""
        entry = self.place.entry
        if "supply_minimum" not in entry.values:
            return
        least = spread_of(entry, "supply_minimum").high * (1.0 + self.place.task.need.parts.reserve)
        if lowest < least:
            raise Unserved(
                f"{show(lowest, 'V')} are left at its input; it wants {show(least, 'V')} to work, "
                "the wanted reserve included",
                reached=5,
            )

    def judge(self) -> None:
        """Unserved where current, voltage, regulation or noise are beyond it."""
        self._carries()
        self._withstands()
        self._regulates()

    def coolings(self) -> list[Cooling]:
        """Ways to keep it cool enough, the smallest first; Unserved where there is none."""
        task, entry = self.place.task, self.place.entry
        limit = task.hottest(entry)
        around = task.need.surroundings
        touched = around.touch_limit is not None
        hottest = around.ambient.max
        return coolings(task.catalogue, entry, self.loss, hottest, limit, touched=touched)

    def _carries(self) -> None:
        place = self.place
        may = place.task.bears(place.entry, "rated_current")
        if self.drawn > may:
            raise Unserved(
                f"{show(self.drawn, 'A')} flow; of its {show(place.rated, 'A')} {show(may, 'A')} "
                "may be used",
                reached=2,
            )
        feed = place.feed
        across = feed.high - self.setting.lowest if feed.follows is None else feed.follows
        limit = self._limit(across)
        if self.drawn > place.task.kept * limit:
            raise Unserved(
                f"with {show(across, 'V')} across, its own limit may be down at "
                f"{show(limit, 'A')}; {show(self.drawn, 'A')} flow",
                reached=3,
            )

        self._lets_act()

    def _lets_act(self) -> None:
        """Unserved where its own limit keeps a short from what a guard behind it acts on."""
        overload, shorted = self.place.rail.overload, self.place.feed.loaded
        wanted = 0.0 if overload is None else overload.act_by or 0.0
        limit = self._limit(shorted)
        if wanted > limit:
            raise Unserved(
                f"a guard behind it acts at up to {show(wanted, 'A')}; in a short, with "
                f"{show(shorted, 'V')} across, its own limit may be down at {show(limit, 'A')}",
                reached=3,
            )

    def _limit(self, across: float) -> float:
        """Its own limit of the current at least, with a voltage across [A]."""
        entry = self.place.entry
        limit = spread_of(entry, "current_limit").low
        if "limit_fall" not in entry.values:
            return limit
        beyond = max(0.0, across - spread_of(entry, "limit_fall_from").typical)
        return limit * max(0.0, 1.0 - spread_of(entry, "limit_fall").high * beyond)

    def _withstands(self) -> None:
        task, entry, highest = self.place.task, self.place.entry, self.place.feed.high
        seen = {
            "supply_maximum": highest,
            "difference_maximum": highest - self.setting.lowest,
        }
        for rating, volts in seen.items():
            if rating in entry.values and volts > task.bears(entry, rating):
                part = task.share(entry, rating)
                limit = show(spread_of(entry, rating).high, "V")
                raise Unserved(
                    f"it would see {show(volts, 'V')}; of its {limit} {show(part, '1')} may be "
                    "used",
                    reached=3,
                )

    def _regulates(self) -> None:
        """Line and load regulation and noise, where the need asks for them."""
        place, feed, rail = self.place, self.place.feed, self.place.rail
        swing = max(feed.loaded - feed.nominal, feed.nominal - feed.low)
        load = place.load_share * (rail.current.max - rail.current.min) * self.setting.highest
        asked = {
            "line_regulation": (
                place.line_share * swing * self.setting.highest,
                "of a change of the input",
            ),
            "load_regulation": (load, "of a change of the load"),
            "noise": (_noise(place.entry), "of noise"),
        }
        for demand, (moved, what) in asked.items():
            limit = getattr(rail, demand)
            if limit is not None and moved > place.task.kept * limit:
                raise Unserved(
                    f"{show(moved, 'V')} {what} reach the output at worst; {show(limit, 'V')} are "
                    "allowed",
                    reached=4,
                )


def _noise(entry: Entry) -> float:
    """Noise from 10 Hz to 100 kHz, at its upper limit [V rms]."""
    bandwidth: float = NOISE_TO - NOISE_FROM
    return float(spread_of(entry, "noise_voltage").high * bandwidth**0.5)
