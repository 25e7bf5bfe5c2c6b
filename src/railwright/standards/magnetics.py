"""Cores of coils: size by area product or geometrical constant, turns, gap, flux, loss, heat.

Sources: Erickson and Maksimovic, Fundamentals of Power Electronics, chapters 10 and 11
(geometrical constant K_g); McLyman, Transformer and Inductor Design Handbook, chapter 8 (area
product, fringing), from memory where no other is named. All in SI units, where the books have
centimetres.
"""

import math
from dataclasses import dataclass

from railwright.standards.winding import MU_0


@dataclass(frozen=True, slots=True)
class Core:
    """A core with the room for its winding."""

    name: str
    area: float
    """Effective cross-section, m²."""
    path: float
    """Effective length of the magnetic path, m."""
    window: float
    """Cross-section of the room for wire, m²."""
    turn: float
    """Mean length of a turn, m."""
    width: float | None = None
    """Of the window along a layer of wire, m; None where it is not known."""
    thermal_resistance: float | None = None
    """From the winding to still air, K/W; None where none is published."""
    gapped: bool = True
    """False for a ring, whose material has its gap in itself or none."""
    source: str = ""

    @property
    def volume(self) -> float:
        """Effective volume [m³]."""
        return self.area * self.path

    @property
    def area_product(self) -> float:
        """Cross-section times window [m⁴]."""
        return self.area * self.window

    @property
    def geometrical_constant(self) -> float:
        """Cross-section squared times window over the length of a turn [m⁵]."""
        return self.area**2 * self.window / self.turn


@dataclass(frozen=True, slots=True)
class Material:
    """What a core is made of, at 100 °C. Loss is the power law of Steinmetz.

    A cold power ferrite loses up to half more, which warms it towards its least loss.
    """

    name: str
    permeability: float
    """Relative: the initial one; of a powder, what is left of it at the peak."""
    saturation: float
    """Flux density at which it saturates when hot, T."""
    loss: float
    """W/m³ at the reference frequency and flux density."""
    reference_frequency: float
    """Hz."""
    reference_flux: float
    """T, the crest of a sine."""
    frequency_exponent: float
    flux_exponent: float
    frequencies: tuple[float, float]
    """Hz, where the power law holds."""
    source: str = ""


def ring(name: str, outer: float, inner: float, height: float, source: str = "") -> Core:
    """A ring of rectangular section, by its diameters and height [m].

    Effective path and area after IEC 60205 (from memory). The window is the hole; a turn is
    taken half-way through it. ValueError where the ring has no hole or no wall.

    >>> core = ring("27 mm", 26.9e-3, 14.7e-3, 11.2e-3)
    >>> round(core.path * 1e3, 1), round(core.area * 1e6, 1)
    (61.5, 66.3)
    """
    if not (0 < inner < outer and height > 0):
        raise ValueError(f"ring {name}: wanted are outer over inner diameter and a height, above 0")
    ratio, bend = math.log(outer / inner), 2 / inner - 2 / outer
    build = inner / 4  # of the winding, on the inner and about as much on the other faces
    return Core(
        name=name,
        area=height * ratio**2 / bend,
        path=2 * math.pi * ratio / bend,
        window=math.pi / 4 * inner**2,
        turn=2 * (height + (outer - inner) / 2) + math.pi * build,
        width=math.pi * inner,
        gapped=False,
        source=source,
    )


def needed_area_product(
    inductance: float, peak: float, rms: float, flux: float, density: float, fill: float
) -> float:
    """Area product that a core must have [m⁴].

    inductance [H]; peak and rms current [A]; flux density at the peak [T]; current density in
    the copper [A/m²]; fill: share of the window that is copper. From N A B = L I and
    fill * window = N I / density. Source: McLyman, chapter 8.

    >>> round(needed_area_product(0.75e-3, 1.5, 1.25, 0.25, 4.5e6, 0.5) * 1e8, 3)
    0.25
    """
    _above_zero(inductance=inductance, peak=peak, rms=rms, flux=flux, density=density, fill=fill)
    return inductance * peak * rms / (fill * density * flux)


def needed_geometrical_constant(
    resistivity: float, inductance: float, peak: float, flux: float, resistance: float, fill: float
) -> float:
    """Geometrical constant that a core must have for a resistance of the winding [m⁵].

    resistivity [Ω m]; inductance [H]; peak current [A]; flux density at the peak [T];
    resistance allowed [Ω]; fill as above. Source: Erickson and Maksimovic, equations 11.14
    to 11.16.
    """
    _above_zero(
        resistivity=resistivity,
        inductance=inductance,
        peak=peak,
        flux=flux,
        resistance=resistance,
        fill=fill,
    )
    return resistivity * (inductance * peak) ** 2 / (flux**2 * resistance * fill)


def turns_for_flux(inductance: float, peak: float, flux: float, area: float) -> float:
    """Turns at which the flux density at the peak current is just reached; not rounded.

    inductance [H]; peak current [A]; flux density [T]; area [m²]. N A B = L I.
    """
    _above_zero(inductance=inductance, peak=peak, flux=flux, area=area)
    return inductance * peak / (flux * area)


def flux_density(inductance: float, current: float, turns: float, area: float) -> float:
    """Flux density of a coil at a current, or its swing by a ripple [T]. N A B = L I."""
    return inductance * current / (turns * area)


def fringing(gap: float, area: float, width: float) -> float:
    """Factor by which the field that bulges from a gap lowers the gap's reluctance.

    gap, width of the window along the winding [m]; area of the section [m²]. Source: McLyman,
    chapter 8: 1 + gap / √area * ln(2 width / gap), for a gap in the middle leg. Never below 1.
    """
    if not 0 < gap < 2 * width:
        return 1.0
    return 1 + gap / math.sqrt(area) * math.log(2 * width / gap)


def inductance_of(turns: float, core: Core, permeability: float, gap: float = 0.0) -> float:
    """Inductance of a coil on a core [H].

    gap: all gaps on the path together [m]. Reluctances of iron and gap in series; fringing where
    the core's width is known. Source: Erickson and Maksimovic, 10.1.2.
    """
    spread = fringing(gap, core.area, core.width) if core.width is not None else 1.0
    reluctance = (core.path / permeability + gap / spread) / (MU_0 * core.area)
    return turns**2 / reluctance


def gap_for(inductance: float, turns: float, core: Core, permeability: float) -> float:
    """Gap that brings a coil down to an inductance [m].

    ValueError where even the closed core has too little. The equation has the gap in its
    fringing too; solved by halving.
    """
    if inductance > inductance_of(turns, core, permeability):
        raise ValueError(
            f"{turns:g} turns on {core.name} make {inductance_of(turns, core, permeability):.3g} H "
            f"without a gap: wanted are {inductance:.3g} H. Wind more turns."
        )
    low, high = 0.0, core.path
    for _ in range(60):
        middle = (low + high) / 2
        if inductance_of(turns, core, permeability, middle) > inductance:
            low = middle
        else:
            high = middle
    return high


def loss_density(material: Material, frequency: float, swing: float, duty: float | None) -> float:
    """Core loss per volume [W/m³].

    frequency [Hz]; swing of the flux density from peak to peak [T]; duty of its rise for a
    triangle, or None for a sine. The triangle by the improved generalised Steinmetz equation
    (Venkatachalam, Sullivan, Abdallah and Tacca, 2002). ValueError outside the frequencies for
    which the power law holds. Direct flux is not in it: near saturation the loss is higher.
    """
    low, high = material.frequencies
    if not low <= frequency <= high:
        raise ValueError(
            f"{frequency:g} Hz: the loss of {material.name} is known from {low:g} to {high:g} Hz"
        )
    alpha, beta = material.frequency_exponent, material.flux_exponent
    sine = float(
        material.loss
        * (frequency / material.reference_frequency) ** alpha
        * (swing / 2 / material.reference_flux) ** beta
    )
    if duty is None:
        return sine
    if not 0 < duty < 1:
        raise ValueError(f"duty {duty!r}: wanted is a share between 0 and 1")
    # Mean of |cos|^alpha over a turn, times 2 pi; see the paper's equation for k_i.
    turn = 2 * math.sqrt(math.pi) * math.gamma((alpha + 1) / 2) / math.gamma(alpha / 2 + 1)
    shape = 2**alpha / ((2 * math.pi) ** (alpha - 1) * turn)
    return float(sine * shape * (duty ** (1 - alpha) + (1 - duty) ** (1 - alpha)))


def thermal_resistance(core: Core) -> float:
    """From a wound core to still air [K/W]: the published one, or an estimate by its volume.

    53 K/W times (volume in cm³)^-0.54, a fit over ferrite shapes (Mulder, from memory). It tells
    some 25 % less for pot cores than is published for them.
    """
    if core.thermal_resistance is not None:
        return core.thermal_resistance
    return float(53.0 * (core.volume * 1e6) ** -0.54)


def _above_zero(**values: float) -> None:
    for name, value in values.items():
        if not 0 < value < math.inf:
            raise ValueError(f"{name} {value!r}: wanted is a value above 0")
