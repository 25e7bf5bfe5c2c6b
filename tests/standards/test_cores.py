"""The tables of cores, materials and wire against what is printed, and their reader."""

from pathlib import Path

import pytest

from railwright.standards import wire
from railwright.standards.cores import CoreError, cores, load, materials, overall_diameters

# Erickson and Maksimovic, Fundamentals of Power Electronics, 3rd edition, appendix B: geometrical
# constant [cm⁵], printed beside the dimensions from which it follows.
GEOMETRICAL_CONSTANT = {
    "pot 1408": 2.107e-3,
    "pot 1811": 9.45e-3,
    "pot 2213": 27.1e-3,
    "pot 2616": 69.1e-3,
    "pot 3019": 0.180,
    "pot 3622": 0.411,
    "pot 4229": 1.15,
    "EE16": 2.02e-3,
    "EE19": 4.07e-3,
    "EE22": 8.26e-3,
    "EE30": 85.7e-3,
    "EE40": 0.209,
    "EE50": 0.909,
    "EE60": 1.38,
    "ETD29": 0.0978,
    "ETD34": 0.193,
    "ETD39": 0.397,
    "ETD44": 0.846,
    "ETD49": 1.42,
    "PQ20/16": 22.4e-3,
    "PQ20/20": 33.6e-3,
    "PQ26/20": 83.9e-3,
    "PQ26/25": 0.125,
    "PQ32/20": 0.203,
    "PQ32/30": 0.384,
    "PQ35/35": 0.820,
    "PQ40/40": 1.20,
}

# Effective volume [mm³] of RM cores without centre hole as makers list it, from memory.
RM_VOLUME = {"RM5": 574, "RM6": 1090, "RM8": 2440, "RM10": 4310, "RM12": 8340, "RM14": 13900}


@pytest.mark.parametrize(("name", "expected"), GEOMETRICAL_CONSTANT.items())
def test_geometrical_constant(name: str, expected: float) -> None:
    assert cores()[name].geometrical_constant * 1e10 == pytest.approx(expected, rel=7e-3)


@pytest.mark.parametrize(("name", "expected"), RM_VOLUME.items())
def test_volume_of_rm_cores(name: str, expected: float) -> None:
    assert cores()[name].volume * 1e9 == pytest.approx(expected, rel=1.5e-2)


def test_path_of_cores() -> None:
    # A student's report "Boost-converter" lists for ETD44: 103 mm, 173 mm², 17800 mm³.
    core = cores()["ETD44"]
    assert core.path == pytest.approx(103e-3)
    assert core.area == pytest.approx(173e-6, rel=1e-2)
    assert core.volume == pytest.approx(17800e-9, rel=1e-2)


def test_every_core_has_been_looked_at() -> None:
    assert set(cores()) == {*GEOMETRICAL_CONSTANT, *RM_VOLUME}


@pytest.mark.parametrize("name", cores())
def test_a_core_hangs_together(name: str) -> None:
    core = cores()[name]
    assert core.source
    # A turn is longer than the edge of the middle leg, were that round, and goes round a window.
    assert core.turn > 3.5 * core.area**0.5
    if core.width is not None:
        assert 1.0 < core.width**2 / core.window < 10.0


def test_cores_rise_with_their_volume() -> None:
    volumes = [core.volume for core in cores().values()]
    assert volumes == sorted(volumes)


def test_materials_say_where_they_come_from() -> None:
    assert all(material.source for material in materials().values())


@pytest.mark.parametrize("gauge", overall_diameters())
def test_enamel(gauge: int) -> None:
    # Heavy film by its increase [mm] of the diameter, 0.02 on thin and 0.1 on thick wire, about
    # as IEC 60317-0-1 has it in grade 2 (from memory).
    bare, overall = wire.diameter(gauge), overall_diameters()[gauge]
    assert 0.015e-3 < overall - bare < 0.12e-3
    assert overall / bare < 1.25


GOOD = """
[core.one]
area = "50 mm²"
path = "40 mm"
window = "30 mm²"
turn = "35 mm"
from = "a table"

[material.iron]
permeability = 100
saturation = "1 T"
loss = "100 kW/m³"
reference_frequency = "50 kHz"
reference_flux = "0.1 T"
frequency_exponent = 1.2
flux_exponent = 2.1
least_frequency = "10 kHz"
greatest_frequency = "100 kHz"
from = "a curve"

[wire]
from = "a table"
[wire.overall]
20 = "0.9 mm"
"""


def test_a_good_file(tmp_path: Path) -> None:
    file = tmp_path / "cores.toml"
    file.write_text(GOOD, encoding="utf-8")
    found, iron, overall = load(file)
    assert found["one"].area == pytest.approx(50e-6)
    assert found["one"].width is None
    assert iron["iron"].frequencies == (10e3, 100e3)
    assert overall == {20: pytest.approx(0.9e-3)}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('area = "50 mm²"', 'area = "50 cm"', r"core one, area: found '50 cm', wanted is a text"),
        ('area = "50 mm²"', "area = 50", r"core one, area: found 50"),
        ('area = "50 mm²"', 'area = "0 mm²"', r"core one, area: found '0 mm²'"),
        ('area = "50 mm²"\n', "", r"core one: found 'from, path, turn, window', wanted"),
        ('turn = "35 mm"', 'turns = "35 mm"', r"core one: found"),
        ('from = "a table"\n\n[material', "\n[material", r"core one, from: found None"),
        (
            "flux_exponent = 2.1",
            "flux_exponent = -2.1",
            r"material iron, flux_exponent: found -2.1",
        ),
        ('from = "a curve"', 'from = " "', r"material iron, from: found ' '"),
        ('20 = "0.9 mm"', '20 = "thick"', r"wire.overall, 20: found 'thick'"),
        ('20 = "0.9 mm"', 'AWG20 = "0.9 mm"', r"wire.overall: found 'AWG20', wanted is a gauge"),
        ("[wire]\nfrom", "[wire]\nform", r"wire, from: found None"),
        ("[core.one]", "[cores.one]", r"cores: found"),
        ("[core.one]", "core = 3\n[other]", r"core: found 3, wanted is a table"),
    ],
)
def test_mistakes_are_told(tmp_path: Path, old: str, new: str, words: str) -> None:
    assert old in GOOD
    file = tmp_path / "cores.toml"
    file.write_text(GOOD.replace(old, new), encoding="utf-8")
    with pytest.raises(CoreError, match=words):
        load(file)


def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(CoreError, match="not a readable file of cores"):
        load(tmp_path / "none.toml")
