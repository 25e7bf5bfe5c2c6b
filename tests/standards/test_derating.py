"""The NASA policy row by row, and policy files of a person's own."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from published import Row, published

from railwright.files.mistakes import FileError
from railwright.standards.derating import POLICIES, load_policy

NASA = POLICIES["NASA MIL-STD-975M"]


def listed(found: NDArray[np.float64] | None) -> list[float]:
    assert found is not None
    return [float(ratio) for ratio in found]


# All rows: MIL-STD-975M (NASA), 5 August 1994, Appendix A (cancelled 1998), read in a public
# public copy of its tables with page numbers.


@pytest.mark.parametrize(
    ("family", "quantity", "ratio"),
    [
        # A 3.4
        ("diode", "reverse voltage", 0.7),
        ("diode", "surge current", 0.5),
        ("diode", "forward current", 0.5),
        ("zener", "power", 0.5),
        ("transient suppressor", "power", 0.5),
        # A 3.15
        ("transistor", "power", 0.5),
        ("transistor", "current", 0.75),
        ("transistor", "voltage", 0.75),
        ("transistor", "gate voltage", 0.6),
        # A 3.7
        ("regulator", "input-output voltage", 0.8),
        ("regulator", "power", 0.8),
        ("regulator", "output current", 0.8),
        ("regulator", "short-circuit current", 0.9),
        ("op amp", "supply voltage", 0.8),
        ("op amp", "power", 0.75),
        ("op amp", "output current", 0.8),
        ("comparator", "supply voltage", 0.9),
        ("comparator", "power", 0.75),
        ("comparator", "open-collector voltage", 0.9),
        ("comparator", "output current", 0.8),
        # A 3.8
        ("cmos 4000", "output current", 0.8),
        ("cmos 4000", "supply voltage", 0.7),
        ("cmos 4000", "clock frequency", 0.85),
        # A 3.1 and A 3.11
        ("capacitor ceramic", "voltage", 0.6),
        ("capacitor film", "voltage", 0.6),
        ("resistor", "voltage", 0.8),
        ("resistor film", "voltage", 0.8),
        # no row
        ("capacitor aluminium electrolytic", "voltage", None),
        ("diode", "junction", None),
        ("relay", "current", None),
    ],
)
def test_ratios(family: str, quantity: str, ratio: float | None) -> None:
    assert NASA.ratio(family, quantity) == ratio


def test_zener_current_is_half_way_from_nominal_to_greatest() -> None:
    # A 3.4 prints 0.5 (Izmax + Iznom).
    nominal, greatest = 20e-3, 90e-3
    ratio = NASA.ratio("zener", "current above nominal")
    assert ratio is not None
    assert nominal + ratio * (greatest - nominal) == pytest.approx(0.5 * (greatest + nominal))


@pytest.mark.parametrize(
    ("family", "celsius"),
    [
        ("diode", 125),
        ("zener", 125),
        ("transistor", 125),
        ("linear ic", 100),
        ("regulator", 100),
        ("op amp", 100),
        ("comparator", 100),
        ("cmos 4000", 100),
    ],
)
def test_junction_limits(family: str, celsius: float) -> None:
    assert NASA.junction(family) == pytest.approx(celsius + 273.15, abs=1e-9)


def test_no_junction_limit_where_the_policy_has_none() -> None:
    assert NASA.junction("resistor") is None


@pytest.mark.parametrize(
    ("style", "plateau", "until", "zero"),
    [
        ("composition", 0.6, 70, 110),  # RCR
        ("film", 0.6, 125, 155),  # RNC, RNR, RNN
        ("insulated film", 0.3, 70, 94),  # RLR
        ("accurate wirewound", 0.6, 125, 137),  # RBR
        ("wirewound", 0.6, 30, 175),  # RWR, RER
        ("network", 0.6, 70, 125),  # RZO
        ("chip", 0.6, 70, 118),  # RM
    ],
)
def test_resistor_power(style: str, plateau: float, until: float, zero: float) -> None:
    # A 3.11
    celsius = np.array([-55.0, until, (until + zero) / 2, zero, zero + 50])
    ratio = NASA.resistor_power(celsius + 273.15, style)
    assert listed(ratio) == pytest.approx([plateau, plateau, plateau / 2, 0, 0], abs=1e-12)
    assert NASA.ratio(f"resistor {style}", "voltage") == 0.8


def test_resistor_of_unnamed_style_is_film_and_an_unknown_style_has_no_row() -> None:
    assert NASA.rows["resistor", "power"] == NASA.rows["resistor film", "power"]
    assert NASA.resistor_power(300.0, "cermet trimmer") is None


@pytest.mark.parametrize(
    ("family", "celsius", "ratio"),
    [
        ("capacitor tantalum", [25, 70, 90, 110, 111], [0.5, 0.5, 0.4, 0.3, 0]),
        ("capacitor wet tantalum", [25, 70, 90, 110, 111], [0.6, 0.6, 0.5, 0.4, 0]),
        ("capacitor ceramic", [25, 110, 111], [0.6, 0.6, 0]),
        ("capacitor film", [25, 85, 86], [0.6, 0.6, 0]),
    ],
)
def test_capacitor_voltage(family: str, celsius: list[float], ratio: list[float]) -> None:
    # A 3.1
    found = NASA.ratio_at(family, "voltage", np.array(celsius) + 273.15)
    assert listed(found) == pytest.approx(ratio, abs=1e-12)


def test_body_limits() -> None:
    # A 3.1
    bodies = [NASA.body(f"capacitor {style}") for style in ("ceramic", "tantalum", "film")]
    assert bodies == pytest.approx([383.15, 383.15, 358.15])


def test_a_ratio_that_depends_on_the_ambient_is_not_given_without_it() -> None:
    with pytest.raises(ValueError, match=r"capacitor tantalum, voltage: .* depends on the ambient"):
        NASA.ratio("capacitor tantalum", "voltage")


@pytest.mark.parametrize(
    ("rated", "ratio"),
    [
        (0.125, 0.25),
        (0.25, 0.30),
        (0.375, 0.35),
        (0.5, 0.40),
        (0.75, 0.40),
        (1.0, 0.45),
        (1.5, 0.45),
        (2.0, 0.50),
        (15.0, 0.50),
        (0.2, 0.25),  # between two rows
    ],
)
def test_fuse_current(rated: float, ratio: float) -> None:
    # A 3.9: at 25 °C, less 0.005 per °C above; nothing is gained below.
    found = NASA.fuse_current(rated, np.array([0.0, 25.0, 45.0, 300.0]) + 273.15)
    assert listed(found) == pytest.approx([ratio, ratio, ratio - 0.1, 0.0], abs=1e-12)


@pytest.mark.parametrize("rated", [0.1, 16.0])
def test_fuse_without_a_row(rated: float) -> None:
    assert NASA.fuse_current(rated, 298.15) is None


def test_no_derating_allows_full_ratings() -> None:
    none = POLICIES["none"]
    assert none.ratio("capacitor aluminium electrolytic", "voltage") == 1.0
    assert none.junction("diode") is None
    for found in (none.resistor_power([300.0, 400.0]), none.fuse_current(20.0, [300.0, 400.0])):
        assert listed(found) == [1.0, 1.0]


GOOD = """
name = "shop rule"
source = "our own failures"

[diode]
"reverse voltage" = 0.6
junction = "110 °C"

["capacitor aluminium electrolytic"]
voltage = [{ at = "60 °C", ratio = 0.8 }, { at = "85 °C", ratio = 0.5 }]
body = "85 °C"

[fuse]
current = [{ rated = "0.5 A", ratio = 0.6 }]
greatest = "10 A"
less_per_kelvin = 0
from = "25 °C"
"""


def test_policy_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text(GOOD, encoding="utf-8")
    policy = load_policy(path)
    assert (policy.name, policy.source) == ("shop rule", "our own failures")
    assert policy.ratio("diode", "reverse voltage") == 0.6
    assert policy.junction("diode") == pytest.approx(383.15)
    voltage = policy.ratio_at("capacitor aluminium electrolytic", "voltage", [300.0, 345.65, 360.0])
    assert listed(voltage) == pytest.approx([0.8, 0.65, 0.0])
    assert listed(policy.fuse_current(1.0, [298.15, 350.0])) == pytest.approx([0.6, 0.6])
    assert policy.ratio("transistor", "power") is None


VOLTAGE = "capacitor aluminium electrolytic.voltage"


ECSS = """
name = "ECSS, in part"
source = "ECSS-Q-ST-30-11C Rev.2, 23 June 2021, as extracted in a public repository"

["fuse cermet"]  # table 6-17, by the case
current = [{ at = "85 °C", ratio = 0.65 }, { at = "110 °C", ratio = 0.5 }]

[connector]  # table 6-10
current = 0.5
"voltage of test" = 0.25
voltage = 0.75
"""


@pytest.mark.parametrize("row", published("derating after ECSS"), ids=str)
def test_a_policy_file_states_another_standard(row: Row, tmp_path: Path) -> None:
    path = tmp_path / "ecss.toml"
    path.write_text(ECSS, encoding="utf-8")
    policy = load_policy(path)

    def ratio(family: str, quantity: str, case: float) -> float:
        (found,) = listed(policy.ratio_at(family, quantity, [case + 273.15]))
        return found

    assert ratio(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize(
    ("before", "after", "line", "key", "mistake"),
    [
        ('name = "shop rule"\n', "", 1, "name", "name is missing. A policy begins with name"),
        ('source = "our own failures"', "source = 3", 3, "source", "found 3, wanted is a text"),
        ("= 0.6\n", '= "60"\n', 6, "diode.reverse voltage", "diode: found '60', wanted is a ratio"),
        ("= 0.6\n", "= 60\n", 6, "diode.reverse voltage", "diode: found 60, wanted is a ratio"),
        ("= 0.6\n", "= -0.1\n", 6, "diode.reverse voltage", "found -0.1, wanted is a ratio"),
        ("= 0.6\n", "= nan\n", 6, "diode.reverse voltage", "found nan, wanted is a ratio"),
        ("= 0.6\n", "= true\n", 6, "diode.reverse voltage", "found True, wanted is a ratio"),
        ('"110 °C"', "110", 7, "diode.junction", 'wanted is a text with its unit, as "125 °C"'),
        ('"110 °C"', '"110 K"', 7, "diode.junction", "found '110 K', wanted is a text with its"),
        ('at = "60 °C", ', "", 10, VOLTAGE + "[0]", 'wanted is a point, as { at = "60 °C", ratio'),
        ('at = "60 °C"', 'at = "90 °C"', 10, VOLTAGE, "wanted is points with rising at"),
        ("ratio = 0.8", "ratio = 1.8", 10, VOLTAGE + "[0].ratio", "found 1.8, wanted is a ratio"),
        ('greatest = "10 A"\n', "", 13, "fuse.greatest", "fuse: greatest is missing"),
        ("less_per_kelvin", "less_per_k", 16, "fuse.less_per_k", 'Nearest: "less_per_kelvin"'),
        ('rated = "0.5 A"', "rated = 0.5", 14, "fuse.current[0].rated", "found 0.5, wanted is a"),
        ("less_per_kelvin = 0", "less_per_kelvin = -1", 16, "fuse.less_per_kelvin", "found -1"),
        ("[diode]", "extra = 1\n[diode]", 5, "extra", "found 1, wanted is a table of ratings"),
        ('[{ rated = "0.5 A", ratio = 0.6 }]', "[]", 14, "fuse.current", "a list of points, as [{"),
    ],
)
def test_mistakes_name_file_line_key_and_cure(
    tmp_path: Path, before: str, after: str, line: int, key: str, mistake: str
) -> None:
    assert before in GOOD
    path = tmp_path / "shop.toml"
    path.write_text(GOOD.replace(before, after, 1), encoding="utf-8")
    with pytest.raises(FileError) as refusal:
        load_policy(path)
    assert refusal.value.name == str(path)
    told = {found.key: found for found in refusal.value.mistakes}
    assert mistake in told[key].text
    assert told[key].line == line


def test_all_mistakes_are_told_at_once_with_their_lines(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text('name = "x"\nsource = "y"\n[diode]\na = 2\nb = "z"\njunction = 1\n')
    with pytest.raises(FileError) as refusal:
        load_policy(path)
    found = [(mistake.line, mistake.column, mistake.key) for mistake in refusal.value.mistakes]
    assert found == [(4, 5, "diode.a"), (5, 5, "diode.b"), (6, 12, "diode.junction")]
    assert str(refusal.value).startswith(f"{path}, 3 mistakes\n   4 | a = 2\n     |     ^ diode: ")


def test_unreadable_files_are_refused_by_name(tmp_path: Path) -> None:
    broken = tmp_path / "broken.toml"
    broken.write_text("name = ")
    for path in (broken, tmp_path / "absent.toml"):
        with pytest.raises(FileError, match=path.name):
            load_policy(path)
