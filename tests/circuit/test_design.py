"""What a design file says comes out in SI, with spread, source and place."""

from __future__ import annotations

import pickle
from pathlib import Path
from typing import Any

import pytest

from railwright.circuit.design import Design, read, read_text
from railwright.devices import kinds
from railwright.quantity import UNITS, Spread
from railwright.standards.derating import POLICIES
from tests.circuit.samples import LAMP, LAMP_FILE, NEED_ONLY, RADIO_FILE, changed


def own_parts(folder: Path) -> Path:
    """A file with a part that has every value of a step-down regulator."""
    device = kinds()["step-down-regulator"]
    values = "\n".join(
        f"{name} = {{ exact = {value.least or 0.5}, "
        f'unit = "{UNITS[value.unit].plain}", from = "invented" }}'
        for name, value in device.values.items()
        if value.default is None
    )
    options = ", ".join(f'{name} = "{words[0]}"' for name, words in device.options.items())
    path = folder / "own.toml"
    path.write_text(
        '["step-down of the test"]\nkind = "step-down-regulator"\ntrade = "none"\n'
        f'package = "TO-220-5"\noptions = {{ {options} }}\n{values}\n',
        encoding="utf-8",
    )
    return path


@pytest.fixture(scope="module")
def radio(tmp_path_factory: pytest.TempPathFactory) -> Design:
    return read(RADIO_FILE, parts=[own_parts(tmp_path_factory.mktemp("own"))])


@pytest.mark.parametrize(
    ("path", "wanted"),
    [
        ("title", "Radio bench rail"),
        ("need.input.kind", "dc"),
        ("need.input.nets.plus", "VIN"),
        ("need.input.nets.minus", "GND"),
        ("need.input.voltage.min", 18.0),
        ("need.input.voltage.nominal", 19.0),
        ("need.input.voltage.max", 20.0),
        ("need.input.resistance", 0.12),
        ("need.input.cable_inductance", 1e-6),
        ("need.input.limit.current", 3.2),
        ("need.input.limit.style", "hiccup"),
        ("need.input.frequency", None),
        ("need.output.0.name", "main"),
        ("need.output.0.nets.plus", "OUT"),
        ("need.output.0.reference", "common with input"),
        ("need.output.0.voltage.min", 3.3),
        ("need.output.0.voltage.max", 12.0),
        ("need.output.0.is_adjustable", True),
        ("need.output.0.current.min", 0.0),
        ("need.output.0.current.max", 1.0),
        ("need.output.0.accuracy", 0.03),
        ("need.output.0.line_regulation", 0.05),
        ("need.output.0.load_regulation", 0.3),
        ("need.output.0.ripple", 3e-3),
        ("need.output.0.spikes", 0.05),
        ("need.output.0.noise", 600e-6),
        ("need.output.0.load_step.from_", 0.1),
        ("need.output.0.load_step.to", 0.8),
        ("need.output.0.load_step.rise", 1e-6),
        ("need.output.0.load_step.deviation", 0.3),
        ("need.output.0.load_step.settle", 300e-6),
        ("need.output.0.never_above", 15.0),
        ("need.output.0.load.0.kind", "resistive"),
        ("need.output.0.load.0.capacitance.min", 0.0),
        ("need.output.0.load.0.capacitance.max", 470e-6),
        ("need.output.0.overload.style", "trip"),
        ("need.output.0.overload.carry", 1.1),
        ("need.output.0.overload.act_by", 1.45),
        ("need.output.0.overload.within.command", 100e-6),
        ("need.output.0.overload.within.current", 5e-3),
        ("need.output.0.overload.at_power_up", "off"),
        ("need.surroundings.ambient.min", 283.15),
        ("need.surroundings.ambient.max", 313.15),
        ("need.surroundings.touch_limit", "metal, held briefly"),
        ("need.parts.series", "E24"),
        ("need.parts.resistor_tolerance", 0.01),
        ("need.parts.derating", "NASA MIL-STD-975M"),
        ("need.parts.reserve", 0.1),
        ("need.parts.junction_reserve", 10.0),
        ("need.parts.phase_reserve", 45.0),
        ("need.parts.yield_", 0.997),
        ("controls.0.part", "RV1"),
        ("controls.0.value", "position"),
        ("controls.0.rail", "main"),
        ("controls.0.quantity", "voltage"),
        ("controls.0.role", "set"),
        ("controls.0.calibration", None),
        ("circuit.parts.0.ref", "U1"),
        ("circuit.parts.0.use", "step-down of the test"),
        ("circuit.parts.0.block", "pre-regulator"),
        ("circuit.parts.0.why", "..."),
        ("circuit.parts.0.package", "TO-220-5"),
        ("circuit.parts.1.values.resistance.spread.typical", 9.0),
        ("circuit.parts.1.values.resistance.unit", "K/W"),
        ("circuit.parts.2.values.resistance.spread.typical", 4700.0),
        ("circuit.parts.2.options.taper", "linear"),
        ("enclosure.width", 0.16),
        ("enclosure.height", 0.07),
        ("enclosure.depth", 0.12),
        ("panel.0.item", "terminal, 4 mm"),
        ("panel.0.net", "OUT"),
        ("panel.0.at", (0.03, 0.02)),
        ("stages.0.name", "pre-regulator alone"),
        ("stages.0.parts", ("U1", "D1")),
        ("stages.0.supply.net", "VIN"),
        ("stages.0.supply.voltage", 19.0),
        ("stages.0.supply.current_limit", 0.3),
        ("stages.0.measure", ("VPRE",)),
    ],
)
def test_every_key(radio: Design, path: str, wanted: object) -> None:
    found: Any = radio
    for step in path.split("."):
        if step.isdigit():
            found = found[int(step)]
        else:
            found = found[step] if isinstance(found, dict) else getattr(found, step)
    assert found == (pytest.approx(wanted) if isinstance(wanted, float) else wanted)


def test_nets_of_the_example(radio: Design) -> None:
    assert radio.circuit.nets["SW"] == (("U1", "switch"), ("D1", "one"))
    assert radio.circuit.thermal_nets == {
        "HS1": (("U1", "case"), ("HS1", "face")),
        "AMBIENT": (("HS1", "air"),),
    }
    assert radio.derating is POLICIES["NASA MIL-STD-975M"]


class TestSample:
    design = read(LAMP_FILE)

    def test_path_and_need(self) -> None:
        assert self.design.path == LAMP_FILE
        assert not self.design.is_need_only
        assert self.design.need.rail("lamps") is self.design.need.output[0]
        assert not self.design.need.output[0].is_adjustable
        assert self.design.derating is POLICIES["none"]

    def test_trim(self) -> None:
        (control,) = self.design.controls
        assert control.calibration is not None
        assert control.calibration.voltage == 9.0
        assert control.calibration.ambient == pytest.approx(298.15)
        assert control.calibration.input is None

    @pytest.mark.parametrize(
        ("ref", "name", "wanted"),
        [
            ("J1", "resistance", Spread(0.005, 0.01, 0.015, "uniform")),
            ("C1", "esr", Spread(0.1, 0.3, 1.0, "triangular")),
            ("C1", "leakage", Spread(0.0, 1e-5, 2e-5, "uniform")),
            ("C1", "rated_voltage", Spread.exact(35.0)),
            ("U1", "reference", Spread(1.2, 1.25, 1.3, "triangular", 30e-6)),
            ("U1", "dropout_drift", Spread(-2e-3, -1e-3, 0.0, "triangular")),
            ("U1", "minimum_load", Spread.exact(0.0)),
            ("R1", "resistance", Spread.tolerance(240.0, 0.02)),
            ("R2", "resistance", Spread.tolerance(1300.0, 0.01, 100e-6)),
        ],
    )
    def test_spreads(self, ref: str, name: str, wanted: Spread) -> None:
        value = self.design.circuit.part(ref).values[name]
        close = pytest.approx([wanted.low, wanted.typical, wanted.high], rel=1e-12, abs=1e-15)
        assert [value.spread.low, value.spread.typical, value.spread.high] == close
        assert (value.spread.shape, value.spread.drift) == (wanted.shape, wanted.drift)
        assert not value.assumed

    def test_ratings(self) -> None:
        assert self.design.circuit.part("U1").ratings == {
            "rated_current": 1.5,
            "difference_maximum": 40.0,
            "junction_limit": pytest.approx(398.15),
        }
        assert self.design.circuit.part("C1").ratings == {"rated_voltage": 35.0}

    def test_tracks(self) -> None:
        tracks = self.design.circuit.part("R2").tracks
        assert tracks is not None
        assert (tracks.group, tracks.tolerance) == ("reel", 0.002)

    def test_can_be_sent_to_another_process(self) -> None:
        assert pickle.loads(pickle.dumps(self.design)) == self.design


def test_need_only() -> None:
    text = "\n".join(line for line in NEED_ONLY.split("\n") if not line.startswith("nets"))
    design = read_text(text, "need.toml")
    assert design.is_need_only
    assert design.need.input.nets is None
    assert design.circuit.parts == ()
    assert design.path is None


def test_ac_input() -> None:
    text = changed('kind = "dc"', 'kind = "ac"\nfrequency = { min = "47 Hz", max = "63 Hz" }')
    frequency = read_text(text, "ac.toml").need.input.frequency
    assert frequency is not None
    assert (frequency.min, frequency.max) == (47.0, 63.0)


@pytest.mark.parametrize(
    "text", ["\ufeff" + LAMP, LAMP.replace("\n", "\r\n"), LAMP.replace("µ", "\u03bc")]
)
def test_other_ways_to_write_the_same(text: str) -> None:
    assert read_text(text, "sample.toml") == read_text(LAMP, "sample.toml")
