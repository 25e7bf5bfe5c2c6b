"""Characterising simulated supplies: what is measured, what is refused, how it ends.

Outputs are held against Ohm's law and the 317's formula of its datasheets.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from surveys.supplies import part, resistor, supply

from railwright import cli
from railwright.bench.hidden import Hidden
from railwright.bench.instruments.instrument import Limits
from railwright.bench.instruments.line import InstrumentError
from railwright.bench.log import opened
from railwright.bench.reading import At, Meter, Place
from railwright.bench.simulated.bench import SimulatedBench, fault_of, simulated_bench
from railwright.bench.simulated.serving import Trouble
from railwright.circuit.design import Design, read_text
from railwright.measure.by_instruments import on_the_bench
from railwright.measure.characterise import Kit, Outcome, Person, characterise
from railwright.measure.promised import NotReady, Promised, promised

METER = Meter(share=0.002, counts=2.0, of=20000.0)
AMPLE = Limits(volts=20.0, amperes=1.0, watts=20.0)
PATIENT = 60.0
BEHIND = 100.0
"""Ω; what a plain supply has in the way."""
PLAIN_TEXT = supply(
    resistor("R1", "IN", "OUT", BEHIND) + resistor("R2", "OUT", "GND", 10e3),
    amperes=(0.0, 0.01),
    volts=(10.0, 10.0),
    output='overload = { style = "constant-current", carry = "40 mA", act_by = "60 mA" }\n'
    'accuracy = "20 %"',
)
PLAIN = read_text(PLAIN_TEXT, "plain.toml")
CAPACITOR = part(
    "C1",
    "capacitor",
    "plus = OUT, minus = GND",
    'capacitance = "10 µF"\nesr = "0.1 Ω"\nleakage = "1 nA"\nrated_voltage = "50 V"\n'
    'options = { dielectric = "film" }',
)
KNOB = '[[control]]\npart = "RV1"\nvalue = "position"\nsets = "main.voltage"\nrole = "set"\n'
ADJUSTABLE = read_text(
    supply(
        part("U1", "adjustable-regulator", "input = IN, output = OUT, adjust = ADJ",
             'use = "317 type 1.5 A"')
        + resistor("R1", "OUT", "ADJ", 240.0, "1 %")
        + part("RV1", "potentiometer", "one = ADJ, wiper = GND, two = GND",
               'use = "potentiometer ten-turn 1 kΩ"')
        + CAPACITOR + KNOB,
        amperes=(0.0, 0.05),
        volts=(2.0, 5.0),
        output='load_step = { from = "5 mA", to = "50 mA", rise = "1 µs", deviation = "100 mV", '
        'settle = "500 µs" }\naccuracy = "2 %"\nnever_above = "7 V"',
    ),
    "adjustable.toml",
)  # fmt: skip
OUT = Place("voltage", "OUT", "GND")


@cache
def promise(design_name: str) -> Promised:
    return promised({"plain": PLAIN, "adjustable": ADJUSTABLE}[design_name])


@contextmanager
def bench_of(design: Design, hidden: Hidden | None = None) -> Iterator[SimulatedBench]:
    with simulated_bench(design, hidden or Hidden(2), METER) as found:
        yield found


def characterised(
    bench: SimulatedBench,
    log: Path,
    limits: Limits = AMPLE,
    person: Person | None = None,
    timeout: float = PATIENT,
) -> tuple[Outcome, list[str]]:
    design, hands, told = bench.stand.design, bench.hands, list[str]()
    name = "plain" if design is PLAIN else "adjustable"
    with (
        on_the_bench(
            hands.read, hands.ready, bench.addresses, ("0 V", "0 A"), timeout=timeout
        ) as by,
        opened(log, design.title) as kept,
    ):
        assert by.supply is not None
        assert by.load is not None
        by.supply.limits = by.load.limits = limits
        kit = Kit.of(by, METER, pause=0.0)
        found = characterise(design, promise(name), kit, kept, person or hands, told.append)
    return found, told


def test_a_plain_supply_falls_by_what_its_resistance_takes(tmp_path: Path) -> None:
    with bench_of(PLAIN) as bench:
        outcome, told = characterised(bench, tmp_path / "a.readings")
        assert not bench.stand.on
        assert not bench.stand.loaded
    assert outcome.status == 0, told
    volts = [r.value for r, _ in outcome.read if r.place == OUT]
    # 10 V behind 100 Ω beside 10 kΩ, at 0, 5 and 10 mA.
    open_ = 10.0 * 10e3 / 10.1e3
    inner = BEHIND * 10e3 / 10.1e3
    expected = [open_ - inner * amperes for amperes in (0.0, 0.005, 0.01)]
    assert volts == pytest.approx(expected, rel=2e-3)
    # Half of it is left at open_ / (2 × inner); the ramp goes by 0.6 mA.
    (overload,) = (each for each in outcome.read if each[0].place.quantity == "trip current")
    assert overload[0].value == pytest.approx(0.5 * open_ / inner, abs=0.7e-3)
    assert overload[1] == "inside"


def test_it_is_all_in_the_log_and_not_measured_again(tmp_path: Path) -> None:
    log = tmp_path / "a.readings"
    with bench_of(PLAIN) as bench:
        first, _ = characterised(bench, log)
        bench.instruments["load"].said.clear()
        again, _ = characterised(bench, log)
        assert not any(text.startswith("CURRent ") for text in bench.instruments["load"].said)
    assert [r for r, _ in again.read] == [r for r, _ in first.read]
    with opened(log, PLAIN.title) as kept:
        assert len(kept.readings()) == len(first.read)
        at = [r.at for r in kept.readings() if r.place == OUT]
    assert at == [At(None, amperes, 10.0) for amperes in (0.0, 0.005, 0.01)]


@pytest.mark.parametrize(
    ("limits", "told"),
    [
        (Limits(5.0, 1.0, 20.0), "the source 10 V where it may 5 V"),
        (Limits(20.0, 1e-3, 20.0), r"the load 66 mA where it may 1 mA"),
        (Limits(20.0, 1.0, 0.1), r"the load 660 mW where it may 100 mW"),
    ],
)
def test_what_it_may_not_do_is_said_before_anything_is_switched_on(
    limits: Limits, told: str, tmp_path: Path
) -> None:
    with bench_of(PLAIN) as bench:
        with pytest.raises(NotReady, match=told):
            characterised(bench, tmp_path / "a.readings", limits)
        for kind in ("supply", "load"):
            said = bench.instruments[kind].said  # type: ignore[index]
            assert not any(text.endswith(" ON") for text in said)


def test_what_the_proof_calls_overloaded_is_not_loaded() -> None:
    # 0.25 W of R1 are exceeded from 50 mA on.
    heavy = supply(
        resistor("R1", "IN", "OUT", BEHIND) + resistor("R2", "OUT", "GND", 10e3),
        amperes=(0.0, 0.06),
        volts=(10.0, 10.0),
    )
    with pytest.raises(NotReady, match=r"stress\.rating of R1"):
        promised(read_text(heavy, "heavy.toml"))


def test_a_knob_is_turned_and_a_step_is_captured(tmp_path: Path) -> None:
    log = tmp_path / "a.readings"
    with bench_of(ADJUSTABLE) as bench:
        outcome, told = characterised(bench, log)
        assert not bench.stand.on
    assert outcome.status == 0, told
    at_half = [r.value for r, _ in outcome.read if r.place == OUT and r.at.load == 0.025]
    assert at_half == pytest.approx([2.0, 3.5, 5.0], rel=0.015)
    found = {reading.place.quantity: reading for reading, _ in outcome.read}
    # 45 mA at once through 0.1 Ω of the capacitor, and what the loop lets it fall on top.
    assert 4.5e-3 < found["deviation"].value < 0.1
    assert found["settling"].at == At(5.0, 0.05, 10.0)
    with opened(log, ADJUSTABLE.title) as kept:
        stage = found["deviation"].stage
        captures = {name for each in kept.captures(stage) for name in each.channels}
    assert "joined" in captures


def test_beyond_what_the_load_survives_it_is_off_at_once(tmp_path: Path) -> None:
    wrong = fault_of(ADJUSTABLE, "R1 short", 1)
    with bench_of(ADJUSTABLE, Hidden(1, (wrong,))) as bench:
        outcome, told = characterised(bench, tmp_path / "a.readings")
        assert not bench.stand.on
    # The whole input less the drop-out is there: 10 V less 1.5 V to 2 V.
    assert "must never be above 7 V" in outcome.ended, told
    assert outcome.status == 3


def test_a_fault_shows_as_readings_outside(tmp_path: Path) -> None:
    wrong = fault_of(PLAIN, "R1 is not 100 Ω", 1)
    with bench_of(PLAIN, Hidden(1, (wrong,))) as bench:
        outcome, _ = characterised(bench, tmp_path / "a.readings")
    assert outcome.status == 1
    assert [word for r, word in outcome.read if r.place == OUT].count("outside") >= 2


class Leaves:
    """Does as told, and leaves at the first knob."""

    def connect(self, rail: object, text: str) -> str:
        return ""

    def turn(self, part: str, volts: float, text: str) -> str:
        return "leave"

    def join(self, joined: bool, text: str) -> str:
        return ""


def test_who_leaves_goes_on_later(tmp_path: Path) -> None:
    with bench_of(ADJUSTABLE) as bench:
        bench.hands.connect(ADJUSTABLE.need.output[0], "")
        outcome, _ = characterised(bench, tmp_path / "a.readings", person=Leaves())
        assert not bench.stand.on
        assert outcome.status == 3
        assert "left by you" in outcome.ended


def test_a_load_that_hangs_up_in_the_middle_ends_it_off(tmp_path: Path) -> None:
    log = tmp_path / "a.readings"
    with bench_of(PLAIN) as bench:
        bench.instruments["load"].troubles.append(Trouble("hangs up", "CURRent ", after=2))
        with pytest.raises(InstrumentError, match="no answer to"):
            characterised(bench, log, timeout=2.0)
        assert not bench.stand.on
        assert not bench.stand.loaded
        outcome, _ = characterised(bench, log)
    assert outcome.status == 0
    assert np.isfinite([r.value for r, _ in outcome.read]).all()


def test_the_command_characterises_on_a_simulated_bench(tmp_path: Path) -> None:
    path, table = tmp_path / "plain.toml", tmp_path / "all.csv"
    path.write_text(PLAIN_TEXT, encoding="utf-8")
    words = ["measure", str(path), "--simulated", "--characterise", "--csv", str(table)]
    words += ["--meter", "2 % + 2 digits of 2000"]
    done = CliRunner().invoke(cli.commands, words)
    assert done.exit_code == 0, done.output
    assert "trip current 4" in done.stdout or "trip current 5" in done.stdout
    assert "Characterised: 7 readings, 0 outside." in done.stdout
    assert "trip current" in table.read_text("utf-8")
    assert (tmp_path / "plain.simulated.readings").is_file()
    again = CliRunner().invoke(cli.commands, [*words, "--fault", "R1 is short"])
    assert again.exit_code == 2
    assert 'Nearest: "R1 short"' in again.stderr
    wrong = ["--trouble", "multimeter", "wrong", "MEAS", "--log", str(tmp_path / "b.readings")]
    troubled = CliRunner().invoke(cli.commands, ["measure", str(path), "--simulated", *wrong])
    assert troubled.exit_code == 2
    assert "answered 'NONSENSE'" in troubled.stderr
    done = CliRunner().invoke(cli.commands, ["measure", str(path), "--fault", "R1 short"])
    assert done.exit_code == 2
    assert "Add --simulated" in done.stderr


def test_what_is_hidden_is_found_from_what_was_measured(tmp_path: Path) -> None:
    path, log = tmp_path / "plain.toml", tmp_path / "plain.readings"
    path.write_text(PLAIN_TEXT, encoding="utf-8")
    fine = ["--meter", "0.1 %"]
    words = ["measure", str(path), "--simulated", "--fault", "R1 is not 100 Ω", "--log", str(log)]
    done = CliRunner().invoke(cli.commands, [*words, *fine])
    assert done.exit_code == 1, done.output
    mended = CliRunner().invoke(cli.commands, ["mend", str(path), *fine])
    assert mended.exit_code == 0, mended.output
    assert "R1 is not 100 Ω" in mended.stdout.partition("Read next")[0]


def test_an_alternating_input_is_refused() -> None:
    need = replace(PLAIN.need, input=replace(PLAIN.need.input, kind="ac"))
    with pytest.raises(NotReady, match="its input alternates"):
        promised(replace(PLAIN, need=need))
