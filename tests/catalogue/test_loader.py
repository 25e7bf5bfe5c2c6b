"""Reading catalogue files: spreads, conditions and refusals."""

from pathlib import Path

import pytest

from railwright.catalogue import assumed
from railwright.catalogue.assumed import assumed_spread
from railwright.catalogue.entry import Entry, KnownValue
from railwright.catalogue.loader import load
from railwright.devices import kinds
from railwright.files.mistakes import FileError
from railwright.quantity import Spread

COMPARATOR = """
["my comparator"]
like = "393 type"
trade = "my"
package = "DIP-8"
options = { output = "push-pull" }
"""


def read(tmp_path: Path, text: str, name: str = "my comparator") -> Entry:
    file = tmp_path / "own.toml"
    file.write_text(text, encoding="utf-8")
    return load(file)[name]


def row(tmp_path: Path, line: str) -> KnownValue:
    """The value of one line of a comparator's table."""
    return read(tmp_path, COMPARATOR + line).values[line.split(" = ")[0]]


def refusal(tmp_path: Path, text: str) -> str:
    with pytest.raises(FileError) as caught:
        read(tmp_path, text)
    return str(caught.value)


def places(tmp_path: Path, text: str) -> list[tuple[int, str]]:
    """Line and key of every mistake."""
    with pytest.raises(FileError) as caught:
        read(tmp_path, text)
    return [(mistake.line, mistake.key) for mistake in caught.value.mistakes]


def test_built_in_parts_are_read_once() -> None:
    assert load() is load()


def test_own_parts_stand_beside_the_built_in_ones(tmp_path: Path) -> None:
    file = tmp_path / "own.toml"
    file.write_text(COMPARATOR, encoding="utf-8")
    assert load(file).keys() == load().keys() | {"my comparator"}
    assert load(file)["my comparator"].options == {"output": "push-pull"}


@pytest.mark.parametrize(
    ("numbers", "spread", "assumed"),
    [
        ('min = 1, typical = 3, max = 4, unit = "mA"', Spread.limits(1e-3, 3e-3, 4e-3), False),
        ('min = 1, max = 4, unit = "mA"', Spread(1e-3, 2.5e-3, 4e-3, "uniform"), False),
        ('exact = 3, unit = "mA"', Spread.exact(3e-3), False),
        ('typical = 3, unit = "mA", tolerance = "10 %"', Spread.tolerance(3e-3, 0.1), False),
        ('typical = 3, unit = "mA"', Spread.limits(0.4 * 3e-3, 3e-3, 6e-3), True),
        ('typical = 3, max = 4, unit = "mA"', Spread.limits(0.4 * 3e-3, 3e-3, 4e-3), True),
        ('min = 2, typical = 3, unit = "mA"', Spread.limits(2e-3, 3e-3, 6e-3), True),
        ('min = 1, max = 4, unit = "mA", drift = "1 %/K"',
         Spread(1e-3, 2.5e-3, 4e-3, "uniform", 0.01), False),
    ],
)  # fmt: skip
def test_spread_of_published_numbers(
    tmp_path: Path, numbers: str, spread: Spread, assumed: bool
) -> None:
    known = row(tmp_path, f'supply_current = {{ {numbers}, from = "sheet" }}')
    assert known.spread == spread
    assert known.assumed is assumed
    assert known.unit == "A"


@pytest.mark.parametrize(
    ("numbers", "most", "assumed"),
    [("max = 5", 5e-3, False), ("typical = 1, max = 5", 5e-3, False), ("typical = 1", 5e-3, True)],
)
def test_a_signed_value_lies_on_either_side(
    tmp_path: Path, numbers: str, most: float, assumed: bool
) -> None:
    known = row(tmp_path, f'offset = {{ {numbers}, unit = "mV", from = "sheet" }}')
    assert known.spread == Spread.limits(-most, 0.0, most)
    assert known.assumed is assumed


def test_a_negative_typical_number_keeps_its_assumed_limits_in_order(tmp_path: Path) -> None:
    known = row(tmp_path, 'bias_current = { typical = -20, unit = "nA", from = "sheet" }')
    assert known.spread.low == pytest.approx(-250e-9)
    assert known.spread.high == 0.0


def test_a_rating_is_exact_and_temperatures_are_kelvin(tmp_path: Path) -> None:
    known = row(tmp_path, 'supply_maximum = { max = 36, unit = "V", from = "sheet" }')
    assert known.spread == Spread.exact(36.0)
    assert load()["317 type 1.5 A"].values["junction_limit"].spread == Spread.exact(398.15)


def test_what_is_value_and_rating_may_be_stated_as_a_rating() -> None:
    assert load()["film 1 µF 63 V"].values["rated_voltage"].spread == Spread.exact(63.0)


def test_a_tolerance_alone_is_relative() -> None:
    known = load()["film resistor 0.6 W 1 %"].values["resistance"]
    assert known.relative
    assert known.spread == Spread.tolerance(1.0, 0.01, 50e-6)


def test_conditions_are_kept_as_text(tmp_path: Path) -> None:
    conditions = 'at = { supply_voltage = "5 V", air = "hot" }'
    table = row(tmp_path, f'offset = {{ max = 5, unit = "mV", from = "s", {conditions} }}')
    assert table.at == "supply voltage 5 V, air hot"
    assert row(tmp_path, 'offset = { max = 5, unit = "mV", from = "s", at = "5 V" }').at == "5 V"


def test_like_takes_what_is_not_stated(tmp_path: Path) -> None:
    text = """
    ["mine"]
    like = "1N5819"
    trade = "mine"
    warning = false
    reverse_voltage = { max = 50, unit = "V", from = "sheet" }
    """
    mine, model = read(tmp_path, text, "mine"), load()["1N5819"]
    assert mine.values["reverse_voltage"].spread == Spread.exact(50.0)
    assert mine.values["forward_voltage"] == model.values["forward_voltage"]
    assert mine.values["ideality"] == load()["1N5817"].values["ideality"]
    assert mine.pins == model.pins
    assert (mine.warning, model.warning) == ("", load()["1N5817"].warning)


REGULATOR = """
["mine"]
like = "2950 type 5 V 0.1 A"
trade = "mine"
"""


@pytest.mark.parametrize(
    ("numbers", "bounds"),
    [
        ('min = 10, unit = "µF"', (10e-6, None)),
        ('max = 10, unit = "µF"', (None, 10e-6)),
        ('min = 100, max = 330, unit = "µF"', (100e-6, 330e-6)),
    ],
)
def test_a_window_has_the_bounds_that_are_published(
    tmp_path: Path, numbers: str, bounds: tuple[float | None, float | None]
) -> None:
    line = f'output_capacitance = {{ {numbers}, at = "cold", from = "sheet" }}'
    mine = read(tmp_path, REGULATOR + line, "mine")
    window = mine.windows["output_capacitance"]
    assert (window.minimum, window.maximum) == pytest.approx(bounds)
    assert (window.unit, window.at, window.source) == ("F", "cold", "sheet")
    model = load()["2950 type 5 V 0.1 A"].windows
    assert mine.windows["output_series_resistance"] == model["output_series_resistance"]


def test_a_window_is_dropped_like_a_value(tmp_path: Path) -> None:
    mine = read(tmp_path, f"{REGULATOR}output_capacitance = false", "mine")
    assert "output_capacitance" not in mine.windows
    assert "output_series_resistance" in mine.windows


@pytest.mark.parametrize(
    ("row", "key", "words"),
    [
        ('{ min = 10, unit = "µF" }', "", "its source is missing"),
        ('{ unit = "µF", from = "sheet" }', "", "found no number, wanted is min, max or both"),
        ('{ typical = 10, unit = "µF", from = "sheet" }', "", "found typical, wanted is min, max"),
        ('{ min = 9, typical = 10, unit = "µF", from = "s" }', "", "found min and typical"),
        ('{ min = 10, tolerance = "9 %", unit = "µF", from = "s" }', "", "min and tolerance"),
        ('{ min = 10, drift = "9 %/K", unit = "µF", from = "s" }', "", "wanted is min, max"),
        ('{ min = 10, max = 1, unit = "µF", from = "sheet" }', "", "above max"),
        ('{ min = -10, unit = "µF", from = "sheet" }', ".min", "wanted is more than nil"),
        ('{ min = 10, unit = "µH", from = "sheet" }', ".unit", "inductance"),
        ('{ least = 10, unit = "µF", from = "sheet" }', ".least", "no such key of a row"),
        ("10", "", "wanted is a table"),
    ],
)
def test_a_window_without_provenance_or_bounds_is_refused(
    tmp_path: Path, row: str, key: str, words: str
) -> None:
    text = f"{REGULATOR}output_capacitance = {row}"
    assert (5, f"mine.output_capacitance{key}") in places(tmp_path, text)
    assert words in refusal(tmp_path, text)


def test_a_window_that_a_kind_has_not_is_refused(tmp_path: Path) -> None:
    text = f'{REGULATOR}output_capacitanse = {{ min = 1, unit = "F", from = "s" }}'
    assert 'Nearest: "output_capacitance"' in refusal(tmp_path, text)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('offset = { max = 5, unit = "mV" }', ["offset", "from"]),
        ('offset = { max = 5, unit = "mV", from = " " }', ["offset", "from"]),
        ('ofset = { max = 5, unit = "mV", from = "s" }', ["'ofset'", "Nearest: \"offset\""]),
        ('offset = { most = 5, unit = "mV", from = "s" }', ["'most'", "offset"]),
        ('offset = { max = 5, unit = "mA", from = "s" }', ["offset", "mA", "voltage"]),
        ('offset = { max = 5, from = "s" }', ["offset", "unit"]),
        ('offset = { max = "5 mV", from = "s" }', ["offset", "found '5 mV'", "plain number"]),
        ('offset = 5', ["offset", "table"]),
        ('gain = { min = 9, typical = 5, max = 7, unit = "V/mV", from = "s" }', ["gain", "low"]),
        ('gain = { max = 7, unit = "V/mV", from = "s" }', ["gain", "typical"]),
        ('gain = { exact = 1, max = 7, unit = "V/mV", from = "s" }', ["gain", "exact and max"]),
        ('gain = { exact = 7, unit = "V/V", from = "s" }', ["gain", "at least 100"]),
        ('supply_maximum = { typical = 7, unit = "V", from = "s" }', ["rating", "max alone"]),
        ('supply_maximum = { min = 1, max = 7, unit = "V", from = "s" }', ["rating", "max alone"]),
        ('gain = { exact = 700, unit = "V/V", at = 5, from = "s" }', ["gain", "at", "text"]),
        ('pins = { plus = "1", minis = "2" }', ["'minis'", 'Nearest: "minus"', "are also"]),
        ("pins = { plus = 1 }", ["my comparator, pins", "found 1", "text"]),
        ("pins = 3", ["pins", "table"]),
        ("warning = 3", ["warning", "text"]),
    ],
)  # fmt: skip
def test_refusals_say_where_what_and_what_is_wanted(
    tmp_path: Path, line: str, words: list[str]
) -> None:
    text = refusal(tmp_path, COMPARATOR + line)
    for word in ("own.toml", "my comparator", *words):
        assert word in text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('["a"]\nkind = "comparater"\ntrade = "a"\npackage = "b"', ["Nearest: \"comparator\""]),
        ('["a"]\ntrade = "a"\npackage = "b"', ["kind is missing"]),
        ('["a"]\nkind = "comparator"', ["trade is missing", "needs gain", "needs its output"]),
        ('["1N4148"]\nlike = "1N5817"', ["diodes.toml", "rename"]),
        ('["a"]\nlike = "1N5817x"', ["like", "Nearest: \"1N5817\""]),
        ('["a"]\nlike = "b"\n["b"]\nlike = "a"', ["in turn"]),
        ('a = 3', ["a", "wanted is a table"]),
        ('["a"]\nkind = { b = 1 }', ["no such kind"]),
        ('["a"]\nlike = [1]', ["no such part"]),
        ('["a"', ["own.toml, 1 mistake", "not TOML"]),
        ('["a"]\nkind = "comparator"\ntrade = "a"\npackage = "b"\noptions = { output = "open" }',
         ["'open'", "one of: open-collector, push-pull"]),
        ('["a"]\nkind = "comparator"\ntrade = "a"\npackage = "b"\noptions = { outputs = "x" }',
         ["'outputs'", "Nearest: \"output\""]),
    ],
)  # fmt: skip
def test_refusals_of_whole_tables(tmp_path: Path, text: str, words: list[str]) -> None:
    found = refusal(tmp_path, text)
    for word in words:
        assert word in found


PACKAGED = """
["my diode"]
like = "1N4148"
"""


@pytest.mark.parametrize(
    ("lines", "key", "words"),
    [
        ('pins = { anode = "1", cathode = "k" }', "pins.cathode", ["'k'", "DO-35", "band"]),
        ('pins = { anode = "1", cathode = "1" }', "pins.cathode", ["'1'", "anode"]),
        ('price = "cheap"', "price", ["'cheap'", "class of price", "€"]),
    ],
)
def test_pins_lie_on_terminals_and_prices_in_classes(
    tmp_path: Path, lines: str, key: str, words: list[str]
) -> None:
    text = refusal(tmp_path, PACKAGED + lines)
    assert all(word in text for word in words)
    assert places(tmp_path, PACKAGED + lines) == [(4, f"my diode.{key}")]


def test_a_tab_may_be_a_pin_and_where_heat_leaves(tmp_path: Path) -> None:
    pins = 'pins = { adjust = "1", output = "tab", input = "3", case = "tab" }'
    entry = read(
        tmp_path, f'["mine"]\nlike = "317 type 1.5 A"\nprice = "0.3 to 1 €"\n{pins}', "mine"
    )
    assert entry.pins["output"] == entry.pins["case"] == "tab"
    assert entry.price == "0.3 to 1 €"


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"none\.toml, 1 mistake\n.*there is no such file"):
        load(tmp_path / "none.toml")


def test_all_mistakes_are_told_at_once(tmp_path: Path) -> None:
    lines = 'ofset = { max = 5, unit = "mV", from = "s" }\ngain = { exact = 1 }\npins = 3\n'
    other = '["mine"]\nkind = "heat-sink"\ntrade = "mine"\nresistance = { max = 5, unit = "mA" }'
    assert places(tmp_path, COMPARATOR + lines + other) == [
        (7, "my comparator.ofset"),
        (8, "my comparator.gain"),  # no source
        (8, "my comparator.gain"),  # no unit
        (9, "my comparator.pins"),
        (10, "mine.package"),
        (13, "mine.resistance"),  # no source
        (13, "mine.resistance.unit"),
    ]


def test_a_part_is_like_one_of_its_own_kind(tmp_path: Path) -> None:
    text = '["mine"]\nlike = "1N4148"\nkind = "zener"\ntrade = "mine"\n'
    assert places(tmp_path, text) == [(3, "mine.kind")]


def test_what_is_dropped_and_needed_is_missed(tmp_path: Path) -> None:
    text = '["mine"]\nlike = "1N4148"\nideality = false\ntrade = "mine"\n'
    assert places(tmp_path, text) == [(3, "mine.ideality")]


def test_mistakes_of_several_files_are_told_together(tmp_path: Path) -> None:
    texts = {"one.toml": '["a"]\nkind = "zenner"\n', "two.toml": "", "three.toml": '["b"'}
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    with pytest.raises(FileError) as caught:
        load(*(tmp_path / name for name in texts))
    told = [caught.value, *caught.value.others]
    assert {Path(error.name).name for error in told} == texts.keys()
    assert all(str(error) in str(caught.value) for error in told)


def test_a_value_that_a_kind_needs_is_missed_at_the_part(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught:
        read(tmp_path, '["mine"]\nkind = "zener"\ntrade = "mine"\npackage = "DO-35"\n')
    mistakes = {mistake.key: mistake for mistake in caught.value.mistakes}
    needed = {n for n, v in kinds()["zener"].values.items() if v.default is None and not v.dynamic}
    assert mistakes.keys() == {f"mine.{name}" for name in needed}
    assert {mistake.line for mistake in caught.value.mistakes} == {1}
    assert 'zener_voltage = { typical = ..., unit = "V", from = "..." }' in str(caught.value)


def test_assumed_spreads_name_values_that_exist_and_say_why() -> None:
    known = {name for device in kinds().values() for name in device.values}
    for name, factors in assumed.table().items():
        kind, _, value = name.rpartition(".")
        assert name == "" or (value in kinds()[kind].values if kind else value in known), name
        assert 0.0 <= factors.low <= 1.0 <= factors.high
        assert factors.why


@pytest.mark.parametrize(
    ("kind", "value", "typical", "low", "high"),
    [
        ("fixed-regulator", "dropout", 2.0, 1.4, 2.6),
        ("bipolar-transistor", "current_gain", 100.0, 50.0, 200.0),
        ("operational-amplifier", "gain", 1e5, 2.5e4, 4e5),
        ("current-sense-amplifier", "gain", 50.0, 45.0, 55.0),
        ("adjustable-regulator", "dropout_drift", -2e-3, -2.6e-3, -1.4e-3),
        ("diode", "test_current", 1.0, 1.0, 1.0),
        ("step-down-regulator", "transition_time", 1e-7, 0.5e-7, 2e-7),
    ],
)
def test_assumed_spread(kind: str, value: str, typical: float, low: float, high: float) -> None:
    spread = assumed_spread(kind, value, typical)
    assert (spread.low, spread.typical, spread.high) == pytest.approx((low, typical, high))
