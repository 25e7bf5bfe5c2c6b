"""What readings say of a chain of resistors and of a regulator, against sums by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from surveys.supplies import part, resistor, supply

from railwright import cli
from railwright.bench.reading import Meter, Place, Reading, ReadingError
from railwright.bench.rows import of_rows
from railwright.circuit.design import read_text
from railwright.mend.diagnosis import Diagnosis, Finder
from railwright.mend.evidence import noise
from railwright.mend.predicted import Supply
from railwright.surveys.suspects import METER as METER_OFF
from railwright.surveys.suspects import PriorsError, weights

METER = Meter(share=0.01, counts=0)
CHAIN = (
    resistor("R1", "IN", "HIGH", 1e3, "1 %")
    + resistor("R2", "HIGH", "OUT", 2e3, "1 %")
    + resistor("R3", "OUT", "GND", 7e3, "1 %")
)


def finder_of(parts: str) -> Finder:
    return Finder(Supply(read_text(supply(parts), "small.toml")))


@pytest.fixture(scope="module")
def chain() -> Finder:
    """Three resistors of 1, 2 and 7 kΩ on 10 V."""
    return finder_of(CHAIN)


def volts(net: str, value: float) -> Reading:
    return Reading("", Place("voltage", net, "GND"), value, METER.error(value))


def ohms(red: str, black: str, value: float) -> Reading:
    return Reading("", Place("resistance", red, black), value, METER.error(value))


def first(found: Diagnosis) -> str:
    return found.ranked[0].words


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
        (10.0 * 7.2 / 8.2, 7.0 / 8.2 * 10.0, "R2 is not 2 kΩ: 200 Ω"),
        (10.0 * 3.0 / 10.0, 10.0 * 1.0 / 10.0, "R1 and R3 exchanged"),
    ],
)
def test_the_fault_that_gives_these_voltages_comes_first(
    chain: Finder, high: float, out: float, wrong: str
) -> None:
    found = chain.diagnose([volts("HIGH", high), volts("OUT", out)], METER)
    assert wrong in [each.words for each in found.ranked[:2]]


def test_a_value_that_stands_in_no_list_is_found(chain: Finder) -> None:
    # R3 of 23.1 kΩ, 3.3 times too large: 23.1 of 26.1 parts of 10 V stand across it.
    found = chain.diagnose(
        [volts("OUT", 10.0 * 23.1 / 26.1), volts("HIGH", 10.0 * 25.1 / 26.1)], METER
    )
    assert found.ranked[0].suspect.words == "R3 is not 7 kΩ"
    assert found.ranked[0].words == "R3 is not 7 kΩ: 21 kΩ"


@pytest.mark.parametrize("kilo", [0.35, 0.55, 0.95, 12.0, 16.0, 30.0, 50.0, 90.0])
def test_a_value_anywhere_between_two_is_found(chain: Finder, kilo: float) -> None:
    # 1 kΩ and 2 kΩ in line with R3 of so many kΩ, on 10 V (Ohm's law).
    out, high = 10.0 * kilo / (3.0 + kilo), 10.0 * (2.0 + kilo) / (3.0 + kilo)
    found = chain.diagnose([volts("OUT", out), volts("HIGH", high)], METER)
    assert found.ranked[0].suspect.words == "R3 is not 7 kΩ"
    assert found.ranked[0].probability > 0.8


def test_what_fits_by_chance_alone_is_in_no_group() -> None:
    """R3 misread by a decade leaves 1.5 kΩ from OUT to ground, and 6 V of 10 V (Ohm's law).

    So does R2 of 1.579 kΩ, which stands in no series: it would have to be met within a few ohms.
    """
    beside = finder_of(
        resistor("R1", "IN", "OUT", 1e3, "0.1 %")
        + resistor("R2", "OUT", "GND", 3e3, "0.1 %")
        + resistor("R3", "OUT", "GND", 30e3, "0.1 %")
    )
    fine = Meter(share=0.001, counts=0)
    read = [
        Reading("", Place("voltage", "OUT", "GND"), 6.0, fine.error(6.0)),
        Reading("", Place("resistance", "OUT", "GND"), 1.5e3, fine.error(1.5e3)),
    ]
    found = beside.diagnose(read, fine)
    assert first(found) == "R3 is not 30 kΩ: 3 kΩ"
    assert "R2 is not 3 kΩ" not in {s.words for s in found.group}


def test_what_no_reading_tells_apart_is_a_group() -> None:
    # No direct current flows through a capacitor, and an ohmmeter reads nothing across a good one.
    smoothed = finder_of(
        CHAIN
        + part("C1", "capacitor", "plus = OUT, minus = GND", 'use = "film 1 µF 63 V"')
        + part("C2", "capacitor", "plus = OUT, minus = GND", 'use = "film 1 µF 63 V"')
    )
    found = smoothed.diagnose([volts("OUT", 7.0), volts("HIGH", 9.0)], METER)
    assert {s.words for s in found.group} >= {"nothing wrong", "C1 open", "C2 open"}


def test_a_lifted_lead_tells_apart_what_lies_side_by_side() -> None:
    # While R2 and R3 are both 3 kΩ the rest of the board does not know which of them is open.
    twins = finder_of(
        resistor("R1", "IN", "OUT", 1e3, "1 %")
        + resistor("R2", "OUT", "GND", 3e3, "1 %")
        + resistor("R3", "OUT", "GND", 3e3, "1 %")
    )
    read = [volts("OUT", 7.5), ohms("OUT", "GND", 3e3)]
    found = twins.diagnose(read, METER)
    assert found.next is not None
    assert found.next.under in ("R2 alone", "R3 alone")
    lifted = Place("resistance", "OUT", "GND", "R2 alone")
    for value, wrong in ((10e6, "R2 open"), (3e3, "R3 open")):
        alone = Reading("", lifted, value, METER.error(value))
        assert first(twins.diagnose([*read, alone], METER)) == wrong


def test_what_a_reading_tells_apart_is_none(chain: Finder) -> None:
    found = chain.diagnose([volts("OUT", 10.0), volts("HIGH", 10.0)], METER)
    assert first(found) == "R3 open"
    assert found.group == (found.ranked[0].suspect,)


def test_the_next_reading_is_one_that_parts_the_likeliest(chain: Finder) -> None:
    # 0 V at OUT: R1 or R2 open, or R3 shorted. HIGH tells: 0 V, 10 V or 6.7 V.
    found = chain.diagnose([volts("OUT", 0.0)], METER)
    assert found.next is not None
    assert found.information > 0.5
    told = {"R1 open": 0.0, "R2 open": 10.0, "R3 short": 20.0 / 3.0}
    for words, high in told.items():
        assert first(chain.diagnose([volts("OUT", 0.0), volts("HIGH", high)], METER)) == words


def test_what_reads_the_same_with_power_is_told_apart_without(chain: Finder) -> None:
    """A divider tells the ratio alone; an ohmmeter tells which of its resistors it is.

    R3 of 700 Ω, or R1 and R2 both of another value, are told by 10 V x 0.7 / 3.7 at OUT; across it
    stands 700 Ω beside nothing, for the source is not connected.
    """
    half = chain.diagnose([volts("OUT", 7.0 / 3.7)], METER)
    whole = chain.diagnose([volts("OUT", 7.0 / 3.7), ohms("OUT", "GND", 700.0)], METER)
    assert first(whole) == "R3 is not 7 kΩ: 700 Ω"
    assert whole.ranked[0].probability > half.ranked[0].probability


def test_the_reason_is_what_was_computed(chain: Finder) -> None:
    found = chain.diagnose([volts("OUT", 0.0), volts("HIGH", 0.0)], METER)
    assert first(found) == "R1 open"
    # With nothing flowing no net but the input has a voltage (Ohm's law).
    assert "HIGH is at 0 V, instead of 9 V" in found.ranked[0].because


def test_a_meter_that_is_off_is_suspected_where_all_readings_are_off_alike(chain: Finder) -> None:
    found = chain.diagnose([volts("IN", 11.0), volts("HIGH", 9.9), volts("OUT", 7.7)], METER)
    assert found.ranked[0].suspect.words == METER_OFF


def test_two_things_at_once_are_suspected_on_request(chain: Finder) -> None:
    # R1 of 10 kΩ and R3 of 700 Ω: 10 V stand across 12.7 kΩ.
    read = [volts("HIGH", 27.0 / 12.7), volts("OUT", 7.0 / 12.7), ohms("OUT", "GND", 700.0)]
    single = chain.diagnose(read, METER)
    double = chain.with_pairs(single).diagnose(read, METER)
    refs = {ref for each in double.ranked[:3] for ref in each.suspect.refs}
    assert any(len(each.suspect.refs) == 2 for each in double.ranked[:3])
    assert {"R1", "R3"} <= refs


PINS = "input = IN, output = OUT, adjust = ADJ"
REGULATOR = (
    part("U1", "adjustable-regulator", PINS, 'use = "317 type 1.5 A"')
    + resistor("R1", "OUT", "ADJ", 240.0, "1 %")
    + resistor("R2", "ADJ", "GND", 720.0, "1 %")
)


def test_a_leg_of_another_decade_is_found() -> None:
    finder = finder_of(REGULATOR)
    # 1.25 V x (1 + R2/R1), datasheets of the 317 type: 5 V, and 1.6 V with a tenth of R2.
    found = finder.diagnose([volts("OUT", 1.25 * 1.3), volts("ADJ", 1.25 * 0.3)], METER)
    assert first(found) == "R2 is not 720 Ω: 72 Ω"
    sound = finder.diagnose([volts("OUT", 5.04), volts("ADJ", 3.78)], METER)
    assert first(sound) == "nothing wrong"


def test_rows_of_a_file_are_readings_or_are_pointed_at() -> None:
    rows = [{"quantity": "voltage", "red": "OUT", "black": "GND", "value": "7.02", "unit": "V"}]
    (found,) = of_rows(rows, METER)
    assert (found.place, found.value) == (Place("voltage", "OUT", "GND"), 7.02)
    with pytest.raises(ReadingError, match="line 2: 'seven V' is not a voltage"):
        of_rows([rows[0] | {"value": "seven"}], METER)
    (lifted,) = of_rows(
        [rows[0] | {"quantity": "resistance", "under": "R2 alone", "unit": "Ω"}], METER
    )
    assert lifted.place.told == "resistance of R2 alone, one of its leads lifted"
    with pytest.raises(ReadingError, match="OUT is read under R2 alone"):
        of_rows([rows[0] | {"under": "R2 alone"}], METER)
    with pytest.raises(ReadingError, match="line 2: smell of OUT"):
        of_rows([rows[0] | {"quantity": "smell"}], METER)


def test_the_command_tells_suspects_and_what_to_read_next(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(supply(CHAIN), encoding="utf-8")
    table = tmp_path / "read.csv"
    table.write_text("quantity,red,black,value,unit\nvoltage,OUT,GND,0.0,V\n", encoding="utf-8")
    done = CliRunner().invoke(cli.commands, ["mend", str(path), "--readings", str(table)])
    assert done.exit_code == 0, done.output
    assert "After 1 reading:" in done.stdout
    assert "R2 open" in done.stdout
    assert "Read next: " in done.stdout


def test_priors_of_ones_own_count(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    path.write_text(supply(CHAIN), encoding="utf-8")
    priors = tmp_path / "own.toml"
    priors.write_text("[weight]\nnothing = 0.0\nmeter = 0.0\n", encoding="utf-8")
    done = CliRunner().invoke(cli.commands, ["mend", str(path), "--priors", str(priors)])
    assert done.exit_code == 0, done.output
    assert "nothing wrong" not in done.stdout
    priors.write_text("[weight]\nsmell = 0.5\n", encoding="utf-8")
    done = CliRunner().invoke(cli.commands, ["mend", str(path), "--priors", str(priors)])
    assert done.exit_code == 2
    assert "smell under [weight] is no family of suspects" in done.output
    priors.write_text("[weight]\nmeter = -1\n", encoding="utf-8")
    with pytest.raises(PriorsError, match="Write a number from nil up"):
        weights(priors)


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


@given(st.floats(0.0, 1e3))
def test_errors_over_lanes_are_those_of_the_meter(value: float) -> None:
    place = Place("voltage", "OUT", "GND")
    meter = Meter()
    (variance,) = noise(np.array([value]), [place], meter)
    assert np.sqrt(variance) == pytest.approx(max(meter.error(value) / np.sqrt(3.0), 1e-3))
