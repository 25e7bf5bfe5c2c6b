"""A filter behind what switches: coil and capacitor, and a capacitor that damps both.

Ceramic or film for what is left of the ripple; an electrolytic capacitor beside it, with the
series resistance that `standards.filter_damping` gives, its own counted in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from railwright.architectures.architecture import Task
from railwright.architectures.sizing.capacitors import bears
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.catalogue.entry import Entry
from railwright.devices.capacitor import bend, kept_under_bias, kept_warm
from railwright.devices.inductor import BEND
from railwright.quantity import Spread, show
from railwright.standards.filter_damping import best_resistance, characteristic, least_peak
from railwright.standards.iec60063 import nearest
from railwright.standards.wire import WARM

LEAST_TIMES = 2.0
"""Times the first capacitor is the second at least, at the unfavourable limits of both: damps to
1.4 times the characteristic impedance."""
MOST_TIMES = 30.0
"""Beyond that the second capacitor is the filter, and its resistance what is left of the ripple."""
NEAR_ENOUGH, HIGHER = 2.0, 1.7
"""Up to so many times off the best, the damper's own series resistance does; the greatest impedance
is then at most so many times the least one (solved for 2 to 30 times the capacitance)."""
LITTLE = 0.005
"""Of the voltage; what takes no more counts as taking little."""
QUIET, LEAST_QUIET = ("film", "class-2"), 470e-9
"""Dielectrics of the capacitor that takes the ripple, and the least that is worth a coil [F]."""


@dataclass(frozen=True)
class Surroundings:
    """What a filter stands in."""

    current: float
    """A, greatest."""
    voltage: float
    """V, greatest."""
    ambients: tuple[float, float]
    """K."""
    frequency: float
    """Hz, least."""
    task: Task
    """Whose catalogue, derating policy and series of resistors count."""


@dataclass(frozen=True)
class SecondStage:
    """Coil, capacitor, and what damps them."""

    coil: Entry
    quiet: Entry
    damper: Entry
    resistance: float
    """Ω in series with the damper; nil where its own is near enough."""
    where: Surroundings

    @cached_property
    def inductance(self) -> Spread:
        """Of its coil, at the limits of its spread and of the current [H]."""
        own = spread_of(self.coil, "inductance")
        bent = BEND * self.where.current / spread_of(self.coil, "saturation_current").low
        return Spread.limits(own.low / (1.0 + bent * bent) ** 1.5, own.typical, own.high)

    @cached_property
    def capacitance(self) -> Spread:
        """Of the quiet one, with what bias and temperature leave of it [F]."""
        return _left(self.quiet, self.where)

    @property
    def times(self) -> float:
        """How many times that the damper is, both typical."""
        return spread_of(self.damper, "capacitance").typical / self.capacitance.typical

    @property
    def passes(self) -> float:
        """Share of a ripple ahead of it that gets through, at its slowest and unfavourable."""
        s = 2j * math.pi * self.where.frequency
        admittance = s * self.capacitance.low + 1.0 / (
            self.resistance
            + spread_of(self.damper, "esr").high
            + 1.0 / (s * spread_of(self.damper, "capacitance").low)
        )
        return abs(1.0 / (1.0 + s * self.inductance.low * admittance))

    @property
    def drop(self) -> float:
        """What its coil takes at full load, at most, and warm [V]."""
        return spread_of(self.coil, "winding_resistance").high * WARM * self.where.current

    @property
    def impedance(self) -> float:
        """Greatest impedance of its output, fed from a stiff source [Ω]."""
        rings = characteristic(self.inductance.high, self.capacitance.low)
        return HIGHER * rings * least_peak(self.times)

    @property
    def words(self) -> str:
        """The formula of its damping with numbers."""
        rings = characteristic(self.inductance.typical, self.capacitance.typical)
        return (
            f"n = {self.times:.3g} times the capacitor that takes the ripple; best in series "
            f"{show(rings * best_resistance(self.times), 'Ω')}, of which it has "
            f"{show(spread_of(self.damper, 'esr').typical, 'Ω')}: the filter stays below "
            f"{show(self.impedance, 'Ω')} at its limits (Erickson and Maksimovic, 17.4.1)"
        )

    @property
    def rank(self) -> tuple[float, ...]:
        """The cheapest first, then what takes little, then the smallest."""
        sizes = (
            spread_of(self.coil, "rated_current").high,
            spread_of(self.coil, "inductance").typical,
            spread_of(self.quiet, "capacitance").typical,
            spread_of(self.damper, "capacitance").typical,
        )
        prices = sum(price_of(each) for each in (self.coil, self.quiet, self.damper))
        drop = max(self.drop, LITTLE * self.where.voltage)
        return prices, self.resistance > 0.0, drop, *sizes


def second_stages(where: Surroundings) -> list[SecondStage]:
    """One for each coil and quiet capacitor that stand where they are put, the cheapest first."""
    catalogue = where.task.catalogue
    coils = [each for each in of_kind(catalogue, "inductor") if _carries(each, where)]
    stand = [each for each in of_kind(catalogue, "capacitor") if _stands(each, where)]
    quiet = [each for each in stand if _of(each, *QUIET) and _farads(each) >= LEAST_QUIET]
    dampers = sorted((each for each in stand if _of(each, "electrolytic")), key=_dear)
    bare = [SecondStage(coil, each, each, 0.0, where) for coil in coils for each in quiet]
    found = [damped for each in bare if (damped := _damped(each, dampers)) is not None]
    return sorted(found, key=lambda each: each.rank)


def _damped(bare: SecondStage, dampers: Sequence[Entry]) -> SecondStage | None:
    """The cheapest damper that does alone, else the cheapest with a resistor; None if neither."""
    held, series = bare.capacitance, bare.where.task.need.parts.series
    rings = characteristic(bare.inductance.typical, held.typical)
    with_resistor = None
    for damper in dampers:
        esr, times = spread_of(damper, "esr"), _farads(damper) / held.typical
        if spread_of(damper, "capacitance").low < LEAST_TIMES * held.high or times > MOST_TIMES:
            continue
        best = rings * best_resistance(times)
        if best / NEAR_ENOUGH <= esr.low and esr.high <= NEAR_ENOUGH * best:
            return replace(bare, damper=damper)
        if esr.high < best and with_resistor is None:
            lacking = nearest(best - esr.typical, series)
            with_resistor = replace(bare, damper=damper, resistance=lacking)
    return with_resistor


def _farads(capacitor: Entry) -> float:
    return spread_of(capacitor, "capacitance").typical


def _of(capacitor: Entry, *dielectrics: str) -> bool:
    return capacitor.options.get("dielectric") in dielectrics


def _dear(capacitor: Entry) -> tuple[float, float]:
    return price_of(capacitor), _farads(capacitor)


def _carries(coil: Entry, where: Surroundings) -> bool:
    known = {"inductance", "saturation_current", "rated_current", "winding_resistance"}
    if not known <= coil.values.keys():
        return False
    saturates = spread_of(coil, "saturation_current").low
    return (
        where.current <= where.task.bears(coil, "rated_current")
        and where.current <= where.task.share(coil, "saturation_current") * saturates
    )


def _stands(capacitor: Entry, where: Surroundings) -> bool:
    known = {"capacitance", "esr"} <= capacitor.values.keys()
    return known and bool(bears(where.task, capacitor) >= where.voltage)


def _left(entry: Entry, where: Surroundings) -> Spread:
    """What bias and temperature leave of a capacitance, limits included [F]."""
    own = spread_of(entry, "capacitance")
    if entry.options.get("dielectric") != "class-2":
        return own
    bent = bend(spread_of(entry, "bias_loss").typical, spread_of(entry, "rated_voltage").high)
    kept = float(kept_under_bias(bent, where.voltage))
    loss = spread_of(entry, "temperature_loss").typical
    warm = min(float(kept_warm(loss, ambient)) for ambient in where.ambients)
    return Spread.limits(own.low * kept * warm, own.typical * kept, own.high)
