"""The map is the proof's: at its points its numbers, between them those of a finer proof."""

from __future__ import annotations

import base64
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from surveys.supplies import resistor, supply

from railwright.circuit.design import read_text
from railwright.circuit.writer import set_value
from railwright.desk.shown import histogram, laid_over, map_as_data, rows_of, slopes_as_data
from railwright.prove.proof import MarginMap, Proof
from railwright.prove.run import prove
from railwright.prove.typical import slopes, typical_margins
from railwright.quantity import show
from railwright.surveys.depth import DEFAULT, FINE
from railwright.surveys.operating_range import OperatingRange

SUPPLY = supply(
    resistor("R1", "IN", "OUT", 10, "1 %") + resistor("R2", "OUT", "GND", 10, "1 %"),
    input=(9.0, 10.0, 12.0),
    amperes=(0.0, 0.1),
    ambient=(0.0, 40.0),
)

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@pytest.fixture(scope="module")
def proofs() -> tuple[Proof, Proof]:
    design = read_text(SUPPLY, "small")
    return prove(design, depth=FINE), prove(design, depth=DEFAULT)


def test_the_fine_range_has_all_points_of_the_usual_one() -> None:
    need = read_text(SUPPLY, "small").need
    fine, usual = (OperatingRange.of(need, depth) for depth in (FINE, DEFAULT))
    assert fine.grid().count >= 1000
    for few, many in (
        (usual.input, fine.input),
        (usual.ambient, fine.ambient),
        (usual.loads["main"], fine.loads["main"]),
        (usual.settings["main"], fine.settings["main"]),
    ):
        assert np.abs(many[:, None] - few).min(axis=0) == pytest.approx(0.0, abs=1e-12)


def test_where_the_proof_looked_the_map_has_its_margins(proofs: tuple[Proof, Proof]) -> None:
    fine, whole = proofs
    data = map_as_data(1, fine, whole)
    asked, points = rows_of(fine)
    margins = np.frombuffer(base64.b64decode(str(data["margins"])), "<f4").reshape(-1, points)
    known = {(f.id, f.subject): f.map for f in whole.findings}
    axes = data["axes"]
    assert isinstance(axes, dict)
    compared = 0
    for row, key in zip(margins, asked, strict=True):
        found = known[key]
        if found is None:
            continue
        shaped = row.reshape([len(places) for places in axes.values()])
        shift = {"ambient": 273.15}
        at = [
            np.abs(np.array(axes[n])[:, None] + shift.get(n, 0.0) - p).argmin(axis=0)
            for n, p in found.axes.items()
        ]
        here, told = shaped[np.ix_(*at)], np.asarray(found.margins)
        both = np.isfinite(here) & np.isfinite(told)
        assert here[both] == pytest.approx(told[both], rel=1e-5)
        compared += int(both.sum())
    assert compared > 100


def test_a_map_of_another_range_is_not_laid_over() -> None:
    fine = MarginMap({"input": np.array([1.0, 2.0, 3.0])}, np.array([1.0, 2.0, 3.0]))
    other = MarginMap({"input": np.array([1.0, 2.5])}, np.array([9.0, 9.0]))
    same = MarginMap({"input": np.array([1.0, 3.0])}, np.array([9.0, 8.0]))
    assert laid_over(fine, other).tolist() == [1.0, 2.0, 3.0]
    assert laid_over(fine, same).tolist() == [9.0, 2.0, 8.0]


def test_slopes_are_the_divider_s_own() -> None:
    """The heat of one of two equal resistors on a source goes with (R1 + R2)^-2 and with R1."""
    text = supply(
        resistor("R1", "IN", "OUT", 100) + resistor("R2", "OUT", "GND", 100), input=(10, 10, 10)
    )
    design = read_text(text, "small")
    margins = typical_margins(design)
    key = next(k for k in margins if k[1].startswith("R2") and "power" in k[1])
    found = slopes(design, margins, "R1", "resistance")
    heat = [10.0**2 * 100 / (100 + r) ** 2 for r in (100.0, 105.0, 95.0)]
    assert found.up[key] == pytest.approx((heat[0] - heat[1]) / 0.05, rel=1e-6)
    assert found.down[key] == pytest.approx((heat[0] - heat[2]) / -0.05, rel=1e-6)
    data = slopes_as_data(found, [key, ("no", "such")], margins[key].size)
    rows = np.frombuffer(base64.b64decode(str(data["up"])), "<f4").reshape(2, -1)
    assert rows[0] == pytest.approx(found.up[key], rel=1e-6)
    assert np.isnan(rows[1]).all()


@pytest.mark.parametrize("change", [0.9, 1.1])
@pytest.mark.parametrize(
    ("ref", "value"), [("R1", "resistance"), ("C1", "esr"), ("L1", "inductance")]
)
def test_an_estimate_is_near_what_is_verified(ref: str, value: str, change: float) -> None:
    """Lowest reserves after a tenth more or less, within 0.1, of every question of the map."""
    text = (EXAMPLES / "panel-five-volts.toml").read_text(encoding="utf-8")
    before = read_text(text, "panel", path=EXAMPLES / "panel-five-volts.toml")
    typical = before.circuit.part(ref).values[value].spread.typical
    unit = before.circuit.part(ref).values[value].unit
    after = read_text(set_value(text, ref, value, show(change * typical, unit, 9)), "panel")
    found = slopes(before, typical_margins(before), ref, value)
    which = found.up if change > 1.0 else found.down
    verified = {(f.id, f.subject): f for f in prove(after, depth=FINE, suspecting=False).findings}
    compared = 0
    for finding in prove(before, depth=FINE, suspecting=False).findings:
        key = (finding.id, finding.subject)
        if finding.map is None or not finding.margin or not finding.reserve or key not in which:
            continue
        moved = np.nan_to_num(which[key]) * (change - 1.0)
        told, scale = verified[key], finding.margin / finding.reserve
        if moved.size != finding.map.margins.size or told.map is None:
            continue
        assert told.margin
        assert told.reserve
        estimate = np.nanmin(finding.map.margins.ravel() + moved) / scale
        there = np.nanmin(told.map.margins) / (told.margin / told.reserve)
        assert abs(estimate - there) <= 0.1, key
        compared += 1
    assert compared > 20


def test_a_value_that_cannot_be_moved_is_refused() -> None:
    design = read_text(SUPPLY, "small")
    with pytest.raises(ValueError, match="cannot be moved"):
        slopes(design, {}, "R1", "voltage")


def test_margins_that_are_all_one_have_no_histogram() -> None:
    found = prove(read_text(SUPPLY, "small"), depth=DEFAULT).findings[-1]
    for spread, drawn in ((0.0, False), (1e-14, False), (1e-3, True)):
        samples = 1.0 + spread * np.linspace(0.0, 1.0, 100)
        told = histogram(replace(found, samples=samples))
        assert (told is not None) == drawn
