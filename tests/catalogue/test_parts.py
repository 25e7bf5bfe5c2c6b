"""The parts that the package brings along."""

import re

import numpy as np
import pytest

from railwright.catalogue.loader import load, part_files
from railwright.catalogue.price import CLASSES
from railwright.devices import kinds
from railwright.quantity import UNITS

STATED_BY_THE_DESIGN = {k: {"resistance"} for k in ("resistor", "wirewound-resistor", "wire")}
MAKER_PREFIX = re.compile(r"\b(?:LM|LT|TL|MC|NE|UA|CD|HEF|INA|OPA|TIP|TYN|MCR|XL|AP|MIC)\d", re.I)

every_part = pytest.mark.parametrize("name", sorted(load()))


def test_every_kind_that_can_be_bought_has_a_part() -> None:
    assert {entry.kind for entry in load().values()} == {
        n for n, k in kinds().items() if not k.surroundings
    }


@every_part
def test_has_every_value_that_its_equations_need(name: str) -> None:
    entry = load()[name]
    needed = {n for n, v in kinds()[entry.kind].values.items() if v.default is None}
    assert needed <= entry.values.keys()


@every_part
def test_has_every_rating(name: str) -> None:
    entry = load()[name]
    assert kinds()[entry.kind].ratings.keys() <= entry.values.keys()


@every_part
def test_has_a_price(name: str) -> None:
    assert load()[name].price in CLASSES


def test_prices_grow_with_what_is_in_a_part() -> None:
    """Common practice, no source: more power, more precision or more turns never cost less."""

    def rank(name: str) -> int:
        return CLASSES.index(load()[name].price)

    for cheap, dear in [
        ("film resistor 0.25 W 1 %", "film resistor 3 W 1 %"),
        ("film resistor 0.25 W 1 %", "film resistor 0.25 W 0.1 %"),
        ("1N4148", "1N5822"),
        ("317 type 0.1 A", "1085 type 3 A adjustable"),
        ("heat sink 20 K/W", "heat sink 2.5 K/W"),
        ("potentiometer single-turn 1 kΩ", "potentiometer ten-turn 1 kΩ"),
        ("zener 5V1 0.5 W", "zener 5V1 1 W"),
        ("electrolytic 10 µF 25 V low-ESR", "electrolytic 1000 µF 25 V low-ESR"),
    ]:
        assert rank(cheap) < rank(dear), (cheap, dear)


@every_part
def test_only_the_designs_own_values_are_relative(name: str) -> None:
    entry = load()[name]
    relative = {n for n, value in entry.values.items() if value.relative}
    assert relative == STATED_BY_THE_DESIGN.get(entry.kind, set())


@every_part
def test_values_are_possible(name: str) -> None:
    entry = load()[name]
    for value_name, known in entry.values.items():
        declared = kinds()[entry.kind].values.get(value_name)
        assert known.unit in UNITS
        assert known.source.strip()
        if declared is not None and not known.relative:
            assert declared.least is None or known.spread.low >= declared.least
            assert declared.most is None or known.spread.high <= declared.most


@every_part
def test_windows_are_bounded_and_say_where_they_are_from(name: str) -> None:
    entry = load()[name]
    declared = kinds()[entry.kind].windows
    assert entry.windows.keys() <= declared.keys()
    for window_name, known in entry.windows.items():
        least, most = known.bounds
        assert known.unit == declared[window_name].unit
        assert known.source.strip()
        assert 0.0 <= least < most
        assert least > 0.0 or most < np.inf


def test_every_kind_that_asks_for_parts_outside_has_a_part_that_does() -> None:
    asking = {name for name, device in kinds().items() if device.windows}
    assert asking == {entry.kind for entry in load().values() if entry.windows}


@pytest.mark.parametrize(
    ("part", "window", "bounds"),
    [  # as stored in public texts
        ("337 type 1.5 A", "output_capacitance", (1e-6, np.inf)),  # datasheet of the 337 type
        ("2950 type 5 V 0.1 A", "output_capacitance", (1e-6, np.inf)),  # its application hints
        ("2950 type 5 V 0.1 A", "output_series_resistance", (0.05, 5.0)),  # the same
        ("2940 type 12 V 1 A", "output_capacitance", (22e-6, np.inf)),  # its typical application
        ("1117 type 3.3 V", "output_capacitance", (10e-6, np.inf)),  # datasheet of the 1117 type
        ("431 type 1 %", "small_capacitance", (0.0, 1e-9)),  # note on stability of the 431 type
        ("431 type 1 %", "large_capacitance", (10e-6, np.inf)),  # the same
        ("step-down 150 kHz 1 A", "output_capacitance", (47e-6, 330e-6)),  # its procedure
    ],
)
def test_published_windows(part: str, window: str, bounds: tuple[float, float]) -> None:
    assert load()[part].windows[window].bounds == pytest.approx(bounds)


@every_part
def test_has_a_choice_for_every_option(name: str) -> None:
    entry = load()[name]
    wanted = {n for n, words in kinds()[entry.kind].options.items() if len(words) > 1}
    assert wanted <= entry.options.keys()


@every_part
def test_names_no_maker(name: str) -> None:
    entry = load()[name]
    known = [*entry.values.values(), *entry.windows.values()]
    texts = [entry.name, entry.trade, entry.warning, *(each.source for each in known)]
    assert not any(MAKER_PREFIX.search(text) for text in texts)


@every_part
def test_terminals_are_told_apart(name: str) -> None:
    terminals = [t for pin, t in load()[name].pins.items() if pin != "case"]
    assert len(set(terminals)) == len(terminals)


def test_files_hold_one_family_each() -> None:
    assert len(part_files()) >= 15


@pytest.mark.parametrize(
    ("part", "value", "low", "typical", "high"),
    [  # datasheet tables of the 317, 78xx, 431, 358 and 393 types, limits as published
        ("317 type 1.5 A", "reference", 1.2, 1.25, 1.3),
        ("317 type 1.5 A", "current_limit", 1.5, 2.2, 3.4),
        ("7805 type 1 A", "output_voltage", 4.75, 5.0, 5.25),
        ("431 type 2 %", "reference_voltage", 2.44, 2.495, 2.55),
        ("431 type 1 %", "reference_voltage", 2.47, 2.495, 2.52),
        ("358 type", "offset", -7e-3, 0.0, 7e-3),
        ("358 type", "bias_current", -250e-9, -20e-9, 0.0),
        ("393 type", "offset", -5e-3, 0.0, 5e-3),
        ("step-down 150 kHz 3 A", "frequency", 110e3, 150e3, 173e3),
        ("step-down 150 kHz 3 A", "current_limit", 3.4, 4.5, 7.5),
        ("BC547B", "current_gain", 200.0, 290.0, 450.0),
    ],
)
def test_published_limits(part: str, value: str, low: float, typical: float, high: float) -> None:
    spread = load()[part].values[value].spread
    assert (spread.low, spread.typical, spread.high) == pytest.approx((low, typical, high))


def test_switch_drop_of_the_step_down_type() -> None:
    """1.16 V and at most 1.5 V at 3 A (datasheet of the 150 kHz 3 A step-down type)."""
    values = load()["step-down 150 kHz 3 A"].values
    fixed, slope = values["saturation_voltage"].spread, values["switch_resistance"].spread
    assert fixed.typical + 3.0 * slope.typical == pytest.approx(1.16)
    assert fixed.high + 3.0 * slope.high == pytest.approx(1.5)


def test_gain_of_power_transistors_meets_its_published_limits() -> None:
    """2N3055: 20 to 70 at 4 A, at least 5 at 10 A (datasheets of the 2N3055 type)."""
    values = load()["2N3055"].values
    gain, half = values["current_gain"].spread, values["gain_half_current"].spread
    assert gain.low / (1 + 4.0 / half.low) == pytest.approx(20.0, rel=0.02)
    assert gain.high / (1 + 4.0 / half.high) == pytest.approx(70.0, rel=0.02)
    assert gain.low / (1 + 10.0 / half.low) >= 5.0


def test_current_limit_of_the_317_type_at_forty_volts() -> None:
    """0.4 A, at least 0.15 A, at 40 V across (datasheet table of the 317 type)."""
    values = load()["317 type 1.5 A"].values
    limit, fall = values["current_limit"].spread, values["limit_fall"].spread
    volts = 40.0 - values["limit_fall_from"].spread.typical
    assert limit.typical * (1 - fall.typical * volts) == pytest.approx(0.4, rel=0.05)
    assert limit.low * (1 - fall.high * volts) == pytest.approx(0.15, rel=0.01)
