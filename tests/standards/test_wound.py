"""Wound coils: the parts of the design hold together, and what may hurt is refused.

The formulas are held against published examples in `test_magnetics` and `test_winding`; here the
finished coil is checked by other ways to its numbers.
"""

from dataclasses import replace

import pytest

from railwright.standards import wire
from railwright.standards.cores import cores, materials, overall_diameters
from railwright.standards.magnetics import (
    MU_0,
    loss_density,
    needed_area_product,
    needed_geometrical_constant,
    ring,
    thermal_resistance,
)
from railwright.standards.stages import (
    Point,
    Stage,
    Style,
    envelope,
    highest_voltage,
    least_inductance,
    waveform,
)
from railwright.standards.wound import Job, Limits, WindingRefusedError, Wound, least_core, wind

FERRITE = materials()["power ferrite"]
STAGE = Stage("step-down", (18.0, 20.0), (3.3, 12.0), 3.0, 150e3, 1.0, 0.5)
INDUCTANCE = 36e-6


def job(**change: object) -> Job:
    known = {
        "inductance": INDUCTANCE,
        "current": envelope(STAGE, INDUCTANCE),
        "frequency": STAGE.frequency,
        "ambient": 313.15,
        "voltage": highest_voltage(STAGE),
        "mains": False,
    }
    return Job(**{**known, **change})  # type: ignore[arg-type]


FITTING = ["pot 1408", "EE16", "RM6", "RM8", "EE22", "pot 2213", "PQ20/16", "ETD29", "ETD49"]


@pytest.mark.parametrize("name", FITTING)
class TestCoil:
    def wound(self, name: str) -> Wound:
        return wind(job(), cores()[name], FERRITE)

    def test_inductance_is_what_was_wanted(self, name: str) -> None:
        wound = self.wound(name)
        assert wound.inductance == pytest.approx(INDUCTANCE, rel=1e-9)
        # Energy: the field in gap and iron holds half L I².
        core = wound.core
        energy = INDUCTANCE * job().current.peak ** 2 / 2
        in_iron = wound.flux**2 / (2 * MU_0 * FERRITE.permeability) * core.volume
        in_gap = wound.flux**2 / (2 * MU_0) * core.area * wound.gap
        assert in_iron + in_gap >= energy * (1 - 1e-9)  # fringing thins the field in the gap
        assert in_iron + in_gap < 1.6 * energy

    def test_flux_stays_below_the_limit_and_one_turn_less_would_not(self, name: str) -> None:
        wound = self.wound(name)
        allowed = 0.75 * FERRITE.saturation
        assert wound.flux <= allowed
        assert wound.flux * wound.turns / (wound.turns - 1) > allowed
        assert wound.swing / wound.flux == pytest.approx(job().current.ripple / job().current.peak)

    def test_wire_fits(self, name: str) -> None:
        wound = self.wound(name)
        core, overall = wound.core, overall_diameters()[wound.gauge]
        assert wound.turns * wire.area(wound.gauge) == pytest.approx(wound.fill * core.window)
        assert wound.fill <= 0.5
        width = core.width or core.window**0.5
        assert wound.layers * int(width / overall) >= wound.turns
        assert wound.layers * overall <= core.window / width

    def test_heat_balances(self, name: str) -> None:
        wound = self.wound(name)
        lost = wound.core_loss + wound.copper_loss
        rise = wound.temperature - job().ambient
        assert rise == pytest.approx(thermal_resistance(wound.core) * lost, rel=1e-5)
        assert wound.copper_loss > wound.resistance * job().current.rms ** 2 * (1 - 1e-3)

    def test_no_other_wire_loses_less(self, name: str) -> None:
        wound = self.wound(name)
        thinner = wind(job(), wound.core, FERRITE, Limits(thickest=wound.gauge + 1))
        assert thinner.gauge > wound.gauge
        assert thinner.copper_loss >= wound.copper_loss


def test_resistance_against_the_geometrical_constant() -> None:
    # Erickson and Maksimovic, 11.2, the other way round: the constant that a core must have for
    # the resistance that came out, with its flux density and fill, is the core's own.
    wound = wind(job(), cores()["RM8"], FERRITE)
    needed = needed_geometrical_constant(
        wire.resistance(1.0, 1.0, wound.temperature),
        INDUCTANCE,
        job().current.peak,
        wound.flux,
        wound.resistance,
        wound.fill,
    )
    assert needed == pytest.approx(wound.core.geometrical_constant, rel=1e-9)
    density = job().current.rms / wire.area(wound.gauge)
    current = job().current
    product = needed_area_product(
        INDUCTANCE, current.peak, current.rms, wound.flux, density, wound.fill
    )
    assert product == pytest.approx(wound.core.area_product, rel=1e-9)


def test_many_layers_ask_for_thinner_wire() -> None:
    # Strong ripple at 300 kHz, and many turns for a low flux density: thick wire would fit, but
    # loses more by proximity than it saves.
    stage = Stage("step-down", (20.0, 20.0), (10.0, 10.0), 0.2, 300e3)
    inductance = least_inductance(stage, 1.9)
    task = Job(inductance, envelope(stage, inductance), 300e3, 300.0, 20.0, mains=False)
    wound = wind(task, cores()["EE40"], FERRITE, Limits(flux_share=0.02))
    assert wound.layers >= 2
    assert wound.fill < 0.25


def test_the_limit_of_the_switch_counts() -> None:
    calm, hard = job(), job(limit=6.0)
    core = cores()["RM8"]
    assert wind(hard, core, FERRITE).turns > wind(calm, core, FERRITE).turns
    assert wind(hard, core, FERRITE).flux <= 0.75 * FERRITE.saturation


def test_the_least_core() -> None:
    limits = Limits(hottest=318.15)
    found = least_core(job(), cores().values(), FERRITE, limits)
    assert not found.shortfalls
    smaller = [core for core in cores().values() if core.volume < found.core.volume]
    assert smaller
    for core in smaller:
        assert wind(job(), core, FERRITE, limits).shortfalls


def test_no_core_will_do() -> None:
    with pytest.raises(ValueError, match=r"no core will do.*\n  RM5: would get hotter than 45 °C"):
        least_core(job(), [cores()["RM5"]], FERRITE, Limits(hottest=318.15))
    with pytest.raises(ValueError, match=r"turns do not fit RM5 with any wire from AWG 14 to 36"):
        wind(job(inductance=1.0), cores()["RM5"], FERRITE)


def test_a_coil_that_runs_away_is_told_as_too_hot() -> None:
    # So much resistance that warm copper would lose ever more: no temperature at which it rests.
    stage = Stage("step-down", (20.0, 20.0), (10.0, 10.0), 3.0, 150e3)
    inductance = 150e-6
    task = Job(inductance, envelope(stage, inductance), 150e3, 313.15, 20.0, mains=False)
    wound = wind(task, cores()["RM5"], FERRITE)
    assert "would get hotter than 100 °C" in wound.shortfalls[0]


def test_a_ring_of_powder() -> None:
    # Permeability 60 at the peak; no gap, so the turns follow from the inductance alone.
    powder = replace(FERRITE, name="powder", permeability=60.0, saturation=1.0)
    core = ring("27 mm", 26.9e-3, 14.7e-3, 11.2e-3)
    wound = wind(job(), core, powder)
    assert wound.gap == 0.0
    one = MU_0 * 60.0 * core.area / core.path
    assert (wound.turns - 1) ** 2 * one < INDUCTANCE <= wound.turns**2 * one
    assert wound.inductance == pytest.approx(wound.turns**2 * one)
    assert not any("gap" in caution for caution in wound.cautions)
    saturating = wind(job(), core, replace(powder, saturation=0.1))
    assert any("wanted are at most 0.075 T" in text for text in saturating.shortfalls)


@pytest.mark.parametrize(
    ("style", "output"),
    [("step-down", (1.2, 12.0)), ("step-up", (22.0, 48.0)), ("inverting", (1.2, 30.0))],
)
def test_core_loss_of_the_envelope_covers_the_range(
    style: Style, output: tuple[float, float]
) -> None:
    stage = Stage(style, (14.0, 20.0), output, 2.0, 150e3, 0.1, 0.5)
    inductance = least_inductance(stage, 0.4)
    greatest = envelope(stage, inductance)
    at_most = loss_density(FERRITE, 150e3, 0.05 * greatest.ripple, greatest.duty)
    for a in range(21):
        for b in range(21):
            point = Point(14.0 + 6.0 * a / 20, output[0] + (output[1] - output[0]) * b / 20)
            current = waveform(stage, point, inductance)
            loss = loss_density(FERRITE, 150e3, 0.05 * current.ripple, current.duty)
            assert loss <= at_most * 1.01


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"mains": True}, "joined to the mains can kill"),
        ({"voltage": 61.0}, r"at 61 V can kill .* Buy a coil or transformer that is approved"),
        ({"voltage": float("nan")}, "can kill"),
    ],
)
def test_dangerous_windings_are_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(WindingRefusedError, match=words):
        job(**change)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"inductance": 0.0}, r"inductance 0\.0"),
        ({"ambient": -1.0}, r"ambient -1\.0"),
        ({"current": envelope(STAGE, 1e-6)}, "raise the inductance"),
        ({"limit": -1.0}, r"limit -1\.0"),
    ],
)
def test_jobs_that_cannot_be(change: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        job(**change)


def test_cautions() -> None:
    wound = wind(job(), cores()["pot 1408"], FERRITE)
    text = " ".join(wound.cautions)
    for words in ("no winding of this design may part mains", "open the circuit", "Hot surface"):
        assert words in text
    assert f"leave {wound.gap * 1e3:.2g} mm or more" in text
