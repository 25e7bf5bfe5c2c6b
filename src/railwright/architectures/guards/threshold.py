"""The current at which a guard acts: what sees it against a reference, at the limits of both."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.guards.current_sense import Seat, Sense, senses
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE
from railwright.architectures.small_parts import draw_resistor
from railwright.catalogue.entry import Entry
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import nearest

LEG = 10e3
"""Ω of the fixed leg of a divider at the reference."""
NEAR = 0.03
"""Of the reference, within which what is seen needs no divider."""
MOST_UP = 2.0
"""Times its reference a shunt reference gives at most: with more its spread counts for more."""
USED = 0.05
"""Steps in which a reserve counts: what is within one of them is decided by price."""


@dataclass(frozen=True)
class Level:
    """A voltage against the ground, of a shunt reference."""

    task: Task
    reference: Entry
    volts: Spread
    up: float = 0.0
    """Ω from its cathode to its reference pin; nil: both joined."""
    down: float = 0.0
    """Ω from the level to the ground, with `LEG` above; nil: the level is the cathode."""

    @property
    def cathode(self) -> float:
        """What it stands at, at most [V]."""
        high = spread_of(self.reference, "reference_voltage").high
        return high * (1.0 + self.up / LEG)

    @property
    def drawn(self) -> float:
        """What its dividers take [A]."""
        own = self.cathode / (LEG + self.down) if self.down else 0.0
        return own + (spread_of(self.reference, "reference_voltage").high / LEG if self.up else 0.0)

    @property
    def behind(self) -> float:
        """Resistance that a comparator sees [Ω]."""
        return LEG * self.down / (LEG + self.down) if self.down else 0.0

    def draw(self, sheet: Sheet, block: str, nets: tuple[str, str, str], why: str) -> None:
        """It and its dividers; nets: level, cathode where that is another, ground."""
        level, other, ground = nets
        cathode = other if self.down else level
        pin = f"{cathode}_SET" if self.up else cathode
        pins = {"cathode": cathode, "anode": ground, "reference": pin}
        sheet.add("U", self.reference.kind, block, pins, why, use=self.reference.name)
        if self.up:
            draw_resistor(sheet, self.task, block, (cathode, pin), self.up, why)
            draw_resistor(sheet, self.task, block, (pin, ground), LEG, why)
        if self.down:
            draw_resistor(sheet, self.task, block, (cathode, level), LEG, why)
            draw_resistor(sheet, self.task, block, (level, ground), self.down, why)


@dataclass(frozen=True)
class Threshold:
    """Where it acts."""

    sense: Sense
    level: Level
    comparator: Entry
    others: str = ""
    """Why the other ways to see the current were not taken."""

    @property
    def _error(self) -> float:
        """V at the comparator that are neither the current's nor the reference's."""
        own, bias = (spread_of(self.comparator, name) for name in ("offset", "bias_current"))
        through = max(abs(bias.low), abs(bias.high)) * self.level.behind
        return own.high + through + self.sense.error

    @property
    def currents(self) -> Spread:
        """(level ± errors) / slope [A]."""
        level, slope = self.level.volts, self.sense.slope
        return Spread.limits(
            (level.low - self._error) / slope.high,
            level.typical / slope.typical,
            (level.high + self._error) / slope.low,
        )

    def reserve(self, carry: float, act_by: float) -> float:
        """Least distance from either end of a band, as a share of it."""
        found = self.currents
        return min(found.low - carry, act_by - found.high) / (act_by - carry)

    @property
    def words(self) -> str:
        """The formula with numbers."""
        found, sense = self.currents, self.sense
        return (
            f"{show(self.level.volts.typical, 'V')} / {show(sense.slope.typical, 'Ω')} = "
            f"{show(found.typical, 'A')}; {show(found.low, 'A')} to {show(found.high, 'A')} with "
            f"every part at its limit"
        )


def threshold(seat: Seat, comparator: Entry, carry: float, act_by: float) -> Threshold:
    """The one that keeps a band of currents [A]; Unserved, with what came nearest, if none does."""
    wanted = seat.task.need.parts.reserve
    best: dict[str, Threshold] = {}
    refused: dict[str, str] = {}
    for sense in senses(seat, 0.5 * (carry + act_by)):
        try:
            _judge(sense, carry, act_by)
        except Unserved as unserved:
            refused.setdefault(sense.name, unserved.reason)
            continue
        for level in _levels(seat, sense.slope.typical * 0.5 * (carry + act_by)):
            found = Threshold(sense, level, comparator)
            if sense.name not in best or _rank(found, carry, act_by) < _rank(
                best[sense.name], carry, act_by
            ):
                best[sense.name] = found
    keeping = {n: each for n, each in best.items() if each.reserve(carry, act_by) >= wanted}
    told = {
        **refused,
        **{n: _told(each, carry, act_by) for n, each in best.items() if n not in keeping},
    }
    others = "; ".join(f"{name}: {why}" for name, why in told.items() if name not in keeping)
    if not keeping:
        raise Unserved(others)
    chosen = min(keeping.values(), key=lambda each: each.sense.parts)
    return Threshold(chosen.sense, chosen.level, comparator, others)


def _judge(sense: Sense, carry: float, act_by: float) -> None:
    lost, may = sense.resistance.high * carry, sense.seat.may_lose
    if lost > may:
        raise Unserved(
            f"its shunt would take {show(lost, 'V')}; {show(may, 'V')} of what the output may "
            "move are left to it"
        )
    sense.judge(act_by)


def _rank(found: Threshold, carry: float, act_by: float) -> tuple[float, ...]:
    reserve = found.reserve(carry, act_by)
    divided = bool(found.level.up) + bool(found.level.down)
    prices = price_of(found.level.reference)
    if amplifier := getattr(found.sense, "amplifier", None):
        prices += price_of(amplifier)
    return (-round(reserve / USED), divided, prices, found.sense.ohms)


def _told(found: Threshold, carry: float, act_by: float) -> str:
    own = found.currents
    return (
        f"at best {show(own.low, 'A')} to {show(own.high, 'A')}, of {show(carry, 'A')} to "
        f"{show(act_by, 'A')} less the reserve"
    )


def _levels(seat: Seat, wanted: float) -> Iterator[Level]:
    """References near a voltage [V], with a divider where it is not their own."""
    task, series = seat.task, seat.task.need.parts.series
    off = 2.0 * (task.need.parts.resistor_tolerance or USUAL_TOLERANCE)
    for entry in sorted(of_kind(task.catalogue, "shunt-reference"), key=price_of):
        own = _own(entry, seat.far)
        ratio = wanted / own.typical
        if abs(ratio - 1.0) <= NEAR:
            yield Level(task, entry, own)
        elif 1.0 < ratio <= MOST_UP:
            up = nearest(LEG * (ratio - 1.0), series)
            least, most = (1.0 + up / LEG * (1.0 + side * off) for side in (-1.0, 1.0))
            pin = spread_of(entry, "reference_current").high * up
            volts = Spread.limits(
                own.low * least, own.typical * (1.0 + up / LEG), own.high * most + pin
            )
            yield Level(task, entry, volts, up=up)
        elif ratio < 1.0:
            down = nearest(LEG * ratio / (1.0 - ratio), series)
            part = down / (LEG + down)
            spare = off * (1.0 - part)
            volts = Spread.limits(
                own.low * part * (1.0 - spare), own.typical * part, own.high * part * (1.0 + spare)
            )
            yield Level(task, entry, volts, down=down)


def _own(entry: Entry, far: float) -> Spread:
    """Of a reference whose cathode is its reference, over the ambient [V].

    Stated at 10 mA; less takes it down by what its dynamic resistance makes of the difference.
    """
    own = spread_of(entry, "reference_voltage")
    off = own.drift * far
    less = spread_of(entry, "dynamic_resistance").high * TESTED
    return Spread.limits(own.low * (1.0 - off) - less, own.typical, own.high * (1.0 + off))


TESTED = 10e-3
"""A at which shunt references are stated (datasheets of the 431 type)."""
