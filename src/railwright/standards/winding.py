"""Copper in the field of a coil: skin and proximity effect, and the loss of a triangular current.

Source, if no other is named: Erickson and Maksimovic, Fundamentals of Power Electronics, 10.4,
after Dowell: layers of round wire as foils, the field parallel to them. The field that bulges
from an air gap is not in it; keep the wire away from the gap by at least its length.
"""

import math

from railwright.standards import wire

MU_0 = 4e-7 * math.pi  # H/m, permeability of vacuum (exact before 2019, to 1e-9 since)

_THIN = 0.05  # skin depths; below, the closed form loses digits and the series has them all
_HARMONICS = 30  # of a triangle: the rest holds less than 1e-5 of its square


def skin_depth(frequency: float, temperature: float = wire.REFERENCE_TEMPERATURE) -> float:
    """Depth at which the current in copper has fallen to 1/e [m].

    frequency [Hz]; temperature [K].

    >>> round(skin_depth(100e3) * 1e3, 3)
    0.209
    """
    if not frequency > 0:
        raise ValueError(f"frequency {frequency!r} Hz: wanted is a value above 0")
    resistivity = wire.resistance(1.0, 1.0, temperature)
    return math.sqrt(resistivity / (math.pi * MU_0 * frequency))


def penetration(diameter: float, porosity: float, depth: float) -> float:
    """Thickness of the foil that stands for a layer of round wire, in skin depths.

    diameter of the bare wire and skin depth [m]; porosity: share of a layer's width that is
    copper once the wire is squared, `layer_porosity`.
    """
    return math.sqrt(porosity * math.pi / 4) * diameter / depth


def layer_porosity(diameter: float, turns: float, width: float) -> float:
    """Share of a layer's width that is copper. Bare diameter and width of the layer [m]."""
    return min(1.0, math.sqrt(math.pi / 4) * diameter * turns / width)


def resistance_factor(thickness: float, layers: int) -> float:
    """Resistance of a winding to sinusoidal current, over that to direct current.

    thickness of a layer in skin depths; layers of the whole winding, not interleaved. Equations
    10.84 to 10.88 there.

    >>> round(resistance_factor(1.0, 1), 3), round(resistance_factor(1.0, 4), 2)
    (1.086, 2.69)
    """
    if layers < 1 or not thickness >= 0:
        raise ValueError(
            f"{layers} layers of {thickness!r} skin depths: wanted are 1 or more, and 0 or more"
        )
    if thickness < _THIN:
        return 1 + (5 * layers**2 - 1) / 45 * thickness**4
    fades = math.exp(-2 * thickness)
    below = 1 + fades**2 - 2 * fades * math.cos(2 * thickness)
    first = (1 - fades**2 + 2 * fades * math.sin(2 * thickness)) / below
    decay = math.exp(-thickness)
    second = decay * ((1 - fades) * math.cos(thickness) + (1 + fades) * math.sin(thickness)) / below
    return thickness * (first + 2 / 3 * (layers**2 - 1) * (first - 2 * second))


def triangle_harmonics(ripple: float, duty: float) -> list[float]:
    """Harmonics of a triangular current without its mean, from the first on [A rms].

    ripple from peak to peak [A]; duty: share of the period in which it rises, between 0 and 1.
    Fourier series of the triangle.
    """
    if not 0 < duty < 1:
        raise ValueError(f"duty {duty!r}: wanted is a share between 0 and 1")
    scale = ripple / (math.sqrt(2) * math.pi**2 * duty * (1 - duty))
    return [scale * abs(math.sin(n * math.pi * duty)) / n**2 for n in range(1, _HARMONICS + 1)]


def copper_loss(
    resistance: float, mean: float, ripple: float, duty: float, thickness: float, layers: int
) -> float:
    """Loss of a winding that carries a direct current with triangular ripple [W].

    resistance to direct current [Ω]; mean and ripple from peak to peak [A]; duty of the rise;
    thickness of a layer in skin depths of the first harmonic; layers. The direct current knows no
    skin effect (10.4.7 there).
    """
    alternating = sum(
        current**2 * resistance_factor(thickness * math.sqrt(n), layers)
        for n, current in enumerate(triangle_harmonics(ripple, duty), start=1)
    )
    return resistance * (mean**2 + alternating)
