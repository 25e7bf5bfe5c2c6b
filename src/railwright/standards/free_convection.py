"""Heat from a warm surface to still air: vertical plates and upright finned sinks.

Sources: F. P. Incropera and D. P. DeWitt, Fundamentals of Heat and Mass Transfer, chapter 9:
vertical plate after Churchill and Chu (1975), channels between fins after Elenbaas (1942) in the
form of Bar-Cohen and Rohsenow (1984), thermal efficiency of a straight fin, chapter 3. Air: U.S.
Standard Atmosphere, 1976, equations for viscosity and conductivity of dry air (from memory),
held against the tables of the textbook. The correlations hit measurements within about 10 to
20 % (from memory): an estimate, not a measurement.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

GRAVITY = 9.80665  # m/s²
SEA_LEVEL = 101325.0  # Pa
_GAS_CONSTANT = 287.053  # J/(kg K), dry air
_HEAT_CAPACITY = 3.5 * _GAS_CONSTANT  # J/(kg K), at constant pressure, two-atomic gas
_STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m² K⁴)
_COOLEST, _HOTTEST = 220.0, 450.0  # K, film temperatures over which the air was checked
_GREATEST_RAYLEIGH = 1e12  # Churchill and Chu

# Elenbaas numbers: 576 is the limit of narrow channels, 2.873 that of single plates.
_NARROW, _WIDE = 576.0, 2.873
_BEST_GAP = 2.714  # times height over the fourth root of the Rayleigh number, from the two above


class Air(NamedTuple):
    """Dry air: conductivity [W/(m K)], kinematic viscosity [m²/s], Prandtl number [1]."""

    conductivity: float
    viscosity: float
    prandtl: float


def air(temperature: float, pressure: float = SEA_LEVEL) -> Air:
    """Dry air at a temperature [K] and a pressure [Pa].

    ValueError outside 220 to 450 K.

    >>> [float(f"{value:.4g}") for value in air(300.0)]
    [0.02625, 1.569e-05, 0.7065]
    """
    if not (_COOLEST <= temperature <= _HOTTEST and pressure > 0):
        raise ValueError(
            f"air at {temperature!r} K and {pressure!r} Pa: wanted are {_COOLEST:g} to "
            f"{_HOTTEST:g} K and a pressure above 0"
        )
    viscosity = 1.458e-6 * temperature**1.5 / (temperature + 110.4)
    conductivity = (
        2.64638e-3 * temperature**1.5 / (temperature + 245.4 * 10.0 ** (-12.0 / temperature))
    )
    kinematic = viscosity / density(temperature, pressure)
    return Air(conductivity, kinematic, viscosity * _HEAT_CAPACITY / conductivity)


def density(temperature: float, pressure: float = SEA_LEVEL) -> float:
    """Density of dry air at a temperature [K] and a pressure [Pa], as an ideal gas [kg/m³].

    >>> round(density(300.0), 3)
    1.177
    """
    return pressure / (_GAS_CONSTANT * temperature)


def rayleigh(surface: float, ambient: float, length: float, pressure: float = SEA_LEVEL) -> float:
    """Rayleigh number of a length [m] on a warm surface [1].

    surface and ambient [K]; pressure [Pa]. Air is taken half-way between both. ValueError where
    the surface is not the warmer one, the length not above zero, or the air outside its range.
    """
    if not (surface > ambient and length > 0):
        raise ValueError(
            f"a surface of {surface!r} K and {length!r} m in air of {ambient!r} K: wanted are a "
            "surface warmer than the air and a length above 0"
        )
    film = (surface + ambient) / 2
    flow = air(film, pressure)
    push = GRAVITY * (surface - ambient) / film
    return push * length**3 * flow.prandtl / flow.viscosity**2


def plate_nusselt(rayleigh: float, prandtl: float) -> float:
    """Mean Nusselt number of a vertical plate of even temperature, by its height [1].

    ValueError where the Rayleigh number is beyond 1e12.

    >>> round(plate_nusselt(0.69 * 2.63e9, 0.69), 2)
    147.16
    """
    if not 0 <= rayleigh <= _GREATEST_RAYLEIGH:
        raise ValueError(f"a Rayleigh number of {rayleigh!r}: wanted is one from 0 to 1e12")
    weaker = (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)
    return float((0.825 + 0.387 * rayleigh ** (1 / 6) / weaker) ** 2)


def channel_nusselt(elenbaas: float) -> float:
    """Mean Nusselt number between two vertical plates of one even temperature, by their gap [1].

    elenbaas: Rayleigh number of the gap, times gap over height; above zero.

    >>> round(channel_nusselt(2.714**4), 3)
    1.307
    """
    return float((_NARROW / elenbaas**2 + _WIDE / math.sqrt(elenbaas)) ** -0.5)


def plate_convection(
    surface: float, ambient: float, height: float, pressure: float = SEA_LEVEL
) -> float:
    """Coefficient of free convection of a vertical plate [W/(m² K)].

    surface and ambient [K]; height [m]; pressure [Pa]. ValueError as for `rayleigh`.

    >>> round(plate_convection(333.15, 293.15, 0.1), 2)
    6.11
    """
    flow = air((surface + ambient) / 2, pressure)
    number = rayleigh(surface, ambient, height, pressure)
    return plate_nusselt(number, flow.prandtl) * flow.conductivity / height


def channel_convection(
    surface: float, ambient: float, height: float, gap: float, pressure: float = SEA_LEVEL
) -> float:
    """Coefficient of free convection between upright fins [W/(m² K)].

    surface and ambient [K]; height along the air's way and gap between two fins [m]; pressure
    [Pa]. ValueError as for `rayleigh`.

    >>> round(channel_convection(353.15, 303.15, 0.18, 7.5e-3), 2)
    4.96
    """
    flow = air((surface + ambient) / 2, pressure)
    elenbaas = rayleigh(surface, ambient, gap, pressure) * gap / height
    return channel_nusselt(elenbaas) * flow.conductivity / gap


def best_gap(surface: float, ambient: float, height: float, pressure: float = SEA_LEVEL) -> float:
    """Gap between thin upright fins that carries most heat off a given width [m].

    surface and ambient [K]; height along the air's way [m]. ValueError as for `rayleigh`.

    >>> round(best_gap(353.15, 303.15, 0.18) * 1e3, 2)
    7.5
    """
    return float(_BEST_GAP * height / rayleigh(surface, ambient, height, pressure) ** 0.25)


def radiation(surface: float, ambient: float, emissivity: float) -> float:
    """Coefficient of radiation into surroundings as warm as the air [W/(m² K)].

    surface and ambient [K]; emissivity, about 0.1 for bare and 0.8 for anodised or painted
    aluminium (from memory). Source: law of Stefan and Boltzmann. ValueError where the emissivity
    is not from 0 to 1.

    >>> round(radiation(353.15, 303.15, 0.8), 2)
    6.45
    """
    if not 0 <= emissivity <= 1:
        raise ValueError(f"an emissivity of {emissivity!r}: wanted is one from 0 to 1")
    return emissivity * _STEFAN_BOLTZMANN * (surface**2 + ambient**2) * (surface + ambient)


def plate_resistance(
    surface: float, ambient: float, height: float, area: float, emissivity: float = 0.0
) -> float:
    """Thermal resistance of a vertical plate to the air [K/W].

    surface and ambient [K]; height [m]; area of all wetted faces together [m²]; without an
    emissivity by convection alone. ValueError as for `rayleigh` and `radiation`, and where the
    area is not above zero.

    >>> round(plate_resistance(333.15, 293.15, 0.1, 0.02), 2)
    8.18
    """
    if not area > 0:
        raise ValueError(f"an area of {area!r} m²: wanted is one above 0")
    off = plate_convection(surface, ambient, height) + radiation(surface, ambient, emissivity)
    return 1 / (off * area)


@dataclass(frozen=True, slots=True)
class FinnedSink:
    """An upright sink: straight fins on a base whose back is covered."""

    height: float
    """m, along the fins, upright."""
    width: float
    """m, across the fins."""
    depth: float
    """m, of the fins, from the base to their tips."""
    thickness: float
    """m, of a fin."""
    fins: int
    conductivity: float = 200.0
    """W/(m K); extruded aluminium, from memory."""
    emissivity: float = 0.0

    def __post_init__(self) -> None:
        sizes = (self.height, self.width, self.depth, self.thickness, self.conductivity)
        if not (all(size > 0 for size in sizes) and self.fins >= 2 and self.gap > 0):
            raise ValueError(
                f"{self}: wanted are sizes above 0, at least two fins and room between them"
            )

    @property
    def gap(self) -> float:
        """Between two fins [m]."""
        return (self.width - self.fins * self.thickness) / (self.fins - 1)


def fin_efficiency(
    coefficient: float, depth: float, thickness: float, conductivity: float
) -> float:
    """Heat of a straight fin as a share of that of one as warm as its base [1].

    coefficient to the air [W/(m² K)]; depth and thickness [m]; conductivity [W/(m K)].

    >>> round(fin_efficiency(5.0, 0.05, 1e-3, 200.0), 3)
    0.96
    """
    slope = depth * math.sqrt(2 * coefficient / (conductivity * thickness))
    return math.tanh(slope) / slope


def finned_resistance(sink: FinnedSink, surface: float, ambient: float) -> float:
    """Thermal resistance of a finned sink to the air [K/W].

    base and ambient [K]. Channels convect as such, the two outermost faces as plates; tips are
    left out. What fins radiate meets the next fin, so that the envelope alone radiates.
    ValueError as for `rayleigh` and `radiation`.

    >>> sink = FinnedSink(height=0.1, width=0.1, depth=0.04, thickness=1.5e-3, fins=9)
    >>> round(finned_resistance(sink, 353.15, 303.15), 2)
    1.84
    """
    face = sink.depth * sink.height
    inside = channel_convection(surface, ambient, sink.height, sink.gap)
    outside = plate_convection(surface, ambient, sink.height)
    efficiency = fin_efficiency(inside, sink.depth, sink.thickness, sink.conductivity)
    channels = sink.fins - 1
    convected = (
        inside * channels * (2 * face * efficiency + sink.gap * sink.height)
        + outside * 2 * face * efficiency
    )
    envelope = sink.width * sink.height + 2 * face + 2 * sink.width * sink.depth
    return 1 / (convected + radiation(surface, ambient, sink.emissivity) * envelope)


def finned_temperature(sink: FinnedSink, power: float, ambient: float) -> float:
    """Temperature of the base of a finned sink that gives off a power [K].

    power [W], above zero; ambient [K]. ValueError where the air would leave its range.

    >>> sink = FinnedSink(height=0.1, width=0.1, depth=0.04, thickness=1.5e-3, fins=9)
    >>> round(finned_temperature(sink, 20.0, 303.15), 1)
    342.2
    """
    from scipy.optimize import brentq  # takes long to import

    def missing(surface: float) -> float:
        return (surface - ambient) / finned_resistance(sink, surface, ambient) - power

    hottest = 2 * _HOTTEST - ambient
    if not power > 0 or missing(hottest) < 0:
        raise ValueError(
            f"{power!r} W: wanted is a power above 0 that leaves the sink below {hottest:g} K"
        )
    return float(brentq(missing, ambient + 1e-6, hottest, xtol=1e-9))
