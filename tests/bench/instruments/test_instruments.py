"""Instruments on loopback through VISA: readings, limits, and off whatever happens.

Commands: SCPI-99 and IEEE 488.2 as public texts give them; numbers, infinity: from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import pytest
from bench.instruments.servers import Fake, serving

from railwright.bench.instruments.instrument import (
    BenchLoad,
    BenchSupply,
    Limits,
    Multimeter,
    in_charge,
)
from railwright.bench.instruments.line import InstrumentError, Line
from railwright.bench.instruments.profile import ProfileError, profile_of, standard

LIMITS = Limits(volts=20.0, amperes=0.5)
QUICK = 0.3
"""s; time-out of these lines."""


@pytest.fixture
def fake() -> Fake:
    return Fake(measured={"VOLT": 5.02, "CURR": 0.011, "RES": 2200.0})


@pytest.fixture
def line(fake: Fake) -> Iterator[Line]:
    with serving(fake) as address, Line(address, QUICK) as found:
        yield found


@pytest.fixture
def supply(line: Line) -> BenchSupply:
    return BenchSupply(line, standard("supply"), LIMITS)


def test_a_meter_reads_what_it_is_asked_for(line: Line) -> None:
    meter = Multimeter(line, standard("multimeter"))
    assert meter.name == "NOBODY,FAKE,0,1.0"
    assert meter.read("voltage") == pytest.approx(5.02)
    assert meter.read("resistance") == pytest.approx(2200.0)


def test_overrange_is_infinite(line: Line, fake: Fake) -> None:
    fake.measured["RES"] = 9.9e37
    assert math.isinf(Multimeter(line, standard("multimeter")).read("resistance"))


def test_a_supply_is_set_before_it_is_switched_on(supply: BenchSupply, fake: Fake) -> None:
    with in_charge(supply):
        supply.on(19.0, 0.05)
        assert (fake.volts, fake.amperes, fake.on) == (19.0, 0.05, True)
        commands = [text for text in fake.said if not text.endswith("?")]
        assert commands.index("OUTPut ON") > commands.index("SOURce:VOLTage 1.900000E+01")
        assert commands.index("SOURce:CURRent 5.000000E-02") < commands.index("OUTPut ON")
    assert not fake.on


@pytest.mark.parametrize(("volts", "amperes"), [(20.1, 0.1), (5.0, 0.6), (5.0, 0.0), (-1.0, 0.1)])
def test_beyond_its_limits_nothing_is_sent(
    supply: BenchSupply, fake: Fake, volts: float, amperes: float
) -> None:
    with pytest.raises(InstrumentError, match="beyond what it was allowed"):
        supply.on(volts, amperes)
    assert fake.said == []


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SystemExit])
def test_whatever_ends_it_leaves_it_off(
    supply: BenchSupply, fake: Fake, error: type[BaseException]
) -> None:
    def work() -> None:
        with in_charge(supply):
            supply.on(5.0, 0.1)
            raise error

    with pytest.raises(error):
        work()
    assert not fake.on


def test_a_complaint_stops_before_it_is_switched_on(supply: BenchSupply, fake: Fake) -> None:
    fake.errors = ['-222,"Data out of range"']
    with pytest.raises(InstrumentError, match="Data out of range"), in_charge(supply):
        supply.on(5.0, 0.1)
    assert "OUTPut ON" not in fake.said
    assert not fake.on


def test_a_late_answer_is_nobodys(line: Line, fake: Fake) -> None:
    meter = Multimeter(line, standard("multimeter"))
    fake.slow["MEASure:VOLTage:DC?"] = 2.0 * QUICK
    with pytest.raises(InstrumentError, match="no answer to MEASure:VOLTage:DC"):
        meter.read("voltage")
    # The late voltage would come first on the old line.
    assert meter.read("resistance") == pytest.approx(2200.0)


def test_a_wrong_answer_is_told(line: Line, fake: Fake) -> None:
    fake.wrong["MEASure:VOLTage:DC?"] = "HELLO"
    with pytest.raises(InstrumentError, match=r"answered 'HELLO' .* where a number is due"):
        Multimeter(line, standard("multimeter")).read("voltage")


def test_who_hangs_up_is_asked_anew_for_off(supply: BenchSupply, fake: Fake) -> None:
    def work() -> None:
        with in_charge(supply):
            supply.on(5.0, 0.1)
            fake.hangs_up = {"MEASure:CURRent?"}
            supply.read("current")

    with pytest.raises(InstrumentError, match="no answer to MEASure:CURRent"):
        work()
    assert not fake.on


def test_what_stays_on_is_told(supply: BenchSupply, fake: Fake) -> None:
    fake.stuck = True
    with pytest.raises(InstrumentError, match=r"stays on\. Switch it off by hand"):
        supply.off()


def test_of_several_all_are_switched_off(line: Line, fake: Fake) -> None:
    other = Fake(stuck=True)
    with serving(other) as address, Line(address, QUICK) as second:
        other.stuck = False
        stubborn = BenchLoad(second, standard("load"), LIMITS)
        supply = BenchSupply(line, standard("supply"), LIMITS)

        def work() -> None:
            with in_charge(stubborn, supply):
                supply.on(5.0, 0.1)
                stubborn.take(0.2)
                other.stuck = True

        with pytest.raises(InstrumentError, match="stays on"):
            work()
    assert not fake.on


def test_nobody_at_an_address_is_told() -> None:
    with serving(Fake()) as address:
        pass
    with pytest.raises(InstrumentError, match=r"cannot be opened|no answer"):
        Line(address, QUICK).ask("*IDN?")


def test_a_profile_of_ones_own_changes_single_lines(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('set_voltage = "VSET {value}"\n', encoding="utf-8")
    found = profile_of("supply", path)
    assert found.with_value("set_voltage", 5.0) == "VSET 5.000000E+00"
    assert found["on"] == standard("supply")["on"]
    path.write_text('set_volts = "V {value}"\n', encoding="utf-8")
    with pytest.raises(ProfileError, match='"set_volts" is no command'):
        profile_of("supply", path)
    path.write_text('set_voltage = "VSET"\n', encoding="utf-8")
    with pytest.raises(ProfileError, match=r"wants \{value\}"):
        profile_of("supply", path)


def test_every_command_is_in_the_long_form_of_the_standard() -> None:
    # SCPI-99: the short form is the upper-case part, four letters, or three where the fourth is a
    # vowel (and the word is longer).
    for kind in ("supply", "multimeter", "load", "oscilloscope"):
        for command in standard(kind).commands.values():  # type: ignore[arg-type]
            for word in command.split(" ")[0].rstrip("?").split(":"):
                if word.startswith("*"):
                    continue
                short = "".join(letter for letter in word if letter.isupper())
                wanted = 3 if len(word) > 4 and word[3].lower() in "aeiou" else 4
                assert len(short) == min(wanted, len(word)), word
