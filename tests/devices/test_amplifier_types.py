"""What types of amplifiers differ in: how near they come to their rails, how fast, how quiet."""

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.moving import Moving
from devices.solving import Part, resistor, source

from railwright.catalogue.loader import load

EXACT = {
    "offset": 0.0,
    "bias_current": 0.0,
    "offset_current": 0.0,
    "common_mode_error": 0.0,
    "supply_error": 0.0,
}
SPLIT = ("741 type", "07 type", "072 type", "5532 type")
"""For a positive and a negative supply."""
RAIL_TO_RAIL = ("6002 type", "precision rail-to-rail amplifier 5 V", "zero-drift amplifier 5 V")
SINGLE = ("358 type", "324 type", *RAIL_TO_RAIL)


def follower(name: str, ohms: float) -> Board:
    """At 5 V, with a load to the middle of the supply."""
    board = Board().source("V", "VCC", 5.0).source("VI", "IN", 0.0).resistor("B", "IN", GROUND, 1e4)
    board.resistor("RV", "VCC", GROUND, 1e3)
    pins = {"plus": "IN", "minus": "O", "output": "O", "supply": "VCC", "ground": GROUND}
    board.use("A", name, pins, **EXACT).source("VM", "M", 2.5).resistor("BM", "M", GROUND, 100.0)
    return board.resistor("L", "O", "M", ohms)


@pytest.mark.parametrize("name", SINGLE)
def test_a_single_supply_follower_reaches_the_rails_that_its_inputs_and_output_do(
    name: str,
) -> None:
    values = load()[name].values
    found = follower(name, 1e5).solve({("VI", "voltage"): np.array([0.0, 2.5, 5.0])}, 3)
    low, middle, high = found.potential("O")
    assert middle == pytest.approx(2.5, abs=1e-3)
    reach = values["swing_low"].spread.typical, values["swing_high"].spread.typical
    if name in RAIL_TO_RAIL:
        assert (low, 5.0 - high) == pytest.approx(reach, abs=3e-3)
    else:
        assert low == pytest.approx(0.2, abs=0.1)  # sinks 25 µA: some 30 µA at 0.2 V, its table
        assert 5.0 - high == pytest.approx(reach[1], abs=0.05)
    below = found.of("A", "input_low") - found.of("A", "input_range_low")
    above = found.of("A", "input_range_high") - found.of("A", "input_high")
    assert (below > -1e-5).all()
    assert (above[2] > -1e-5) == (name in RAIL_TO_RAIL)


@pytest.mark.parametrize(("milliamperes", "lost"), [(0.25, 25e-3)])
def test_a_rail_to_rail_output_loses_no_more_than_published(
    milliamperes: float, lost: float
) -> None:
    """25 mV at most with 10 kΩ to the middle of 5 V (datasheet of the 6002 type, from memory)."""
    lanes = {("VI", "voltage"): np.array([0.0, 5.0])}
    low, high = follower("6002 type", 2.5 / (1e-3 * milliamperes)).solve(lanes, 2).potential("O")
    assert 0.2 * lost < low < lost
    assert 0.2 * lost < 5.0 - high < lost


@pytest.mark.parametrize(("name", "ohms", "swing"), [
    ("741 type", 1e4, 14.0), ("07 type", 1e4, 13.0), ("072 type", 1e4, 14.0),
    ("5532 type", 600.0, 13.0),
])  # fmt: skip
def test_swing_on_a_positive_and_a_negative_supply(name: str, ohms: float, swing: float) -> None:
    """Typical swings at ±15 V (datasheets of these types; that of the 072 type is its table)."""
    board = Board().source("VP", "VCC", 15.0).source("VN", GROUND, 15.0, minus="VEE")
    board.source("VI", "IN", 2.0).resistor("RI", "IN", GROUND, 1e3)
    board.source("VJ", GROUND, 2.0, minus="INV").resistor("RJ", "INV", GROUND, 1e3)
    for ref, net in (("A", "IN"), ("B", "INV")):
        pins = {"plus": net, "minus": f"F{ref}", "output": f"O{ref}"}
        board.use(ref, name, {**pins, "supply": "VCC", "ground": "VEE"}, **EXACT)
        board.resistor(f"R1{ref}", f"O{ref}", f"F{ref}", 1e6)
        board.resistor(f"R2{ref}", f"F{ref}", GROUND, 1e5)
        board.resistor(f"L{ref}", f"O{ref}", GROUND, ohms)
    found = board.solve()
    ends = found.potential("OA")[0], found.potential("OB")[0]
    assert ends == pytest.approx((swing, -swing), rel=0.02)
    for ref in "AB":
        inside = found.of(ref, "input_range_low") < found.of(ref, "input_low")
        assert inside[0]


@pytest.mark.parametrize("name", [*SPLIT, *SINGLE])
def test_a_gain_of_ten_has_a_tenth_of_the_unity_gain_frequency(name: str) -> None:
    """One dominant pole: the gain of 10 is 3 dB down there (Gray, Hurst, Lewis and Meyer)."""
    unity = load()[name].values["unity_gain_frequency"].spread.typical
    volts = 30.0 if name in SPLIT else 5.0
    pins = {"plus": "IN", "minus": "FB", "output": "O", "supply": "VCC", "ground": "GND"}
    parts = [
        source("V", "VCC"),
        source("VI", "IN"),
        source("VM", "M"),
        Part("A", "operational-amplifier", pins, {**EXACT, "output_resistance": 0.1}, name=name),
        resistor("R1", "O", "FB", 9e4),
        resistor("R2", "FB", "M", 1e4),
    ]
    middle = 0.45 * volts
    moving = Moving(parts, V_voltage=volts, VI_voltage=middle, VM_voltage=middle)
    found = np.abs(moving.response("VI.voltage", "O", [1.0, unity / 10.0]))
    assert found == pytest.approx([10.0, 10.0 / np.sqrt(2.0)], rel=0.01)


@pytest.mark.parametrize(("name", "frequency", "density"), [
    ("5532 type", 30.0, 8e-9), ("07 type", 10.0, 10.5e-9),
])  # fmt: skip
def test_noise_at_low_frequencies_is_published(name: str, frequency: float, density: float) -> None:
    """Datasheets of the 5532 and 07 types, from memory; white noise and 1/f noise add up."""
    values = load()[name].values
    white, corner = (values[n].spread.typical for n in ("noise_voltage", "noise_corner"))
    assert white * np.sqrt(1.0 + corner / frequency) == pytest.approx(density, rel=0.03)
