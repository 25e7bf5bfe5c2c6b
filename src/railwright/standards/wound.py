"""A coil that one winds oneself: turns, gap, wire, losses and heat on one core, or on the least.

First pass after Erickson and Maksimovic, Fundamentals of Power Electronics, 11.2, with the core
loss of the ripple, skin and proximity effect, and the heat that the losses make. For extra-low
voltage only: the insulation between mains and what a person can touch is out of its scope, and a
winding for that is refused.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from railwright.standards import wire
from railwright.standards.cores import overall_diameters
from railwright.standards.magnetics import (
    Core,
    Material,
    flux_density,
    gap_for,
    inductance_of,
    loss_density,
    thermal_resistance,
    turns_for_flux,
)
from railwright.standards.stages import Waveform
from railwright.standards.winding import copper_loss, layer_porosity, penetration, skin_depth

EXTRA_LOW_VOLTAGE = 60.0
"""V, ripple-free direct; what dry hands may touch. IEC 61140, from memory."""

_ZERO_CELSIUS = 273.15  # K; quantity.py stands on this folder, so it cannot be asked
_TOUCHABLE = 343.15  # K; metal above it burns in a second, ISO 13732-1, from memory
_ROUNDS = 100


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a wound coil may go."""

    fill: float = 0.5
    """Share of the window that is copper: a simple coil on a former. Erickson and Maksimovic,
    11.1.3."""
    flux_share: float = 0.75
    """Share of the hot saturation flux density. The same, problem 12.1."""
    hottest: float = 373.15
    """K; the values of the materials hold at 100 °C."""
    thickest: int = 14
    """American wire gauge; thicker wire is hard to wind by hand. Common practice, no source."""


class WindingRefusedError(ValueError):
    """A winding whose insulation a life may hang on: not to be designed by this."""


@dataclass(frozen=True, slots=True)
class Job:
    """What a wound coil has to do. ValueError where a value cannot be.

    inductance that must be left at the peak [H]; the waveform of its current; frequency [Hz];
    ambient [K]; voltage: the highest between the winding and what a person can touch [V]; mains:
    whether the winding is joined to the mains, also through a rectifier; limit: current at which
    the switch's own limit acts [A], 0 where it has none.
    """

    inductance: float
    current: Waveform
    frequency: float
    ambient: float
    voltage: float
    mains: bool
    limit: float = 0.0

    def __post_init__(self) -> None:
        if self.mains or not abs(self.voltage) <= EXTRA_LOW_VOLTAGE:
            what = "joined to the mains" if self.mains else f"at {self.voltage:g} V"
            raise WindingRefusedError(
                f"a winding {what} can kill where its insulation fails, and insulation is out of "
                f"the scope of this design (up to {EXTRA_LOW_VOLTAGE:g} V, apart from the mains). "
                "Buy a coil or transformer that is approved for the voltage."
            )
        if not self.current.continuous:
            raise ValueError(
                "the current rests at zero for a part of the period, which the loss formulas do "
                "not know: raise the inductance until the ripple is at most twice the mean"
            )
        for name in ("inductance", "frequency", "ambient"):
            if not 0 < getattr(self, name) < math.inf:
                raise ValueError(f"{name} {getattr(self, name)!r}: wanted is a value above 0")
        if not 0 <= self.limit < math.inf:
            raise ValueError(f"limit {self.limit!r} A: wanted is 0 for none, or a current")


@dataclass(frozen=True, slots=True)
class Wound:
    """A wound coil, worked out."""

    core: Core
    turns: int
    gap: float
    """All gaps on the path together, m; 0 where there is none."""
    gauge: int
    """American wire gauge of the enamelled wire."""
    layers: int
    fill: float
    """Share of the window that is copper."""
    length: float
    """Of the wire in the winding, without its ends, m."""
    inductance: float
    """H."""
    flux: float
    """Flux density at the peak, or at the switch's limit, T."""
    swing: float
    """Of the flux density by the ripple, from peak to peak, T."""
    resistance: float
    """Of the warm winding to direct current, Ω."""
    core_loss: float
    """W."""
    copper_loss: float
    """W, skin and proximity effect included."""
    temperature: float
    """Of the winding, K."""
    shortfalls: tuple[str, ...]
    cautions: tuple[str, ...]


def wind(
    job: Job,
    core: Core,
    material: Material,
    limits: Limits = Limits(),
) -> Wound:
    """The coil of a job on one core.

    Of the wires that fit, the one with the least loss, which with many layers is not the
    thickest. A coil that goes beyond a limit is returned with the shortfall. ValueError where
    not even the thinnest wire fits.
    """
    allowed = limits.flux_share * material.saturation
    greatest = max(job.current.peak, job.limit)
    turns = _turns(job, core, material, greatest, allowed)
    gap = gap_for(job.inductance, turns, core, material.permeability) if core.gapped else 0.0
    inductance = inductance_of(turns, core, material.permeability, gap)
    flux = flux_density(inductance, greatest, turns, core.area)
    swing = flux_density(inductance, job.current.ripple, turns, core.area)
    density = loss_density(material, job.frequency, swing, job.current.duty)
    core_loss = density * core.volume
    found = [
        _heated(job, core, turns, gauge, layers, core_loss, limits.hottest)
        for gauge, layers in _wires_that_fit(core, turns, limits)
    ]
    if not found:
        raise ValueError(
            f"{turns} turns do not fit {core.name} with any wire from AWG {limits.thickest} to "
            f"{max(overall_diameters())}: take a larger core"
        )
    best = min(found, key=lambda heated: heated.loss)
    shortfalls = []
    if best.temperature > limits.hottest:
        shortfalls.append(
            f"would get hotter than {limits.hottest - _ZERO_CELSIUS:.0f} °C: take a larger core, "
            "less ripple or moving air"
        )
    if flux > allowed:
        shortfalls.append(f"reaches {flux:.3g} T: wanted are at most {allowed:.3g} T")
    area = wire.area(best.gauge)
    return Wound(
        core=core,
        turns=turns,
        gap=gap,
        gauge=best.gauge,
        layers=best.layers,
        fill=turns * area / core.window,
        length=turns * core.turn,
        inductance=inductance,
        flux=flux,
        swing=swing,
        resistance=wire.resistance(turns * core.turn, area, best.temperature),
        core_loss=core_loss,
        copper_loss=best.loss,
        temperature=best.temperature,
        shortfalls=tuple(shortfalls),
        cautions=tuple(_cautions(gap, best.temperature)),
    )


def least_core(
    job: Job,
    cores: Iterable[Core],
    material: Material,
    limits: Limits = Limits(),
) -> Wound:
    """The coil of a job on the least core, by volume, that has no shortfall.

    ValueError where no core will do, with the reason for each.
    """
    reasons = []
    for core in sorted(cores, key=lambda each: each.volume):
        try:
            wound = wind(job, core, material, limits)
        except WindingRefusedError:
            raise
        except ValueError as error:
            reasons.append(f"{core.name}: {error}")
            continue
        if not wound.shortfalls:
            return wound
        reasons.append(f"{core.name}: {'; '.join(wound.shortfalls)}")
    lines = "".join(f"\n  {reason}" for reason in reasons)
    raise ValueError(f"no core will do: offer larger ones or ask for less{lines}")


def _turns(job: Job, core: Core, material: Material, greatest: float, allowed: float) -> int:
    """Turns for the flux, and for the inductance where that asks for more."""
    for_flux = turns_for_flux(job.inductance, greatest, allowed, core.area)
    of_one = inductance_of(1, core, material.permeability)
    return math.ceil(max(for_flux, math.sqrt(job.inductance / of_one)) - 1e-9)


def _wires_that_fit(core: Core, turns: int, limits: Limits) -> list[tuple[int, int]]:
    """Gauges that fit the window, each with its layers.

    Where the width of the window is not known, it is taken as square.
    """
    width = core.width if core.width is not None else math.sqrt(core.window)
    found = []
    for gauge, overall in overall_diameters().items():
        in_layer = int(width / overall + 1e-9)
        if in_layer < 1 or gauge < limits.thickest:
            continue
        layers = math.ceil(turns / in_layer)
        fits = layers * overall * width <= core.window
        if fits and turns * wire.area(gauge) <= limits.fill * core.window:
            found.append((gauge, layers))
    return found


@dataclass(frozen=True, slots=True)
class _Heated:
    gauge: int
    layers: int
    loss: float
    temperature: float


def _heated(
    job: Job, core: Core, turns: int, gauge: int, layers: int, core_loss: float, hottest: float
) -> _Heated:
    """Loss and temperature of a winding, each with the other.

    The temperature rises from round to round, as warm copper loses more; the rounds end where it
    rests or has passed the limit.
    """
    width = core.width if core.width is not None else math.sqrt(core.window)
    diameter, area = wire.diameter(gauge), wire.area(gauge)
    porosity = layer_porosity(diameter, math.ceil(turns / layers), width)
    current = job.current
    temperature = job.ambient
    loss = 0.0
    for _ in range(_ROUNDS):
        resistance = wire.resistance(turns * core.turn, area, temperature)
        thickness = penetration(diameter, porosity, skin_depth(job.frequency, temperature))
        loss = copper_loss(
            resistance, current.mean, current.ripple, current.duty, thickness, layers
        )
        before, temperature = (
            temperature,
            job.ambient + thermal_resistance(core) * (loss + core_loss),
        )
        if abs(temperature - before) < 1e-6 or temperature > hottest + 50:
            break
    return _Heated(gauge, layers, loss, temperature)


def _cautions(gap: float, temperature: float) -> list[str]:
    found = [
        "Extra-low voltage only: no winding of this design may part mains from a person.",
        "Do not open the circuit while current flows in the coil: its voltage rises until "
        "something arcs.",
    ]
    if gap > 0:
        found.append(
            f"The field of the gap heats copper near it: leave {gap * 1e3:.2g} mm or more between "
            "gap and wire. A spacer across all legs is half of it. Measure the inductance and trim "
            "the gap: its fringing is an estimate."
        )
    if temperature > _TOUCHABLE:
        found.append(f"Hot surface: about {temperature - _ZERO_CELSIUS:.0f} °C at full load.")
    return found
