"""What readings say of a chain of resistors and of a regulator, against sums by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from surveys.supplies import part, resistor, supply

from railwright import cli
from railwright.bench.reading import Meter, Place, Reading, ReadingError
from railwright.bench.rows import of_rows
from railwright.circuit.design import read_text
from railwright.mend.diagnosis import Diagnosis, Finder
from railwright.surveys.suspects import weights

METER = Meter(share=0.01, counts=0)
CHAIN = (
    resistor("R1", "IN", "HIGH", 1e3, "1 %")
    + resistor("R2", "HIGH", "OUT", 2e3, "1 %")
    + resistor("R3", "OUT", "GND", 7e3, "1 %")
)


@pytest.fixture(scope="module")
def chain() -> Finder:
    """Three resistors of 1, 2 and 7 kΩ on 10 V."""
    return Finder(read_text(supply(CHAIN), "small.toml"))


def volts(net: str, value: float) -> Reading:
    return Reading("", Place("voltage", net, "GND"), value, METER.error(value))


def first(found: Diagnosis) -> str:
    return found.ranked[0].suspect.words


def test_weights_are_shares() -> None:
    assert sum(weights().values()) == pytest.approx(1.0)


def test_sound_readings_suspect_nothing(chain: Finder) -> None:
    found = chain.diagnose([volts("HIGH", 9.0), volts("OUT", 7.0)], METER)
    assert first(found) == "nothing wrong"
    assert found.ranked[0].probability > 0.7


@pytest.mark.parametrize(
    ("high", "out", "wrong"),
    [
        (10.0, 10.0, "R3 open"),  # nothing flows
        (10.0, 0.0, "R2 open"),
        (0.0, 0.0, "R1 open"),
        (10.0 * 2.0 / 3.0, 0.0, "R3 short"),
        (10.0 * 7.2 / 8.2, 7.0 / 8.2 * 10.0, "R2 is 200 Ω"),
        (10.0 * 3.0 / 10.0, 10.0 * 1.0 / 10.0, "R1 and R3 exchanged"),
    ],
)
def test_the_fault_that_gives_these_voltages_comes_first(
    chain: Finder, high: float, out: float, wrong: str
) -> None:
    found = chain.diagnose([volts("HIGH", high), volts("OUT", out)], METER)
    assert wrong in [each.suspect.words for each in found.ranked[:2]]


def test_what_no_reading_tells_apart_is_a_group(chain: Finder) -> None:
    found = chain.diagnose([volts("HIGH", 10.0), volts("OUT", 10.0)], METER)
    assert found.group[0].words == first(found)
    means = {s.words: np.nanmean(chain.predicted[i], axis=1) for i, s in enumerate(chain.suspects)}
    for suspect in found.group[1:]:
        away = np.abs(means[suspect.words] - means[found.group[0].words])
        assert (away < 0.5).all()


def test_the_next_reading_is_the_one_that_parts_the_likeliest(chain: Finder) -> None:
    # 0 V at OUT: R1 or R2 open, or R3 shorted. HIGH tells: 0 V, 10 V or 6.7 V.
    found = chain.diagnose([volts("OUT", 0.0)], METER)
    assert found.next == Place("voltage", "HIGH", "GND")
    assert found.information > 0.5


def test_after_every_reading_there_is_no_next(chain: Finder) -> None:
    current = Reading("", Place("current", "IN", "GND"), 1e-3, 1e-5)
    all_of_them = [volts("HIGH", 9.0), volts("OUT", 7.0), volts("IN", 10.0), current]
    assert chain.diagnose(all_of_them, METER).next is None


PINS = "input = IN, output = OUT, adjust = ADJ"
REGULATOR = (
    part("U1", "adjustable-regulator", PINS, 'use = "317 type 1.5 A"')
    + resistor("R1", "OUT", "ADJ", 240.0, "1 %")
    + resistor("R2", "ADJ", "GND", 720.0, "1 %")
)


def test_a_leg_of_another_decade_is_found() -> None:
    finder = Finder(read_text(supply(REGULATOR), "small.toml"))
    # 1.25 V x (1 + R2/R1), datasheets of the 317 type: 5 V, and 1.6 V with a tenth of R2.
    found = finder.diagnose([volts("OUT", 1.25 * 1.3), volts("ADJ", 1.25 * 0.3)], METER)
    assert first(found) == "R2 is 72 Ω"
    sound = finder.diagnose([volts("OUT", 5.04), volts("ADJ", 3.78)], METER)
    assert first(sound) == "nothing wrong"


def test_rows_of_a_file_are_readings_or_are_pointed_at() -> None:
    rows = [{"quantity": "voltage", "red": "OUT", "black": "GND", "value": "7.02", "unit": "V"}]
    (found,) = of_rows(rows, METER)
    assert (found.place, found.value) == (Place("voltage", "OUT", "GND"), 7.02)
    with pytest.raises(ReadingError, match="line 2: 'seven V' is not a voltage"):
        of_rows([rows[0] | {"value": "seven"}], METER)
    with pytest.raises(ReadingError, match="line 2: smell of OUT"):
        of_rows([rows[0] | {"quantity": "smell"}], METER)


def test_the_command_tells_suspects_and_what_to_read_next(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(supply(CHAIN), encoding="utf-8")
    table = tmp_path / "read.csv"
    table.write_text("quantity,red,black,value,unit\nvoltage,OUT,GND,0.0,V\n", encoding="utf-8")
    done = CliRunner().invoke(cli.commands, ["mend", str(path), "--readings", str(table)])
    assert done.exit_code == 0, done.output
    assert "After 1 readings:" in done.stdout
    assert "R2 open" in done.stdout
    assert "Read next: voltage of HIGH from GND" in done.stdout


def test_the_command_takes_the_stage_that_was_measured_last(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(supply(CHAIN), encoding="utf-8")
    said = "10 kΩ\n7 kΩ\n1 mA\n5 V\n"
    walked = CliRunner().invoke(cli.commands, ["measure", str(path)], input=said)
    assert walked.exit_code == 1, walked.stdout
    done = CliRunner().invoke(cli.commands, ["mend", str(path)])
    assert done.exit_code == 0, done.output
    assert "After 2 readings:" in done.stdout
    assert "nothing wrong" not in done.stdout.splitlines()[2]
