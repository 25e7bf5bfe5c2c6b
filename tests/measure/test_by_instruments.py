"""The walk with instruments on loopback: powered within limits, off between stages and after."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from bench.instruments.servers import Fake, serving
from click.testing import CliRunner
from surveys.supplies import resistor, supply

from railwright import cli
from railwright.bench.instruments.instrument import BenchSupply, Limits, Multimeter, in_charge
from railwright.bench.instruments.line import InstrumentError, Line
from railwright.bench.instruments.profile import standard
from railwright.bench.log import opened
from railwright.bench.reading import Meter
from railwright.bench.steps import Step, course
from railwright.circuit.design import read_text
from railwright.measure.by_instruments import Instruments
from railwright.measure.walk import Outcome, walk

DESIGN = read_text(
    supply(resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 3e3)), "small.toml"
)
LIMITS = Limits(volts=12.0, amperes=0.1)


def everything_is_fitted(step: Step) -> str:
    """All is fitted and connected."""
    return ""


@pytest.fixture
def source() -> Iterator[tuple[Fake, BenchSupply]]:
    fake = Fake(measured={"CURR": 2.5e-3})
    with serving(fake) as address, Line(address, 0.5) as line:
        yield fake, BenchSupply(line, standard("supply"), LIMITS)


@pytest.fixture
def meter() -> Iterator[tuple[Fake, Multimeter]]:
    fake = Fake()
    with serving(fake) as address, Line(address, 0.5) as line:
        yield fake, Multimeter(line, standard("multimeter"))


def walked(path: Path, instruments: Instruments, source: BenchSupply) -> Outcome:
    with opened(path, DESIGN.title) as log, in_charge(source):
        between = instruments.off
        return walk(course(DESIGN), log, instruments, lambda text: None, Meter(), between)


def test_the_whole_walk_by_instruments(
    source: tuple[Fake, BenchSupply], meter: tuple[Fake, Multimeter], tmp_path: Path
) -> None:
    fed, bench = source
    reads, multimeter = meter

    def person(step: Step) -> str:
        # The leads are put there; what they then read is what a sound divider gives.
        volts = {"IN": 10.0, "OUT": 7.5}[step.place.red]
        reads.measured = {"VOLT": volts if fed.on else 0.0, "RES": 4e3 if volts > 8 else 3e3}
        return ""

    outcome = walked(
        tmp_path / "a.readings", Instruments(person, everything_is_fitted, multimeter, bench), bench
    )
    assert outcome.status == 0
    assert outcome.left_open == []
    assert (fed.volts, fed.on) == (10.0, False)
    powered = fed.said.index("OUTPut ON")
    assert fed.said[:powered].count("OUTPut OFF") >= 2


def test_a_person_may_read_in_the_place_of_the_meter(
    source: tuple[Fake, BenchSupply], tmp_path: Path
) -> None:
    _, bench = source
    answers = {"resistance": {"IN": "4 kΩ", "OUT": "3 kΩ"}, "voltage": {"OUT": "7.5 V"}}
    instruments = Instruments(
        lambda step: answers[step.place.quantity][step.place.red], everything_is_fitted, None, bench
    )
    assert walked(tmp_path / "a.readings", instruments, bench).status == 0


def test_a_stage_beyond_the_limits_is_never_powered(
    source: tuple[Fake, BenchSupply], tmp_path: Path
) -> None:
    fake, bench = source
    bench.limits = Limits(volts=5.0, amperes=0.1)
    instruments = Instruments(lambda step: "5 kΩ", everything_is_fitted, None, bench)
    with pytest.raises(InstrumentError, match="beyond what it was allowed"):
        walked(tmp_path / "a.readings", instruments, bench)
    assert "OUTPut ON" not in fake.said
    with opened(tmp_path / "a.readings", DESIGN.title) as log:
        assert len(log.readings()) == 2  # what was read before is kept


def test_left_in_the_middle_it_is_off(source: tuple[Fake, BenchSupply], tmp_path: Path) -> None:
    fake, bench = source
    said = iter(["4 kΩ", "3 kΩ", "leave"])
    instruments = Instruments(lambda step: next(said), everything_is_fitted, None, bench)
    outcome = walked(tmp_path / "a.readings", instruments, bench)
    assert outcome.status == 3
    assert "OUTPut ON" in fake.said
    assert not fake.on


def test_the_command_uses_the_instruments_that_are_named(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    parts = resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 3e3)
    path.write_text(supply(parts), encoding="utf-8")
    fed, reads = Fake(measured={"CURR": 2.5e-3}), Fake(measured={"VOLT": 7.5, "RES": 4e3})
    with serving(fed) as source, serving(reads) as meter:
        words = ["measure", str(path), "--supply", source, "--multimeter", meter]
        words += ["--most", "12 V", "0.1 A"]
        done = CliRunner().invoke(cli.commands, words, input="\n\n\n\n")
    assert done.exit_code == 0, done.output
    assert "0 outside, 0 open" in done.stdout
    assert "OUTPut ON" in fed.said
    assert not fed.on


def test_the_command_powers_nothing_without_bounds(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    parts = resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 3e3)
    path.write_text(supply(parts), encoding="utf-8")
    fed = Fake()
    with serving(fed) as source:
        words = ["measure", str(path), "--supply", source]
        done = CliRunner().invoke(cli.commands, words, input="4 kΩ\n3 kΩ\n\n")
    assert done.exit_code == 2
    assert "beyond what it was allowed" in done.stderr
    assert "OUTPut ON" not in fed.said


def test_nothing_is_powered_before_the_person_says_so(
    source: tuple[Fake, BenchSupply], tmp_path: Path
) -> None:
    fake, bench = source
    said = iter(["4 kΩ", "3 kΩ"])

    def not_yet(step: Step) -> str:
        assert not fake.on
        return "leave"

    instruments = Instruments(lambda step: next(said), not_yet, None, bench)
    outcome = walked(tmp_path / "a.readings", instruments, bench)
    assert outcome.status == 3
    assert "OUTPut ON" not in fake.said


def test_one_address_is_not_taken_for_two_instruments(tmp_path: Path) -> None:
    path = tmp_path / "small.toml"
    parts = resistor("R1", "IN", "OUT", 1e3) + resistor("R2", "OUT", "GND", 3e3)
    path.write_text(supply(parts), encoding="utf-8")
    with serving(Fake()) as one:
        words = ["measure", str(path), "--supply", one, "--multimeter", one]
        done = CliRunner().invoke(cli.commands, words)
    assert done.exit_code == 2
    assert "is named for" in done.stderr
