"""The simulated bench through VISA, against sums by hand on what stands on it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply

from railwright.bench.hidden import Hidden
from railwright.bench.instruments.instrument import (
    BenchLoad,
    BenchSupply,
    Limits,
    Multimeter,
    Oscilloscope,
)
from railwright.bench.instruments.line import InstrumentError, Line
from railwright.bench.instruments.profile import Kind, standard
from railwright.bench.reading import Meter, Place
from railwright.bench.simulated.bench import FaultError, SimulatedBench, fault_of, simulated_bench
from railwright.bench.waves import ripple, spikes, step_response
from railwright.circuit.design import read, read_text

EXACT = Meter(share=0.0, counts=0.0)
PATIENT = 60.0
"""s; a first course in time compiles its circuit."""
CAPACITOR = part(
    "C1",
    "capacitor",
    "plus = OUT, minus = GND",
    'capacitance = { typical = "10 µF", tolerance = "0 %" }\nesr = { typical = "1 mΩ", tolerance = '
    '"0 %" }\nleakage = { typical = "1 nA", tolerance = "0 %" }\nrated_voltage = "50 V"\n'
    'options = { dielectric = "film" }',
)
DESIGN = read_text(
    supply(
        resistor("R1", "IN", "OUT", 100.0) + resistor("R2", "OUT", "GND", 300.0) + CAPACITOR,
        amperes=(0.0, 0.02),
    ),
    "small.toml",
)
"""75 Ω behind 7.5 V, with 10 µF: 0.75 ms."""


@pytest.fixture(scope="module")
def bench() -> Iterator[SimulatedBench]:
    with simulated_bench(DESIGN, Hidden(1), EXACT) as found:
        found.stand.stage = ""
        yield found


@pytest.fixture(scope="module")
def lines(bench: SimulatedBench) -> Iterator[dict[str, Line]]:
    with ExitStack() as stack:
        yield {
            kind: stack.enter_context(Line(address, PATIENT))
            for kind, address in bench.addresses.items()
        }


@pytest.fixture
def source(lines: dict[str, Line]) -> Iterator[BenchSupply]:
    found = BenchSupply(lines["supply"], standard("supply"), Limits(20.0, 1.0))
    yield found
    found.off()


@pytest.fixture
def load(lines: dict[str, Line]) -> Iterator[BenchLoad]:
    found = BenchLoad(lines["load"], standard("load"), Limits(20.0, 1.0))
    yield found
    found.off()


@pytest.fixture
def scope(lines: dict[str, Line]) -> Oscilloscope:
    return Oscilloscope(lines["oscilloscope"], standard("oscilloscope"))


def test_meter_and_source_read_what_ohms_law_says(
    bench: SimulatedBench, lines: dict[str, Line], source: BenchSupply
) -> None:
    meter = Multimeter(lines["multimeter"], standard("multimeter"))
    bench.stand.leads = Place("resistance", "IN", "GND")
    assert meter.read("resistance") == pytest.approx(400.0, rel=1e-3)
    bench.stand.leads = Place("voltage", "OUT", "GND")
    assert meter.read("voltage") == 0.0
    source.on(10.0, 0.5)
    assert meter.read("voltage") == pytest.approx(7.5, rel=1e-4)
    assert source.read("current") == pytest.approx(0.025, rel=1e-3)


def test_the_load_takes_what_it_is_told(source: BenchSupply, load: BenchLoad) -> None:
    source.on(10.0, 0.5)
    load.take(0.02)
    assert load.read("current") == pytest.approx(0.02, rel=1e-3)
    assert load.read("voltage") == pytest.approx(7.5 - 75.0 * 0.02, rel=1e-3)


def test_a_source_in_its_limit_gives_way(source: BenchSupply) -> None:
    source.on(10.0, 0.01)
    amperes = source.read("current")
    # 10 mA, and 0.1 mS of the source's bleeder times what is missing of 10 V.
    assert amperes == pytest.approx((0.01 + 1e-3) / (1.0 + 0.04), rel=1e-3)
    assert source.read("voltage") == pytest.approx(400.0 * amperes, rel=1e-3)


def test_beyond_what_it_can_it_complains(lines: dict[str, Line]) -> None:
    source = BenchSupply(lines["supply"], standard("supply"), Limits(100.0, 1.0))
    with pytest.raises(InstrumentError, match="Data out of range"):
        source.on(90.0, 0.5)


def test_a_load_step_is_captured_as_theory_has_it(
    source: BenchSupply, load: BenchLoad, scope: Oscilloscope
) -> None:
    source.on(10.0, 0.5)
    load.take(0.0)
    scope.set_up(8e-3, 4000, 2e-3)
    scope.arm(7.0, rising=False)
    load.take(0.02)
    capture = scope.capture()
    assert (capture.start, capture.count) == (pytest.approx(-2e-3), 4000)
    gain = capture.channel()[:900].mean() / 7.5
    assert gain == pytest.approx(1.0, abs=0.02)
    after = capture.time > 0
    expected = gain * (7.5 - 1.5 * (1.0 - np.exp(-capture.time[after] / 0.75e-3)))
    assert np.abs(capture.channel()[after] - expected).max() < 8e-3  # noise of 1 mV
    found = step_response(capture, 0.1)
    assert found.after - found.before == pytest.approx(-1.5 * gain, rel=0.01)
    # From 1.5 V down to 0.1 V of the end: ln(15) time constants.
    assert found.settled == pytest.approx(0.75e-3 * np.log(15.0), rel=0.05)


def test_a_scope_that_never_triggers_says_so(scope: Oscilloscope) -> None:
    scope.set_up(1e-3, 100)
    scope.arm(5.0)
    with pytest.raises(InstrumentError, match="its trigger did not come"):
        scope.capture()


def test_its_own_noise_is_taken_with_probe_and_clip_joined(
    bench: SimulatedBench, source: BenchSupply, scope: Oscilloscope
) -> None:
    source.on(10.0, 0.5)
    scope.set_up(1e-3, 5000)
    bench.stand.joined = True
    scope.arm()
    own = scope.capture()
    bench.stand.joined = False
    assert own.channel().mean() == pytest.approx(0.0, abs=1e-4)
    assert own.channel().std() == pytest.approx(1e-3, rel=0.1)
    assert 5e-3 < spikes(own) < 12e-3


@pytest.mark.parametrize("kind", get_args(Kind))
def test_every_command_of_the_standard_profile_is_taken(kind: Kind, bench: SimulatedBench) -> None:
    instrument = bench.instruments[kind].instrument
    for command in standard(kind).commands.values():
        instrument.answer(command.format(value="1.0E1"))
        assert instrument.answer("SYSTem:ERRor?") == '0,"No error"', command
    for command in ("OUTPut OFF", "INPut OFF", "*RST"):
        instrument.answer(command)
    instrument.answer("*CLS")


def test_the_ripple_of_a_step_down_is_that_of_its_coil() -> None:
    design = read(Path(__file__).parents[3] / "examples" / "panel-five-volts.toml")
    with simulated_bench(design, Hidden(4), EXACT) as bench:
        stand = bench.stand
        bench.hands.connect(design.need.output[0], "")
        stand.change(volts=24.0, amperes=3.0, load=1.5, loaded=True, on=True)
        with Line(bench.addresses["oscilloscope"], PATIENT) as line:
            scope = Oscilloscope(line, standard("oscilloscope"))
            scope.set_up(2e-3, 40_000)
            scope.arm()
            capture = scope.capture()
        actual, volts = stand.built.actual, stand.terminal_voltage()

    def value(ref: str, name: str) -> float:
        return float(np.ravel(actual[ref, name])[0])

    found = ripple(capture, 150e3)
    assert found.frequency == pytest.approx(value("U1", "frequency"), rel=1e-4)
    # (Vin - Vout) D / (L f) of the coil, in the series resistance of C2: its capacitance adds in
    # quadrature and little, the diode's drop makes D a little greater.
    amperes = (24.0 - volts) * volts / 24.0 / (value("L1", "inductance") * found.frequency)
    assert found.peak_to_peak == pytest.approx(amperes * value("C2", "esr"), rel=0.15)


def test_what_can_be_wrong_is_named() -> None:
    assert fault_of(DESIGN, "R2 open", 1).refs == ("R2",)
    assert fault_of(DESIGN, "any", 3) == fault_of(DESIGN, "any", 3)
    with pytest.raises(FaultError, match='Nearest: "R2 open"'):
        fault_of(DESIGN, "R2 opne", 1)
