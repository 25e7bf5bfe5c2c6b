"""The independent quantities of a circuit, and the part values that they make in lanes."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.circuit import Circuit
from railwright.circuit.design import read_text
from railwright.surveys.spread import ROOM, PartSpread

REEL = 'tracks = { group = "reel", tolerance = "0.1 %" }\n'
AMPLIFIERS = "".join(
    part(
        ref,
        "operational-amplifier",
        f"plus = OUT, minus = {out}, output = {out}, supply = IN, ground = GND",
        'use = "358 type"\ntracks = { group = "die", tolerance = "5 %" }',
    )
    for ref, out in (("U1", "A"), ("U2", "B"))
)


def circuit(parts: str) -> Circuit:
    return read_text(supply(parts), "spread.toml").circuit


def divider(tolerance: str = "1 %", more: str = "") -> str:
    return resistor("R1", "IN", "OUT", 1000, tolerance, more) + resistor(
        "R2", "OUT", "GND", 2000, tolerance, more
    )


def on_a_reel(text: str) -> str:
    return text.replace("rated_power", REEL + "rated_power")


def drawn(spread: PartSpread, count: int = 500) -> np.ndarray:
    return spread.draw(np.random.default_rng(3).random((spread.size, count)))


def test_each_tolerance_is_a_quantity_between_its_limits() -> None:
    found = PartSpread.of(circuit(divider()))
    assert [q.moves for q in found.quantities] == [(("R1", "resistance"),), (("R2", "resistance"),)]
    assert found.low == pytest.approx([990, 1980])
    assert found.high == pytest.approx([1010, 2020])


def test_what_is_exact_is_no_quantity() -> None:
    assert PartSpread.of(circuit(divider("0 %"))).size == 0


def test_draws_fill_the_limits_and_stay_within_them() -> None:
    found = PartSpread.of(circuit(divider() + AMPLIFIERS))
    actual = drawn(found, 2000)
    low, high = found.low[:, None], found.high[:, None]
    assert (actual >= low).all()
    assert (actual <= high).all()
    assert (np.ptp(actual, axis=1) > 0.8 * (high - low)[:, 0]).all()


def test_typical_quantities_give_the_values_of_the_parts_list() -> None:
    parts = circuit(on_a_reel(divider("1 %", ', drift = "100 ppm/K"')) + AMPLIFIERS)
    found = PartSpread.of(parts)
    lanes = found.lanes(found.typical[:, None], np.array([ROOM]))
    assert ("U1", "offset") in lanes
    for (ref, name), value in lanes.items():
        assert value == pytest.approx(parts.part(ref).values[name].spread.typical, abs=1e-15)


def test_drift_counts_from_room_temperature_either_way() -> None:
    found = PartSpread.of(circuit(divider("0 %", ', drift = "100 ppm/K"')))
    ambient = np.array([ROOM - 20.0, ROOM, ROOM + 40.0])
    lanes = found.lanes(np.repeat(found.high[:, None], 3, axis=1), ambient)
    assert lanes["R1", "resistance"] == pytest.approx([998.0, 1000.0, 1004.0], rel=1e-9)
    lanes = found.lanes(np.repeat(found.low[:, None], 3, axis=1), ambient)
    assert lanes["R2", "resistance"] == pytest.approx([2004.0, 2000.0, 1992.0], rel=1e-9)


def test_tolerance_and_drift_are_independent() -> None:
    found = PartSpread.of(circuit(divider("1 %", ', drift = "100 ppm/K"')))
    assert [q.role for q in found.quantities] == ["value", "drift"] * 2


def test_parts_of_a_reel_spread_widely_but_together() -> None:
    found = PartSpread.of(circuit(on_a_reel(divider())))
    lanes = found.lanes(drawn(found), np.full(500, ROOM))
    ratio = lanes["R2", "resistance"] / lanes["R1", "resistance"]
    assert np.ptp(lanes["R1", "resistance"]) > 15.0
    assert ratio.max() <= 2 * 1.001 / 0.999 + 1e-9
    assert ratio.min() >= 2 * 0.999 / 1.001 - 1e-9
    assert np.ptp(ratio) > 1e-3


def test_what_has_no_ratio_spreads_by_itself_on_a_die_too() -> None:
    # An offset is about nil: a share of it is nil too, and a shared factor would hide it.
    parts = circuit(divider("0 %") + AMPLIFIERS)
    found = PartSpread.of(parts)
    lanes = found.lanes(drawn(found), np.full(500, ROOM))
    most = parts.part("U1").values["offset"].spread.high
    assert np.abs(lanes["U1", "offset"]).max() > 0.7 * most


def test_a_die_moves_its_values_to_their_own_limits_and_not_beyond() -> None:
    parts = circuit(divider("0 %") + AMPLIFIERS)
    found = PartSpread.of(parts)
    shared = np.array([q.role == "shared" for q in found.quantities])
    assert shared.any()
    for side, limit in ((found.low, "low"), (found.high, "high")):
        lanes = found.lanes(np.where(shared, side, found.typical)[:, None], np.array([ROOM]))
        for name in ("gain", "bias_current", "source_limit"):  # lopsided, and one negative
            wanted = getattr(parts.part("U2").values[name].spread, limit)
            assert lanes["U2", name] == pytest.approx(wanted, abs=1e-15)


def test_what_matters_in_time_only_varies_where_that_is_asked() -> None:
    parts = circuit(divider() + AMPLIFIERS)
    names = {name for q in PartSpread.of(parts, "in time").quantities for _, name in q.moves}
    assert {"slew_rate", "unity_gain_frequency", "noise_voltage", "offset"} <= names
    still = {name for q in PartSpread.of(parts).quantities for _, name in q.moves}
    assert names - still == {"slew_rate", "unity_gain_frequency", "noise_voltage", "noise_corner"}


OWN_DIODE = part(
    "D1",
    "diode",
    "anode = IN, cathode = OUT",
    'forward_voltage = "0.7 V"\ntest_current = "10 mA"\nideality = "1.8"\n'
    'series_resistance = "0.5 Ω"\ngap = "1.12 V"\n'
    'junction_to_case = "200 K/W"\njunction_to_ambient = "300 K/W"',
)


def test_a_part_of_ones_own_may_leave_unsaid_what_matters_in_time_only() -> None:
    parts = circuit(divider() + OWN_DIODE)
    assert "transit_time" not in parts.part("D1").values
    assert any(q.moves == (("D1", "forward_voltage"),) for q in PartSpread.of(parts).quantities)
